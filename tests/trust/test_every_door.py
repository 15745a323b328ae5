"""One slip, every door: function, templates, lists as CSV and XLSX, TOML, sweep, choice, submittal.

What is expected follows from the slip alone: what was typed cannot be read as meant, so there is no verdict
(or the file is refused), and the sentence names the cell or the field. The base plant passes through every
door, so that the slip, and nothing else, takes the PASS away.
"""

from __future__ import annotations

import csv
import json
import os
import shutil
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from openpyxl import Workbook, load_workbook
from openpyxl.utils import get_column_letter

from xlcalc.cli.app import app
from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.hosts.libreoffice.programs.office import Office, find_office, run_office
from xlcalc.recalc.recalc import recalculate
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.workbooks.drive import drive_study
from xlcalc.workbooks.drive.drives_sheet import HEADER_ROW
from xlcalc.workbooks.drive.fill import fill_template
from xlcalc.workbooks.drive.study_data import StudyData, read_study
from xlcalc.workbooks.kit import package
from xlcalc.workbooks.kit.labels import label
from xlcalc.workbooks.plant import plant_study
from xlcalc.workbooks.plant.plant_data import PlantData
from xlcalc.worksheet.catalogue import FUNCTIONS

pytestmark = pytest.mark.filterwarnings("ignore:Print area cannot be set")
TypedIn = Callable[..., Path]
HEADINGS = (
    "Tag",
    "Quantity",
    "Rating",
    "Unit",
    "Efficiency (%)",
    "Bus",
    "Pulses",
    "Line reactor (%)",
    "DC choke (%)",
    "Load (%)",
)
FIELDS = (
    "tag",
    "quantity",
    "rating",
    "unit",
    "efficiency pct",
    "bus",
    "pulses",
    "line reactor pct",
    "dc choke pct",
    "load pct",
)
ROWS: tuple[tuple[Any, ...], ...] = (
    ("X-1", 1, 60, "hp", 94, "main", 6, 3, 0, 100),
    ("X-2", 2, 30, "kW", 93, "main", 6, 3, 2, 90),
)
SITE: dict[str, Any] = {
    "utility kv": 12.47,
    "utility mva": 150,
    "transformer kva": 1000,
    "transformer z pct": 5.75,
    "main bus volts": 480,
    "linear load kw": 250,
}
SETTINGS: dict[str, Any] = {"edition": 2022, "supply": "ideal"}


@dataclass(frozen=True)
class Slip:
    """What is typed into one cell.

    Parameters
    ----------
    where : str
        "drive" (the second row), "site" or "settings".
    field : str
        Name of the value, as the functions have it.
    typed : object
    text_file : bool
        Whether a text file is to refuse it as well; False where a list is read more generously.
    """

    where: str
    field: str
    typed: Any
    text_file: bool = True


SLIPS = {
    "quantity nought": Slip("drive", "quantity", 0),
    "quantity with a fraction": Slip("drive", "quantity", 2.5),
    "quantity below nought": Slip("drive", "quantity", -1),
    "quantity as a word": Slip("drive", "quantity", "two"),
    "rating with its unit": Slip("drive", "rating", "30 hp"),
    "rating with a comma for thousands": Slip("drive", "rating", "1,200"),
    "rating with a no-break blank": Slip("drive", "rating", "30\u00a0", text_file=False),
    "rating blank": Slip("drive", "rating", None),
    "rating in W": Slip("drive", "rating", 30000),
    "rating in MW": Slip("drive", "rating", 0.03),
    "unit blank": Slip("drive", "unit", None),
    "unit kVA": Slip("drive", "unit", "kVA"),
    "efficiency as a fraction": Slip("drive", "efficiency pct", 0.93),
    "bus that is not there": Slip("drive", "bus", "MCC 1"),
    "bus behind a transformer that is not there": Slip("drive", "bus", "second"),
    "pulses blank": Slip("drive", "pulses", None),
    "pulses as a kind": Slip("drive", "pulses", "AFE"),
    "pulses as a word": Slip("drive", "pulses", "6-pulse", text_file=False),
    "seven pulses": Slip("drive", "pulses", 7),
    "reactor as a fraction": Slip("drive", "line reactor pct", 0.03),
    "reactor below nought": Slip("drive", "line reactor pct", -3),
    "reactor with a decimal comma": Slip("drive", "line reactor pct", "3,5", text_file=False),
    "load as a fraction": Slip("drive", "load pct", 0.9),
    "load nought": Slip("drive", "load pct", 0),
    "quantity as a logical value": Slip("drive", "quantity", True),
    "rating as a logical value": Slip("drive", "rating", True),
    "reactor without its decimal point": Slip("drive", "line reactor pct", 30),
    "choke without its decimal point": Slip("drive", "dc choke pct", 40),
    "tag of one blank": Slip("drive", "tag", " "),
    "tag twice": Slip("drive", "tag", "x-1 "),
    "tag blank": Slip("drive", "tag", None),
    "kV in volts": Slip("site", "utility kv", 12470),
    "MVA in kVA": Slip("site", "utility mva", 150000),
    "MVA blank": Slip("site", "utility mva", None),
    "kVA in MVA": Slip("site", "transformer kva", 1),
    "impedance as a fraction": Slip("site", "transformer z pct", 0.0575),
    "volts in kV": Slip("site", "main bus volts", 0.48),
    "volts of a phase": Slip("site", "main bus volts", 277),
    "volts with one digit too many": Slip("site", "main bus volts", 4800),
    "kVA with one digit too few": Slip("site", "transformer kva", 200),
    "load with another unit": Slip("site", "linear load kw", "250 hp"),
    "load in MW": Slip("site", "linear load kw", 0.25),
    "kV as a logical value": Slip("site", "utility kv", True),
    "load below nought": Slip("site", "linear load kw", -250),
    "power factor in percent": Slip("site", "linear load pf", 85),
    "PCC that is not there": Slip("site", "pcc", "utility"),
    "IL nought": Slip("site", "demand amps", 0),
    "IL below the current of the case": Slip("site", "demand amps", 2),
    "IL of the other side": Slip("site", "demand amps", 700),
    "IL with a decimal comma": Slip("site", "demand amps", "23,5"),
    "capacitor in kvar": Slip("site", "capacitor mvar", 300),
    "edition as a title": Slip("settings", "edition", "IEEE 519-2022"),
    "edition that is none": Slip("settings", "edition", 2021),
    "supply that is none": Slip("settings", "supply", "good"),
    "unbalance with a decimal comma": Slip("settings", "unbalance pct", "0,5"),
    "capacitance of the link in uF": Slip("settings", "dc capacitance pu", 470),
    "background below nought": Slip("settings", "background 5th pct", -2),
}
LABELS = {
    "utility kv": "Utility (kV)",
    "utility mva": "Utility (MVA)",
    "transformer kva": "Transformer (kVA)",
    "transformer z pct": "Transformer Z (%)",
    "main bus volts": "Main bus (volts)",
    "linear load kw": "Linear load (kW)",
    "linear load pf": "Linear load PF",
    "pcc": "PCC",
    "demand amps": "Demand (amps)",
    "capacitor mvar": "Capacitor (Mvar)",
    "edition": "Edition",
    "supply": "Supply",
    "unbalance pct": "Unbalance (%)",
    "dc capacitance pu": "DC capacitance (pu)",
    "background 5th pct": "Background 5th (%)",
}
IL_JUDGED = ("IL below the current of the case", "IL of the other side")
"""Read without complaint and judged: the sentence speaks of IL."""


def named(slip: Slip, name: str) -> str:
    """What the sentence must say, where cells are not known."""
    return "IL typed" if name in IL_JUDGED else slip.field


def inputs(slip: Slip | None) -> tuple[list[list[Any]], dict[str, Any], dict[str, Any]]:
    """Rows of drives, site and settings with the slip in them."""
    rows, site, settings = [list(row) for row in ROWS], dict(SITE), dict(SETTINGS)
    if slip is not None and slip.where == "drive":
        rows[1][FIELDS.index(slip.field)] = slip.typed
    elif slip is not None:
        (site if slip.where == "site" else settings)[slip.field] = slip.typed
    return rows, site, settings


def asked(slip: Slip | None, quantity: str) -> Any:
    rows, site, settings = inputs(slip)
    table = [list(FIELDS), *rows]
    pairs = [[[name, value] for name, value in values.items()] for values in (site, settings)]
    numbers = [[[float(c) if type(c) is int else c for c in row] for row in grid] for grid in (table, *pairs)]
    return FUNCTIONS["HD_PCC_VALUE"]([numbers[0], numbers[1], quantity, numbers[2]])


def test_without_a_slip_the_function_passes() -> None:
    assert asked(None, "VERDICT") == "PASS"
    assert asked(None, "REASON") == ""


@pytest.mark.parametrize("name", SLIPS)
def test_worksheet_function(name: str) -> None:
    slip = SLIPS[name]
    assert asked(slip, "VERDICT") == "NO VERDICT"
    assert named(slip, name) in asked(slip, "REASON")


@pytest.fixture(scope="session")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The template with the base plant, computed: its verdict is PASS."""
    demo, folder = resources.folder("demo"), tmp_path_factory.mktemp("doors")
    raw, path = folder / "template.xlsx", folder / "study.xlsx"
    package.save(drive_study.build(read_study(demo / "starter_site.toml", demo / "starter_drives.csv")), raw)
    rows, site, settings = inputs(None)
    drives = tuple(dict(zip(HEADINGS, row, strict=True)) for row in rows)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fill_template(raw, StudyData(site, drives, settings=settings), path)
    report = recalculate(path, None, FUNCTIONS)
    assert report.clean
    assert report.verdict_line() == "Verdict: PASS"
    return path


def cell_of(book: Workbook, slip: Slip) -> tuple[str, str]:
    """Sheet and cell of the template in which the slip is typed."""
    if slip.where == "drive":
        heading = HEADINGS[FIELDS.index(slip.field)]
        (cell,) = [c for c in book["Drives"][HEADER_ROW] if c.value == heading]
        return "Drives", f"{cell.column_letter}{HEADER_ROW + 2}"
    first = 18 if slip.where == "site" else 39
    rows = [row for row in range(first, 59) if book["Site"].cell(row, 1).value == LABELS[slip.field]]
    return "Site", f"B{rows[0]}"


def shown(path: Path, *cells: str, sheet: str = "PCC") -> list[Any]:
    """Values of a sheet."""
    book = load_workbook(path, data_only=True, read_only=True)
    values = [book[sheet][cell].value for cell in cells]
    book.close()
    return values


@pytest.fixture(scope="session")
def inputs_of(study: Path) -> Workbook:
    """The template, to look up cells in."""
    return load_workbook(study)


ONE_OF_A_KIND = {
    "rating as a logical value": "quantity as a logical value",
    "kV as a logical value": "quantity as a logical value",
    "choke without its decimal point": "reactor without its decimal point",
    "kVA with one digit too few": "kVA in MVA",
    "load in MW": "kVA in MVA",
}
"""Slips that the template need not show, as another of the same kind goes through it."""


@pytest.mark.parametrize("name", [name for name in SLIPS if name not in ONE_OF_A_KIND])
def test_template_typed_in_by_a_program_that_does_not_compute(
    study: Path, inputs_of: Workbook, typed_in: TypedIn, tmp_path: Path, name: str
) -> None:
    """The file still shows PASS from before; after recalc it must not, on the sheet as on the terminal."""
    slip = SLIPS[name]
    sheet, cell = cell_of(inputs_of, slip)
    path = typed_in(study, tmp_path / "typed.xlsx", (sheet, cell, slip.typed))
    assert shown(path, "C5") == ["PASS"]
    report = recalculate(path, None, FUNCTIONS)
    assert report.verdicts[0].name == "study_verdict"
    assert report.verdicts[0].verdict == "NO VERDICT"
    verdict, reason = shown(path, "C5", "C6")
    assert verdict == "NO VERDICT"
    if name in ("tag blank", "tag of one blank"):
        assert "without a tag" in reason or f"{sheet}!{cell} " in reason
    elif name in IL_JUDGED:
        assert "IL typed" in reason
    else:
        assert f"{sheet}!{cell} " in reason, reason
        assert any(wrong.cell == f"{sheet}!{cell}" for wrong in report.wrong_inputs)


def site_file(folder: Path, slip: Slip | None) -> Path:
    _, site, settings = inputs(slip)
    lines = []
    for title, values in (("site", site), ("settings", settings)):
        lines.append(f"[{title}]")
        lines += [f"{json.dumps(k)} = {json.dumps(v)}" for k, v in values.items() if v is not None]
    path = folder / "site.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def list_file(folder: Path, slip: Slip | None, ending: str) -> Path:
    rows, _, _ = inputs(slip)
    path = folder / f"drives.{ending}"
    if ending == "csv":
        with path.open("w", newline="", encoding="utf-8") as stream:
            csv.writer(stream).writerows([HEADINGS, *rows])
    else:
        book = Workbook()
        for row in (HEADINGS, *rows):
            book.active.append(row)
        book.save(path)
    return path


def scheduled(folder: Path, slip: Slip | None, ending: str) -> tuple[int, str, list[dict[str, str]]]:
    """Exit code, what was printed, and the rows of the sites."""
    target = folder / "out.csv"
    run = CliRunner().invoke(
        app,
        [
            "schedule",
            str(list_file(folder, slip, ending)),
            "--site",
            str(site_file(folder, slip)),
            "-o",
            str(target),
        ],
    )
    assert isinstance(run.exception, SystemExit | InputError | None), run.exception
    refusal = str(run.exception) if isinstance(run.exception, InputError) else ""
    sites = folder / "out_sites.csv"
    if not sites.exists():
        return run.exit_code, run.output + refusal, []
    with sites.open(encoding="utf-8", newline="") as stream:
        found = list(csv.DictReader(stream))
    with (folder / "out_problems.csv").open(encoding="utf-8", newline="") as stream:
        found += [dict(row) for row in csv.DictReader(stream)]
    return run.exit_code, run.output, found


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_without_a_slip_a_schedule_passes(tmp_path: Path, ending: str) -> None:
    code, _, found = scheduled(tmp_path, None, ending)
    assert code == 0
    assert found[0]["verdict"] == "PASS"


SPEC = '[sweep]\nsamples = 2\nseed = 1\n[site]\n"utility x/r" = { low = 6, high = 9 }\n'
TERMS = """
[money]
"price per kwh" = 0.1
years = 5
"hours per year" = 4000
currency = "EUR"
[choice]
"margin pct" = 0
"""


def asked_by_command(folder: Path, slip: Slip | None, command: str) -> tuple[int, str, list[Path]]:
    """Exit code of a sweep or choice, what was printed, and the files that were written."""
    spec, target = folder / "spec.toml", folder / "out"
    target.mkdir()
    spec.write_text(SPEC if command == "sweep" else TERMS, encoding="utf-8")
    schedule, site = str(list_file(folder, slip, "csv")), str(site_file(folder, slip))
    if command == "sweep":
        words = [schedule, "--site", site, "--spec", str(spec), "-o", str(target / "result.csv")]
    else:
        words = [site, "--drives", schedule, "--terms", str(spec), "-o", str(target / "result.xlsx")]
        words += ["--front", "0", "--runners", "0", "--seconds", "3"]
    run = CliRunner().invoke(app, [command, *words])
    assert isinstance(run.exception, SystemExit | InputError | None), run.exception
    refusal = str(run.exception) if isinstance(run.exception, InputError) else ""
    return run.exit_code, (run.output + refusal).replace("\n", " "), sorted(target.iterdir())


@pytest.mark.parametrize("command", ["sweep", "choose"])
def test_without_a_slip_a_command_answers(tmp_path: Path, command: str) -> None:
    code, printed, written = asked_by_command(tmp_path, None, command)
    assert code == 0
    assert written
    assert ("PASS" if command == "choose" else "FAIL in 0 % of the combinations") in printed


TOLD_BY = {"unit blank": "Rating", "rating in W": "link power"}
"""Columns that the sentence of a list names, where it is another one than the slip is in."""
LISTS = [
    (name, ending)
    for name, slip in SLIPS.items()
    if slip.text_file
    for ending in (("csv", "xlsx") if slip.where == "drive" else ("csv",))
]


@pytest.mark.parametrize(("name", "ending"), LISTS, ids=[f"{ending}: {name}" for name, ending in LISTS])
def test_schedule(tmp_path: Path, name: str, ending: str) -> None:
    """A row that cannot be read is listed with its column, and the totals without it have no verdict."""
    slip = SLIPS[name]
    code, printed, found = scheduled(tmp_path, slip, ending)
    if slip.where == "drive":
        assert code == 1
        assert found[0]["verdict"] == "NO VERDICT"
        heading = TOLD_BY.get(name, HEADINGS[FIELDS.index(slip.field)])
        problems = " ".join(str(list(row.values())) for row in found[1:])
        assert heading in problems, problems
        assert "'3'" in problems
    elif name in IL_JUDGED:
        assert found[0]["verdict"] == "NO VERDICT"
        assert "IL typed" in found[0]["reason"]
    elif name == "volts with one digit too many":
        assert (code, found[0]["verdict"]) == (1, "NO VERDICT")
        assert "not of 4.8 kV" in str(found[1])
    else:
        assert code != 0
        assert not found
        assert slip.field in printed.replace("\n", " ")


@pytest.mark.parametrize("command", ["sweep", "choose"])
@pytest.mark.parametrize("name", [name for name, slip in SLIPS.items() if slip.text_file])
def test_sweep_and_choice(tmp_path: Path, name: str, command: str) -> None:
    """Nothing is answered without the value that was not understood, and the sentence names it."""
    slip = SLIPS[name]
    code, printed, written = asked_by_command(tmp_path, slip, command)
    assert "PASS" not in printed
    if name in IL_JUDGED:
        assert ("No verdict: 2 of 2 combinations" if command == "sweep" else "NO VERDICT") in printed
        assert "IL typed" in printed
        return
    assert code == 1
    told = printed + " ".join(path.read_text() for path in written if path.suffix == ".csv")
    if slip.where == "drive":
        heading = HEADINGS[FIELDS.index(slip.field)]
        assert any(text in told for text in (heading, slip.field, TOLD_BY.get(name, heading))), told
        assert "X-2" in told or "row 3" in told or name == "tag twice"
    elif slip.field == "main bus volts" and command == "sweep" and written:
        assert "drives of" in told
    else:
        assert slip.field in told
    if command == "choose":
        assert not written


OVERTYPED = {
    "PASS over the verdict": (("PCC", "C5", "PASS"), "PCC!C5 holds 'PASS', typed over a formula"),
    "the verdict emptied": (("PCC", "C5", None), "PCC!C5 was emptied"),
    "a figure over TDD": (("PCC", "D14", 3.0), "PCC!D14 holds 3, typed over a formula"),
    "a figure over a drive's THD": (("Drives", "R12", 12.0), "Drives!R12 holds 12, typed over a formula"),
    "the fault emptied": (("Checks", "A5", None), "Checks!A5 was emptied"),
    "a check switched off": (("Checks", "D9", "ok"), "Checks!D9 holds 'ok', typed over a formula"),
}


@pytest.mark.parametrize(("cell", "sentence"), OVERTYPED.values(), ids=list(OVERTYPED))
def test_values_typed_over_formulas_are_found(
    study: Path, typed_in: TypedIn, tmp_path: Path, cell: tuple[str, str, Any], sentence: str
) -> None:
    path = typed_in(study, tmp_path / "over.xlsx", cell)
    run = CliRunner().invoke(app, ["recalc", str(path)])
    assert run.exit_code == 1
    assert f"Verdict: NO VERDICT: {sentence}" in run.output
    if cell[:2] != ("PCC", "C5"):
        assert shown(path, "C5") == ["NO VERDICT"]
    submittals: tuple[list[str], ...] = ([], ["--as-stored"]) if cell[0] == "PCC" else ()
    for asked_for in submittals:
        target = tmp_path / "pages.xlsx"
        made = CliRunner().invoke(app, ["submittal", str(path), "-o", str(target), *asked_for])
        assert made.exit_code != 0
        assert sentence in made.output + str(made.exception)
        assert not target.exists()


def without(part: str) -> Callable[[Workbook], None]:
    def change(book: Workbook) -> None:
        if part in book.sheetnames:
            book.remove(book[part])
        else:
            del book.defined_names[part]

    return change


@pytest.mark.parametrize("part", ["Checks", "Arrays", "input_fault", "outside_drives_right", "site"])
def test_a_deleted_sheet_or_name_leaves_no_pass(study: Path, tmp_path: Path, part: str) -> None:
    """What depends on it cannot be evaluated, and an old verdict does not stay."""
    path, book = tmp_path / "deleted.xlsx", load_workbook(study)
    without(part)(book)
    book.save(path)
    report = recalculate(path, None, FUNCTIONS)
    assert not report.clean
    assert report.verdicts[0].verdict == "NO VERDICT"
    assert part.casefold() in report.verdicts[0].reason.casefold()
    assert shown(path, "C5") == ["NO VERDICT"]


@pytest.mark.parametrize(
    ("field", "said"),
    [("quantity", "quantity 1 (X-2)"), ("bus", "bus main (X-2)"), ("load pct", "100 (X-2)")],
)
def test_a_blank_cell_that_counts_as_something_is_named(tmp_path: Path, field: str, said: str) -> None:
    """Allowed, and therefore the more to be told beside the verdict."""
    slip = Slip("drive", field, None)
    assert said in asked(slip, "REMARKS")
    _, _, found = scheduled(tmp_path, slip, "csv")
    assert said in found[0]["remarks"]


PLANT: dict[str, tuple[dict[str, Any], ...]] = {
    "buses": ({"name": "Intake", "kv": 13.8}, {"name": "MCC", "kv": 0.48}),
    "utility": ({"bus": "Intake", "max mva": 220, "min mva": 130, "x/r": 9},),
    "transformers": (
        {
            "name": "T1",
            "from bus": "Intake",
            "to bus": "MCC",
            "kva": 1500,
            "z pct": 5.75,
            "x/r": 6,
            "vector group": "Dyn1",
        },
    ),
    "loads": (
        {"name": "Lighting", "bus": "MCC", "kw": 400, "pf": 0.9},
        {"name": "UPS", "bus": "MCC", "kind": "spectrum", "orders not listed": "zero", "kw": 40, "pf": 0.95},
    ),
    "spectra": ({"load": "UPS", "order": 5, "percent": 6, "deg": 0, "source": "data sheet"},),
}
PLANT_ROW = ("X-1", 1, 60, "hp", 94, "MCC", 18, 3, 2, 100)
"""One 18-pulse drive: solved fast, and no limit is near at either bus."""


@pytest.fixture(scope="session")
def plant(shared: Any) -> Path:
    """The template of a plant, computed: its verdict is PASS."""
    folder, _ = shared.made("plant of every door", computed_plant)
    return Path(folder / "plant.xlsx")


def computed_plant(folder: Path) -> None:
    path = folder / "plant.xlsx"
    data = PlantData(
        study={"title": "Own plant"},
        settings=SETTINGS,
        cases=({"name": "Day"}, {"name": "Day"}),
        tables={section.title: PLANT.get(section.title, ()) for section in NETWORK.sections},
        drives=(dict(zip(HEADINGS, PLANT_ROW, strict=True)),),
    )
    package.save(plant_study.build(data), path)
    report = recalculate(path, None, FUNCTIONS)
    assert report.clean
    assert report.verdict_line() == "Verdict: PASS"


@pytest.fixture(scope="session")
def plant_inputs(plant: Path) -> Workbook:
    """The same, to look up cells in."""
    return load_workbook(plant)


def place_in_plant(book: Workbook, where: str, field: str, row: int) -> tuple[str, str]:
    """Sheet and cell of an input: of a table of the network, of the drives, of a case or the settings."""
    title = label(field)
    if where in ("case", "settings"):
        sheet = book["Cases" if where == "case" else "Study"]
        found = next(n for n in range(1, sheet.max_row + 1) if sheet.cell(n, 1).value == title)
        return sheet.title, f"{get_column_letter(2 * row if where == 'case' else 2)}{found}"
    sheet = book["Drives" if where == "drives" else "Network"]
    heads = (str(sheet.cell(n, 1).value or "").casefold() for n in range(1, sheet.max_row + 1))
    top = 6 if where == "drives" else 2 + list(heads).index(where)
    column = next(c.column_letter for c in sheet[top] if str(c.value or "").casefold() == title.casefold())
    return sheet.title, f"{column}{top + row}"


PLANT_SLIPS: dict[str, tuple[str, str, int, Any]] = {
    "kV in volts": ("buses", "kv", 2, 480),
    "kV with another unit": ("buses", "kv", 2, "480 V"),
    "IL of the other side": ("buses", "demand amps", 1, 700),
    "small drive on medium voltage": ("drives", "bus", 1, "Intake"),
    "case of a word that is none": ("case", "short circuit", 2, "min"),
    "element that is not there": ("case", "out of service", 1, "T9"),
    "supply that is none": ("settings", "supply", 1, "good"),
    "percent as a word": ("spectra", "percent", 1, "six"),
    "source of a spectrum blank": ("spectra", "source", 1, None),
    "load of all drives below nought": ("case", "drive load pct", 2, -60),
    "load of a drive that is not there": ("case", "drive loads", 2, "X-9 40"),
    "share of the year above all of it": ("case", "share of year pct", 2, 140),
}


PLANT_ONE_OF_A_KIND = {
    "case of a word that is none": "supply that is none",
    "load of all drives below nought": "share of the year above all of it",
    "load of a drive that is not there": "element that is not there",
    "percent as a word": "kV with another unit",
}
"""Slips that are typed only with XLCALC_LONG=1, as another of the same kind goes through the template."""
PLANT_TYPED = [
    name for name in PLANT_SLIPS if os.environ.get("XLCALC_LONG") or name not in PLANT_ONE_OF_A_KIND
]


@pytest.mark.parametrize("name", PLANT_TYPED)
def test_plant_typed_in_by_a_program_that_does_not_compute(
    plant: Path, plant_inputs: Workbook, typed_in: TypedIn, tmp_path: Path, name: str
) -> None:
    where, field, row, typed = PLANT_SLIPS[name]
    sheet, cell = place_in_plant(plant_inputs, where, field, row)
    path = typed_in(plant, tmp_path / "typed.xlsx", (sheet, cell, typed))
    assert shown(path, "A5", sheet="Verdicts") == ["PASS"]
    report = recalculate(path, None, FUNCTIONS)
    assert report.verdicts[0].verdict == "NO VERDICT"
    verdict, reason = shown(path, "A5", "A6", sheet="Verdicts")
    assert verdict == "NO VERDICT"
    if name == "IL of the other side":
        assert "IL typed" in reason
    else:
        assert reason.startswith(f"{sheet}!{cell} "), reason


def test_a_number_with_its_unit_is_read_everywhere(
    plant: Path, plant_inputs: Workbook, typed_in: TypedIn, tmp_path: Path
) -> None:
    """And cases that share a name are told apart."""
    sheet, cell = place_in_plant(plant_inputs, "buses", "kv", 1)
    path = typed_in(plant, tmp_path / "typed.xlsx", (sheet, cell, "13.8 kV"))
    report = recalculate(path, None, FUNCTIONS)
    assert report.clean
    assert report.verdict_line() == "Verdict: PASS"
    assert shown(path, "B9", sheet="Verdicts") == ["Day (case 1)"]


TYPED_IN_CALC = {
    "PASS over the verdict": ("study", ("PCC", "C5", "PASS"), "PCC!C5 holds 'PASS'"),
    "reactor with a decimal comma": ("study", ("Drives", "I12", "3,5"), "Drives!I12 is '3,5'"),
    "volts of a phase": ("study", ("Site", "B26", 277), "Site!B26 is 277"),
    "case of a word that is none": ("plant", ("Cases", "D6", "min"), "Cases!D6 is 'min'"),
}


@pytest.fixture(scope="session")
def saved_by_calc(
    study: Path,
    plant: Path,
    inputs_of: Workbook,
    typed_in: TypedIn,
    tmp_path_factory: pytest.TempPathFactory,
) -> dict[str, Path]:
    """Workbooks opened in LibreOffice Calc without the add-in and saved, as somebody without it does."""
    if shutil.which("soffice") is None:
        missing = pytest.fail if os.environ.get("XLCALC_EXPECT_HOSTS") == "1" else pytest.skip
        missing("LibreOffice (soffice) is not installed")
    folder = tmp_path_factory.mktemp("calc")
    (folder / "extensions").mkdir()
    office = Office(find_office().program, folder / "profile", folder / "extensions")
    assert cell_of(inputs_of, SLIPS["volts of a phase"]) == ("Site", "B26")
    sources = {"study": study, "plant": plant}
    typed = [
        typed_in(sources[of], folder / f"typed {number}.xlsx", cell)
        for number, (of, cell, _) in enumerate(TYPED_IN_CALC.values())
    ]
    command = [str(office.soffice), "--headless", "--norestore", *office.arguments]
    run_office([*command, "--convert-to", "xlsx", "--outdir", str(folder / "saved"), *map(str, typed)])
    return {name: folder / "saved" / path.name for name, path in zip(TYPED_IN_CALC, typed, strict=True)}


@pytest.mark.parametrize("name", TYPED_IN_CALC)
def test_template_saved_by_calc(saved_by_calc: dict[str, Path], name: str) -> None:
    """Names over formulas, names of rooms and the typed cell itself survive what Calc writes."""
    report = recalculate(saved_by_calc[name], None, FUNCTIONS)
    assert report.verdicts[0].verdict == "NO VERDICT"
    assert report.verdicts[0].reason.startswith(TYPED_IN_CALC[name][2])


def test_a_choice_from_a_list_is_no_fault(study: Path, typed_in: TypedIn, tmp_path: Path) -> None:
    """The cell opens with a formula for its first choice, and is there to be typed in."""
    path = typed_in(study, tmp_path / "chosen.xlsx", ("Drive view", "C4", "X-2"))
    report = recalculate(path, None, FUNCTIONS)
    assert report.clean
    assert report.verdict_line() == "Verdict: PASS"
