"""One plant, one answer: a site in a sheet, in a schedule, and as a network of buses.

The capacitor of a site is solved. Its network is built here by hand, element by element, from the ratings of
the site; the resonance is that of ``sqrt(S_sc / Q)``, the textbook relation.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest
from openpyxl import Workbook
from openpyxl.workbook.defined_name import DefinedName

from xlcalc.core.errors import InputError
from xlcalc.io.plants.site import site_from
from xlcalc.io.plants.site_file import read_site
from xlcalc.jobs.books.timed import recalculate_timed
from xlcalc.jobs.schedule.schedule_run import run_schedule
from xlcalc.jobs.schedule.site_run import Solution
from xlcalc.network.branches import TransformerBranch
from xlcalc.network.capacitors import CapacitorBank
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.loads import LoadModel, StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.topology import Bus
from xlcalc.schema.assembly.site import plant_of
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.inputs.settings import PLANT_SETTINGS
from xlcalc.schema.inputs.site import SITE
from xlcalc.schema.values import CellError
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solution import solve_coupled
from xlcalc.workbooks.drive import drive_study
from xlcalc.workbooks.drive.study_data import read_study
from xlcalc.worksheet.catalogue import FUNCTIONS

DEMO = Path(__file__).parents[2] / "demo"
SITE_CELLS = [
    ["utility kv", 12.47],
    ["utility mva", 120.0],
    ["utility x/r", 8.0],
    ["transformer kva", 1000.0],
    ["transformer z pct", 5.75],
    ["transformer x/r", 6.0],
    ["main bus volts", 480.0],
    ["linear load kw", 250.0],
    ["linear load pf", 0.85],
]
MVAR = ["capacitor mvar", 0.9]
IDEAL = [["supply", "ideal"]]


def starter_drives() -> list[list[object]]:
    """The drives that the template opens with."""
    with (DEMO / "starter_drives.csv").open(encoding="utf-8") as stream:
        rows = [row[:1] + row[2:] for row in csv.reader(stream)]
    return [rows[0], *([_cell(text) for text in row] for row in rows[1:])]


def _cell(text: str) -> object:
    try:
        return float(text)
    except ValueError:
        return text or None


def value(quantity: str, *site: list[object], drives=None, settings=IDEAL) -> object:
    return FUNCTIONS["HD_PCC_VALUE"]([drives or starter_drives(), [*SITE_CELLS, *site], quantity, settings])


def by_hand(model: LoadModel) -> NodalNetwork:
    """The site with its capacitor, from its ratings."""
    transformer = Transformer(1e6, 5.75, 6.0, 12.47e3, 480.0)
    load = StaticLoad("L", "B", 250e3, 250e3 * math.tan(math.acos(0.85)), model)
    return NodalNetwork(
        Utility(12.47e3, 120e6, 8.0),
        "A",
        (Bus("A", 12.47e3), Bus("B", 480.0)),
        (TransformerBranch("T", "A", "B", transformer),),
        (CapacitorBank("C", "B", 0.9e6, 480.0),),
        (load,),
    )


def hand_tdd(model: LoadModel, demand_amps: float) -> float:
    settings = PLANT_SETTINGS.convert([], "settings")
    site = SITE.convert(SITE_CELLS, "site")
    drives = plant_of(DRIVES.convert(starter_drives(), "drives"), site, settings).drives
    moved = tuple(type(d)(d.tag, d.rated_watts, d.front_end, "B", d.quantity) for d in drives)
    return (
        solve_coupled(StudiedPlant(by_hand(model), moved))
        .pcc(PccOptions("A", demand_amps=demand_amps))
        .tdd_pct
    )


def test_a_capacitor_on_the_site_resonates_in_the_verdict():
    """0.9 Mvar against 15.2 MVA: order 4.11. The verdict is that of the resonance, at the worse damping."""
    level = FUNCTIONS["HD_BUS_VALUE"]([SITE_CELLS, "main", "SC_MVA"])
    assert FUNCTIONS["HD_RESONANCE_ORDER"]([level, 0.9]) == pytest.approx(4.11, abs=0.01)
    without, resonant = value("TDD"), value("TDD", MVAR)
    assert value("VERDICT") == "PASS"
    assert value("VERDICT", MVAR) == "FAIL"
    assert resonant > 3.0 * without
    ends = [hand_tdd(model, value("IL", MVAR)) for model in (LoadModel.PARALLEL, LoadModel.NONE)]
    assert resonant == pytest.approx(max(ends), rel=1e-9)
    assert "static loads" in value("REMARKS", MVAR)


def test_the_resonant_site_is_the_same_in_a_plant_of_buses():
    network = [
        ["buses", *[None] * 5],
        ["name", "kv", *[None] * 4],
        ["A", 12.47, *[None] * 4],
        ["main", 0.48, *[None] * 4],
        ["utility", *[None] * 5],
        ["bus", "max mva", "x/r", *[None] * 3],
        ["A", 120.0, 8.0, *[None] * 3],
        ["transformers", *[None] * 5],
        ["name", "from bus", "to bus", "kva", "z pct", "vector group"],
        ["T", "A", "main", 1000.0, 5.75, "Dd0"],
        ["loads", *[None] * 5],
        ["name", "bus", "kw", "pf", *[None] * 2],
        ["L", "main", 250.0, 0.85, *[None] * 2],
        ["capacitors", *[None] * 5],
        ["name", "bus", "kvar", *[None] * 3],
        ["C", "main", 900.0, *[None] * 3],
    ]
    drives = starter_drives()
    for quantity in ("TDD", "THDV", "IL", "ISC_IL", "MARGIN", "VERDICT", "QUICK_TDD", "WORST"):
        nodal = FUNCTIONS["HD_PLANT_VALUE"]([network, drives, "A", quantity, IDEAL])
        expected = pytest.approx(nodal, rel=1e-12) if isinstance(nodal, float) else nodal
        assert value(quantity, MVAR) == expected, quantity


def test_a_detuned_bank_does_not_resonate_with_the_fifth():
    """7 % tunes to order 3.78, below the 5th."""
    assert value("TDD", MVAR, ["capacitor detuning pct", 7.0]) < 1.5 * value("TDD")


@pytest.mark.parametrize(
    ("site", "words"),
    [
        ([["capacitor mvar", 900.0]], "kvar"),
        ([["capacitor detuning pct", 7.0]], "capacitor mvar"),
        ([["capacitor mvar", -0.1]], "capacitor mvar"),
        ([["capacitor mvar", "0.9 Mvar?"]], "capacitor mvar"),
    ],
)
def test_a_capacitor_that_cannot_be_meant_takes_the_verdict(site, words):
    assert value("VERDICT", *site) == "NO VERDICT"
    assert words in value("REASON", *site)
    assert isinstance(value("TDD", *site), CellError)


def test_the_quick_estimate_never_gives_the_verdict():
    settings = [*IDEAL, ["solution", "uncoupled"]]
    assert value("QUICK_VERDICT") in ("PASS", "FAIL")
    assert value("VERDICT", settings=settings) == "NO VERDICT"
    assert "quick estimate" in value("REASON", settings=settings)
    amps = value("TDD", settings=settings) * value("IL", settings=settings)
    assert amps == pytest.approx(value("QUICK_TDD") * value("IL"), rel=1e-12)


KINDS = "Tag,Qty,Rating (kW),Pulses,Line reactor (%),DC choke (%),Load (%)\n"
PUMPS = KINDS + "".join(f"P{k},1,{30 + 2.5 * k},6,3,,90\n" for k in range(28))
STATION = {
    "utility kv": 13.8,
    "utility mva": 250,
    "transformer kva": 2000,
    "transformer z pct": 5.75,
    "main bus volts": 480,
    "linear load kw": 300,
}


@pytest.fixture
def pumps(tmp_path):
    path = tmp_path / "pumps.csv"
    path.write_text(PUMPS, encoding="utf-8")
    return path


def test_many_drives_attenuate_each_other_and_the_verdict_says_so(pumps):
    """Twenty-eight unlike pumps: the coupled figures decide, and the quick ones stand beside them."""
    site = site_from("station", {"site": STATION, "settings": {"supply": "ideal"}})
    _, tables = run_schedule(pumps, [site])
    (row,) = tables.sites.to_dict("records")
    assert row["solution"] == "coupled"
    assert row["tdd pct"] < 0.95 * row["quick tdd pct"]
    given = [[name, float(number)] for name, number in STATION.items()]
    cells = list(csv.reader(PUMPS.splitlines()))
    drives = [
        ["tag", "quantity", "rating", "unit", "pulses", "line reactor pct", "dc choke pct", "load pct"],
        *([row[0], *map(float, row[1:3]), "kW", *[_cell(text) for text in row[3:]]] for row in cells[1:]),
    ]
    for quantity, column in (
        ("VERDICT", "verdict"),
        ("TDD", "tdd pct"),
        ("THDV", "thdv pct"),
        ("QUICK_TDD", "quick tdd pct"),
        ("QUICK_VERDICT", "quick verdict"),
        ("IL_BASIS", "il basis"),
        ("REMARKS", "remarks"),
    ):
        sheet = FUNCTIONS["HD_PCC_VALUE"]([drives, given, quantity, IDEAL])
        assert row[column] == (pytest.approx(sheet, rel=1e-9) if isinstance(sheet, float) else sheet), (
            quantity
        )


def test_too_many_kinds_are_estimated_without_a_verdict(pumps, monkeypatch):
    monkeypatch.setattr("xlcalc.jobs.schedule.site_run.MOST_COUPLED_KINDS", 20)
    site = site_from("station", {"site": STATION})
    _, tables = run_schedule(pumps, [site])
    (row,) = tables.sites.to_dict("records")
    assert row["verdict"] == "NO VERDICT"
    assert row["solution"] == "quick estimate"
    assert row["reason"].startswith("quick estimate only; --solution coupled judges it (28 kinds, about ")
    assert row["tdd pct"] == pytest.approx(row["quick tdd pct"])
    assert row["quick verdict"] in ("PASS", "FAIL", "NO VERDICT")


@pytest.mark.parametrize("solution", [Solution.COUPLED, Solution.QUICK])
def test_the_solution_of_a_schedule_can_be_chosen(pumps, solution):
    site = site_from("station", {"site": STATION, "settings": {"supply": "ideal"}})
    _, tables = run_schedule(pumps, [site], solution=solution)
    (row,) = tables.sites.to_dict("records")
    assert (row["verdict"] == "NO VERDICT") == (solution is Solution.QUICK)


OLD = "[study]\n'capacitor mvar' = 0.9\n[site]\n" + "".join(f"'{n}' = {v}\n" for n, v in SITE_CELLS)


def test_the_old_name_in_study_is_still_found(tmp_path):
    path = tmp_path / "old.toml"
    path.write_text(OLD, encoding="utf-8")
    assert read_site(path).site["capacitor mvar"] == 0.9
    assert read_study(path, DEMO / "starter_drives.csv").site["capacitor mvar"] == 0.9
    both = path.with_name("both.toml")
    both.write_text(OLD + "'capacitor mvar' = 0.3\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"capacitor mvar in study is 0.9; valid: the same value as in site"):
        read_site(both)


def test_the_old_name_reaches_a_template(tmp_path):
    path = tmp_path / "old.toml"
    path.write_text(OLD, encoding="utf-8")
    book = drive_study.build(read_study(path, DEMO / "starter_drives.csv"))
    book.save(tmp_path / "new.xlsx")
    assert site_cells(book) == {"Capacitor (Mvar)": 0.9}
    assert read_site(tmp_path / "new.xlsx").site["capacitor mvar"] == 0.9


def site_cells(book: Workbook) -> dict[str, object]:
    """Rows of the site that name a capacitor's power."""
    (area,) = book.defined_names["site"].destinations
    return {a.value: b.value for a, b in book[area[0]][area[1]] if a.value == "Capacitor (Mvar)"}


def old_book(path: Path, mvar: float | None) -> Path:
    """A workbook as earlier versions made it: the capacitor is the last row of the block of the study."""
    book = Workbook()
    sheet = book.active
    sheet.title = "Site"
    for row in (["Title", "x"], ["Frequency (Hz)", 60], ["Capacitor (Mvar)", mvar], [], *SITE_CELLS):
        sheet.append(row)
    drives = book.create_sheet("Drives")
    for row in starter_drives():
        drives.append(row)
    area = "Drives!$A$1:$J$6,site"
    sheet["D1"] = f'=HD_PCC_VALUE({area},"VERDICT")'
    for name, cells in (("study", "$A$1:$B$3"), ("site", "$A$5:$B$13"), ("capacitor_mvar", "$B$3")):
        book.defined_names[name] = DefinedName(name, attr_text=f"Site!{cells}")
    book.save(path)
    return path


def test_an_old_workbook_with_a_capacitor_is_refused(tmp_path):
    path = old_book(tmp_path / "old.xlsx", 0.9)
    with pytest.raises(InputError, match=r"Site!B3 of old.xlsx is 0.9, a capacitor that would not be in"):
        recalculate_timed(path, tmp_path / "out.xlsx")
    assert not (tmp_path / "out.xlsx").exists()
    assert read_site(path).site["capacitor mvar"] == 0.9


@pytest.mark.parametrize("mvar", [None, 0.0])
def test_an_old_workbook_without_a_capacitor_is_calculated(tmp_path, mvar):
    path = old_book(tmp_path / "old.xlsx", mvar)
    report, _ = recalculate_timed(path, tmp_path / "out.xlsx")
    assert [verdict.verdict for verdict in report.verdicts] == [value("VERDICT", settings=[])]
