"""The public Python face against the worksheet functions and the command that do the same."""

from __future__ import annotations

import inspect
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

import xlcalc as xl
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.face.drive import in_columns
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.worksheet.catalogue import FUNCTIONS

DEMO = Path(__file__).parents[2] / "demo"
CHAIN = {
    "utility_kv": 13.8,
    "utility_mva": 200,
    "transformer_kva": 1500,
    "transformer_z_pct": 5.75,
    "main_bus_volts": 480,
}
IDEAL = {"supply": "ideal"}
LISTED = [
    xl.Drive("P1", kw=200, pulses=6, dc_choke_pct=4),
    xl.Drive("P2", hp=400, pulses=18, quantity=2, load_pct=80),
]


@pytest.fixture(scope="module")
def chain() -> xl.Study:
    return xl.study(xl.Plant(settings=IDEAL, **CHAIN), LISTED)


def test_import_is_light() -> None:
    """Nothing but the names: numpy and pandas come with the first use."""
    code = "import sys, xlcalc; print(sorted({'numpy', 'pandas', 'scipy', 'numba'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("name", [name for name in xl.__all__ if name != "__version__"])
def test_names_are_documented(name: str) -> None:
    there = getattr(xl, name)
    assert inspect.getdoc(there)
    assert name in dir(xl)


def test_fields_of_a_drive_are_the_columns_of_a_schedule() -> None:
    columns = {*in_columns(dict.fromkeys(xl.Drive.__dataclass_fields__, 0))} - {
        "kw",
        "hp",
        "input amps",
        "volts",
        "_",
    }
    assert columns == {field.name for field in DRIVES.fields} - {"rating", "unit"}


def test_one_drive_is_what_the_worksheet_functions_give() -> None:
    drive = xl.Drive("P", kw=200, pulses=6, line_reactor_pct=3, efficiency_pct=95, load_pct=80)
    supply = xl.Supply(kv=0.48, mva=25, xr=8, unbalance_pct=1, background={5: (2, 90)})
    found = xl.solve(drive, supply, {"dc capacitance pu": 3})
    watts = 200e3 / 0.95
    settings = [
        ["source x/r", 8],
        ["unbalance pct", 1],
        ["background 5th pct", 2],
        ["background 5th deg", 90],
        ["dc capacitance pu", 3],
    ]
    arguments = [6, 100 * watts / 25e6, 3, 0, 80, settings]
    tables = [np.array(FUNCTIONS["HD_SPECTRUM"]([*arguments, phase]), float) for phase in (1, 2, 3)]
    worst = max(range(3), key=lambda k: np.linalg.norm(tables[k][1:, 1]))
    assert_allclose(found.spectrum["percent"], tables[worst][:, 1], rtol=1e-12, atol=1e-12)
    wave = np.array(FUNCTIONS["HD_WAVEFORM"]([*arguments, worst + 1]), float)
    rated_peak = np.sqrt(2.0 / 3.0) * watts / 480.0
    assert_allclose(found.waveform()["amps"], rated_peak * wave[:, 1], rtol=1e-9, atol=1e-9 * rated_peak)
    mean = FUNCTIONS["HD_DC_LINK"](arguments)[0][1]
    assert found.dc_volts_mean == pytest.approx(mean / 100.0 * 480.0 * 3.0 * np.sqrt(2.0) / np.pi)
    assert found.true_pf == pytest.approx(FUNCTIONS["HD_TRUE_PF"](arguments))
    assert found.rms_amps == pytest.approx(
        np.hypot(found.fundamental_amps, found.current.harmonic_rms), rel=1e-3
    )


def test_duties_are_what_the_worksheet_functions_give() -> None:
    drive = xl.Drive("P", kw=75, efficiency_pct=100, pulses=6, line_reactor_pct=3, dc_choke_pct=2)
    found = xl.solve(drive, xl.Supply(kv=0.48, mva=25, xr=8))
    duty = found.link_duty()
    table = FUNCTIONS["HD_LINK_DUTY"]([6, 0.3, 3, 2, 100, [["source x/r", 8]]])
    rows = np.array([row[:7] for row in table], float)
    base = 480.0 * 3.0 * np.sqrt(2.0) / np.pi
    assert_allclose(duty.index, rows[:, 0])
    volts = duty[["mean_volts", "lowest_volts", "highest_volts", "ripple_volts", "reactor_volts"]]
    assert_allclose(volts, base / 100.0 * rows[:, [1, 2, 3, 4, 6]], rtol=1e-9)
    assert_allclose(duty["capacitor_amps"], 75e3 / base / 100.0 * rows[:, 5], rtol=1e-9)
    coils = found.magnetics(hz=50.0)
    base_ohm = 480.0**2 / 75e3
    by_hand = {"line reactor": 0.03, "DC choke": 0.02}
    for name, share in by_hand.items():
        assert coils.loc[name, "mh"] == pytest.approx(1e3 * share * base_ohm / (2.0 * np.pi * 50.0))
    reactor = coils.loc["line reactor"]
    assert reactor["rms_amps"] == pytest.approx(found.rms_amps, rel=1e-3)
    assert reactor["amps_5"] == pytest.approx(found.spectrum["amps"][5], rel=1e-6)
    assert reactor["watts"] == pytest.approx(
        3.0 * reactor["rms_amps"] ** 2 * 0.03 * base_ohm / 25.0, rel=1e-3
    )
    assert coils.loc["DC choke", "steady_amps"] == pytest.approx(75e3 / found.dc_volts_mean, rel=1e-3)
    assert (coils["peak_amps_low"] > coils["peak_amps"]).all()
    with pytest.raises(InputError, match="hz"):
        found.magnetics(hz=0.0)


def test_a_chain_is_what_the_worksheet_function_gives(chain: xl.Study) -> None:
    drives = [
        ["tag", "rating", "unit", "pulses", "dc choke pct", "quantity", "load pct"],
        ["P1", 200, "kW", 6, 4, 1, 100],
        ["P2", 400, "hp", 18, 0, 2, 80],
    ]
    site = [[name, value] for name, value in in_columns(CHAIN).items()]
    settings = [["supply", "ideal"]]
    for quantity, column in (
        ("TDD", "tdd pct"),
        ("THDV", "thdv pct"),
        ("IL", "il amps"),
        ("ISC_IL", "isc/il"),
    ):
        expected = FUNCTIONS["HD_PCC_VALUE"]([drives, site, quantity, settings])
        assert chain.pccs()[column].tolist() == pytest.approx([expected], rel=1e-9)
    assert chain.verdict == FUNCTIONS["HD_PCC_VALUE"]([drives, site, "VERDICT", settings])
    table = np.array([row[:2] for row in FUNCTIONS["HD_PCC"]([drives, site, settings])][:50], float)
    assert_allclose(chain.orders()["current amps"], table[:, 1], rtol=1e-9)


@pytest.mark.parametrize(
    "other",
    [
        lambda: pd.DataFrame(
            {
                "Tag": ["P1", "P2"],
                "Rating": [200, 400],
                "Unit": ["kW", "hp"],
                "Pulses": np.array([6, 18]),
                "DC choke (%)": [4, np.nan],
                "Quantity": [1, 2],
                "Load (%)": [100, 80.0],
            }
        ),
        lambda: iter(LISTED),
    ],
    ids=["DataFrame", "iterator"],
)
def test_drives_may_be_given_in_several_ways(chain: xl.Study, other: Callable[[], object]) -> None:
    found = xl.study(xl.Plant(settings=IDEAL, **CHAIN), other())
    pd.testing.assert_frame_equal(found.pccs().drop(columns="remarks"), chain.pccs().drop(columns="remarks"))


def test_a_network_read_from_its_file_and_given_as_tables() -> None:
    read = xl.read_plant(DEMO / "starter_plant.toml")
    content = read.site.tables
    assert list(read.buses) == [row["name"] for row in content["buses"]]
    buses = [{"name": "Grid", "kv": 20}, {"name": "Main", "kv": 0.69}]
    transformer = {
        "name": "T",
        "from bus": "Grid",
        "to bus": "Main",
        "kva": 2500,
        "z pct": 6,
        "vector group": "Dyn11",
    }
    given = xl.Plant(
        "given",
        settings={**IDEAL, "frequency hz": 50},
        cases=[xl.Case("strong"), xl.Case("weak", short_circuit="minimum")],
        buses=buses,
        utility=pd.DataFrame({"bus": ["Grid"], "max mva": [250], "min mva": [100]}),
        transformers=[transformer],
    )
    found = xl.study(given, [xl.Drive("D", kw=500, pulses=6, line_reactor_pct=3, bus="Main")])
    strong, weak = found.pccs().set_index("case")["thdv pct"].loc[["strong", "weak"]]
    assert weak > 1.5 * strong
    assert found.verdict in ("PASS", "FAIL")


def test_rows_that_cannot_be_used_leave_no_verdict() -> None:
    table = pd.DataFrame({"tag": ["A", "B"], "kW": [100, "many"], "pulses": [6, 6]})
    found = xl.study(xl.Plant(settings=IDEAL, **CHAIN), table)
    assert found.verdict == "NO VERDICT"
    assert "1 of 2 rows rejected: B" in found.reason
    assert found.problems()["value"].tolist() == ["many"]


def test_a_schedule_is_read_and_shown() -> None:
    listed = xl.read_schedule(DEMO / "drives.csv")
    assert len(listed) == len(pd.read_csv(DEMO / "drives.csv"))
    assert listed.problems == ()
    assert "<table" in listed._repr_html_()


def test_a_workbook_is_recalculated(tmp_path: Path) -> None:
    from openpyxl import Workbook, load_workbook

    book = Workbook()
    book.active["A1"] = "=HD_REACTOR_MH(3,480,100,60)"
    book.save(tmp_path / "book.xlsx")
    report = xl.recalculate(tmp_path / "book.xlsx", tmp_path / "out.xlsx")
    assert report.evaluated == 1
    value = load_workbook(tmp_path / "out.xlsx", data_only=True).active["A1"].value
    assert value == pytest.approx(0.03 * 480 / np.sqrt(3) / 100 / (2 * np.pi * 60) * 1e3)


def test_a_sweep_gives_its_tables(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text(
        "[site]\n"
        + "\n".join(f'"{name}" = {value}' for name, value in in_columns(CHAIN).items())
        + '\n[settings]\nsupply = "ideal"\n'
    )
    (tmp_path / "drives.csv").write_text("tag,kW,pulses\nA,200,18\n")
    (tmp_path / "spec.toml").write_text(
        '[sweep]\nmethod = "grid"\n[site]\n"utility mva" = { values = [100, 200] }\n'
    )
    found = xl.sweep(tmp_path / "drives.csv", tmp_path / "site.toml", tmp_path / "spec.toml")
    assert len(found.samples) == 2


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (lambda: xl.Drive("A", pulses=6), "kw of drive A is missing; valid: one of kw, hp and input_amps"),
        (lambda: xl.Drive("A", kw=5, hp=5, pulses=6), "one of kw, hp and input_amps"),
        (
            lambda: xl.Drive("A", kw=5, pulses=6, load_pct=500),
            "load pct of drive A is 500; valid: a number from 1 to 200 %",
        ),
        (lambda: xl.Supply(kv=-1, mva=5), "kv of the supply is -1"),
        (lambda: xl.Plant(**CHAIN, main_volts=4), "main volts"),
        (lambda: xl.Plant(cases=[xl.Case("a")], **CHAIN), "cases"),
        (lambda: xl.study(xl.Plant(**CHAIN), []), "drives"),
        (lambda: xl.study(xl.Plant(**CHAIN), [1]), "drives is 1"),
        (lambda: xl.study(xl.Plant(**CHAIN), LISTED, solution="exact"), "solution is exact; valid: one of"),
        (lambda: xl.read_schedule("drives.csv", decimal=";"), "decimal is ;"),
        (lambda: xl.sweep("a", "b", "c", workers=0), "workers is 0"),
        (lambda: xl.choose(), "sites"),
    ],
)
def test_wrong_values_are_named(wrong: Callable[[], object], says: str) -> None:
    with pytest.raises(InputError) as caught:
        wrong()
    assert says in str(caught.value)


def test_a_supply_that_cannot_feed_the_drive() -> None:
    with pytest.raises(NoSolutionError, match="cannot supply"):
        xl.solve(xl.Drive("A", kw=1000, pulses=6), xl.Supply(kv=0.48, mva=2))


def test_pictures_show_what_was_solved(chain: xl.Study) -> None:
    pytest.importorskip("matplotlib", reason="matplotlib is not installed")
    solution = xl.solve(LISTED[0], xl.Supply(kv=0.48, mva=25))
    wave, bars = solution.plot().axes
    assert_allclose(wave.lines[0].get_ydata(), solution.waveform()["amps"])
    assert bars.patches[3].get_height() == pytest.approx(solution.spectrum["percent"].loc[5])
    assert len(chain.plot().axes) == 2
    assert chain.verdict in chain._repr_html_()
