"""Slips of the hand at every door: refused by name with what was probably meant, and never a verdict.

What is a slip is common practice, no source; each case says beside it what was meant.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import openpyxl
import pytest

from xlcalc.core.errors import InputError
from xlcalc.core.resources import folder
from xlcalc.io.choices.option_files import read_options
from xlcalc.io.choices.terms import terms_from
from xlcalc.io.plants.plant_file import plant_from
from xlcalc.io.plants.site_file import read_site
from xlcalc.jobs.schedule.schedule_run import run_schedule
from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.recalc.recalc import recalculate
from xlcalc.schema.values import CellError
from xlcalc.workbooks.drive import drive_study, schedule
from xlcalc.workbooks.drive.study_data import read_study
from xlcalc.workbooks.drive.summary import read_summary
from xlcalc.workbooks.kit import package
from xlcalc.worksheet.catalogue import FUNCTIONS

SITE = {
    "utility kv": 13.8,
    "utility mva": 250.0,
    "transformer kva": 2000.0,
    "transformer z pct": 5.75,
    "main bus volts": 480.0,
    "linear load kw": 300.0,
}
DRIVE = {
    "tag": "P-1",
    "rating": 200.0,
    "unit": "hp",
    "efficiency pct": 94.0,
    "pulses": 6.0,
    "line reactor pct": 3.0,
    "dc choke pct": None,
    "load pct": 90.0,
}
FIRST_DRIVE = 11
"""Row of the sheet Drives."""

DRIVE_SLIPS = [
    ("line reactor pct", 0.03, "did you mean 3 %"),
    ("line reactor pct", 0.05, "did you mean 5 %"),
    ("dc choke pct", 0.04, "did you mean 4 %"),
    ("load pct", 0.8, "did you mean 80 %"),
    ("load pct", 1.1, "did you mean 110 %"),
    ("efficiency pct", 0.93, "did you mean 93 %"),
    ("filter capacitor pct", 0.15, "did you mean 15 %"),
    ("unit", None, "one of kW, hp"),
    ("unit", "", "one of kW, hp"),
    ("rating", 150_000.0, "seems to be in W"),
    ("rating", 5_000.0, "1.5 times the 2000 kVA"),
]
SITE_SLIPS = [
    ("transformer z pct", 0.0575, "did you mean 5.75 %"),
    ("transformer z pct", 57.5, "a number above 0 up to 50"),
    ("transformer z pct", 0.4, "1 to 20 %"),
    ("transformer kva", 2.0, "did you mean 2000 kVA"),
    ("transformer kva", 2e6, "seems to be in VA"),
    ("transformer kva", 200_000.0, "is it in VA"),
    ("main bus volts", 0.48, "did you mean 480 V"),
    ("utility kv", 13_800.0, "did you mean 13.8 kV"),
    ("utility kv", 480.0, "is it in V"),
    ("utility mva", 250_000.0, "is it in kVA"),
    ("utility mva", 0.25, "swapped"),
    ("linear load kw", 300_000.0, "is it in W"),
    ("linear load kw", 3_500.0, "1.5 times the 2000 kVA"),
    ("linear load pf", 85.0, "did you mean 0.85"),
    ("capacitor mvar", 600.0, "is it in kvar"),
    ("capacitor detuning pct", 0.07, "did you mean 7 %"),
]
SETTING_SLIPS = [
    ("unbalance pct", 0.01, "did you mean 1 %"),
    ("background 5th pct", 0.02, "did you mean 2 %"),
    ("transformer pct", 0.05, "did you mean 5 %"),
]


def grid(values: dict[str, object]) -> list[list[object]]:
    return [[name, value] for name, value in values.items()]


def ask(quantity: str, drive=None, site=None, settings=None) -> object:
    """HD_PCC_VALUE of one drive on the site, with values changed."""
    row = {**DRIVE, **(drive or {})}
    given = [list(row), list(row.values())]
    return FUNCTIONS["HD_PCC_VALUE"]([given, grid({**SITE, **(site or {})}), quantity, grid(settings or {})])


def test_without_a_slip_there_is_a_verdict():
    assert ask("VERDICT") in ("PASS", "FAIL", "NO VERDICT")
    assert isinstance(ask("TDD"), float)


@pytest.mark.parametrize(
    ("where", "name", "value", "meant"),
    [
        *(("drive", *slip) for slip in DRIVE_SLIPS),
        *(("site", *slip) for slip in SITE_SLIPS),
        *(("settings", *slip) for slip in SETTING_SLIPS),
    ],
)
def test_a_function_names_the_field_and_what_was_meant(where, name, value, meant):
    refused = ask("TDD", **{where: {name: value}})
    assert isinstance(refused, CellError), refused
    assert name in refused.reason
    assert meant in refused.reason
    assert ask("VERDICT", **{where: {name: value}}) == "NO VERDICT"
    assert refused.place is not None
    assert refused.place.field == name or refused.place.row is not None


@pytest.mark.parametrize(
    ("arguments", "meant"),
    [
        ("{1,100;5,3},800,50,0.48", "exactly 100 seems to be percent or per unit"),
        ("{1,1;5,0.3},120,50,0.48", "exactly 1 seems to be percent or per unit"),
        ("{1,90;5,3},15,100,0.48", "at least half the fundamental of the spectrum, 90 A"),
        ("{1,90;5,3},100000,50,0.48", "in another unit or of another voltage level"),
        ("{1,90;5,3},100,0.5,0.48", "isc_il is 0.5"),
    ],
)
def test_a_current_that_cannot_be_judged_by_its_base(arguments, meant):
    """No row of the table says PASS of amperes that are percent, or IL of another bus."""
    formula = f'=INDEX(HD_VERDICT_IEEE519({arguments},2022,"no","zero"),51,6)'
    result = evaluate_formula(formula, FUNCTIONS)
    assert isinstance(result, CellError)
    assert meant in result.reason


def test_a_transformer_far_too_small_for_its_loads():
    """20 kVA where 2000 kVA was meant: the load is named with the rating that does not fit it."""
    refused = ask("TDD", site={"transformer kva": 20.0})
    assert "300; valid: up to 25.5 kW, 1.5 times the 20 kVA of what feeds it" in refused.reason
    refused = ask("TDD", drive={"quantity": 99.0}, site={"transformer kva": 200.0, "linear load kw": 0.0})
    assert (
        "transformer kva in site is 200; valid: 9424 kVA or more, as it feeds 1.414e+04 kW" in refused.reason
    )
    assert "is it in MVA" in refused.reason


def test_kv_and_mva_of_the_utility_swapped():
    refused = ask("TDD", site={"utility kv": 60.0, "utility mva": 13.8})
    assert isinstance(refused, CellError)
    assert "kV and MVA swapped" in refused.reason


@pytest.mark.parametrize(
    ("where", "name", "text"),
    [
        ("drive", "line reactor pct", "0.03 %"),
        ("drive", "line reactor pct", "0,03%"),
        ("drive", "load pct", "2 %"),
        ("site", "transformer z pct", "0.9 %"),
        ("settings", "unbalance pct", "0.02 %"),
    ],
)
def test_a_value_with_its_unit_is_meant(where, name, text):
    assert isinstance(ask("TDD", **{where: {name: text}}), float)


@pytest.mark.parametrize(
    ("where", "name", "value"),
    [
        ("drive", "line reactor pct", 0.5),
        ("drive", "line reactor pct", 0.0),
        ("drive", "load pct", 5.0),
        ("settings", "unbalance pct", 0.3),
        ("settings", "background 5th pct", 0.6),
        ("settings", "background 13th pct", 0.1),
        ("site", "transformer z pct", 1.5),
        ("site", "utility mva", 40.0),
        ("site", "main bus volts", 208.0),
    ],
)
def test_small_values_that_are_usual_stay_possible(where, name, value):
    assert isinstance(ask("TDD", **{where: {name: value}}), float)


@pytest.mark.parametrize(
    ("formula", "name", "meant"),
    [
        ("=HD_SPECTRUM(6,0.5,0.03)", "reactor_pct", "did you mean 3 %"),
        ("=HD_SPECTRUM(6,0.5,0,0.04)", "choke_pct", "did you mean 4 %"),
        ("=HD_SPECTRUM(6,0.5,3,0,0.8)", "load_pct", "did you mean 80 %"),
        ('=HD_SPECTRUM(6,0.5,3,0,100,{"unbalance pct",0.01})', "unbalance pct", "did you mean 1 %"),
        ("=HD_TRANSFORMER_MVA(2,5.75)", "kva", "did you mean 2000 kVA"),
        ("=HD_TRANSFORMER_MVA(2000,0.0575)", "z_pct", "did you mean 5.75 %"),
        ("=HD_REACTOR_MH(0.03,480,100,60)", "pct", "did you mean 3 %"),
        ("=HD_REACTOR_MH(3,0.48,100,60)", "volts", "did you mean 480 V"),
        ("=HD_SC_AMPS(140000,13.8)", "mva", "is it in kVA"),
        ("=HD_SC_AMPS(13.8,140)", "mva", "swapped"),
        ("=HD_SC_AMPS(250,13800)", "kv", "did you mean 13.8 kV"),
        ("=HD_RESONANCE_ORDER(20,600)", "cap_mvar", "is it in kvar"),
        ("=HD_SOURCE_PCT(20,200000)", "drive_kva", "is it in VA"),
        ('=HD_LINK_KW(200,"hp",0.95)', "efficiency_pct", "did you mean 95 %"),
        ("=HD_REACTOR_FOR_THD(0.35,6,0.5)", "target_pct", "did you mean 35 %"),
    ],
)
def test_a_formula_by_eval(formula, name, meant):
    refused = evaluate_formula(formula, FUNCTIONS)
    assert isinstance(refused, CellError), refused
    assert name in refused.reason
    assert meant in refused.reason


def test_a_formula_with_the_unit_is_meant():
    assert evaluate_formula('=HD_THD(HD_SPECTRUM(6,0.5,"0.03 %"))', FUNCTIONS) > 90.0


NETWORK = {
    "buses": [["name", "kv"], ["U", 13.8], ["M", 0.48]],
    "utility": [["bus", "max mva"], ["U", 250.0]],
    "transformers": [
        ["name", "from bus", "to bus", "kva", "z pct", "vector group"],
        ["T1", "U", "M", 2000.0, 5.75, "Dyn11"],
    ],
    "capacitors": [["name", "bus", "kvar"], ["C1", "M", 200.0]],
    "loads": [["name", "bus", "kw"], ["L1", "M", 300.0]],
}


@pytest.mark.parametrize(
    ("table", "column", "value", "meant"),
    [
        ("transformers", "kva", 2.0, "did you mean 2000 kVA"),
        ("transformers", "z pct", 0.0575, "did you mean 5.75 %"),
        ("capacitors", "kvar", 0.2, "did you mean 200 kvar"),
        ("capacitors", "kvar", 2e5, "is it in var"),
        ("loads", "kw", 3e5, "is it in W"),
        ("loads", "kw", 4e3, "1.5 times the 2000 kVA"),
        ("buses", "kv", 0.0138, "0.1 kV or more"),
        ("utility", "max mva", 250_000.0, "is it in kVA"),
        ("utility", "max mva", 0.25, "or more at 13.8 kV"),
    ],
)
def test_a_plant_names_table_and_column(table, column, value, meant):
    row = {**DRIVE, "bus": "M"}
    rows = [["Plant"]]
    for title, block in NETWORK.items():
        body = [list(line) for line in block]
        if title == table:
            body[1][body[0].index(column)] = value
        rows += [[title], *body]
    stacked = [[*line, *[None] * (6 - len(line))] for line in rows]
    for quantity in ("TDD", "VERDICT"):
        given = [stacked, [list(row), list(row.values())], "U", quantity]
        answer = FUNCTIONS["HD_PLANT_VALUE"](given)
        if quantity == "VERDICT":
            assert answer == "NO VERDICT"
            continue
        assert isinstance(answer, CellError), answer
        assert meant in answer.reason
        assert column in answer.reason


def test_a_drive_of_230_volts_on_480_volts():
    row = {**DRIVE, "bus": "M", "volts": 230.0}
    rows = [line for title, block in NETWORK.items() for line in ([title], *block)]
    stacked = [[*line, *[None] * (6 - len(line))] for line in rows]
    answer = FUNCTIONS["HD_PLANT_VALUE"]([stacked, [list(row), list(row.values())], "U", "TDD"])
    assert "within 10 % of the 480 V" in answer.reason
    near = {**row, "volts": 460.0}
    assert isinstance(
        FUNCTIONS["HD_PLANT_VALUE"]([stacked, [list(near), list(near.values())], "U", "TDD"]), float
    )


HEADINGS = "Tag,Rating,Unit,Efficiency (%),Pulses,Line reactor (%),DC choke (%),Load (%),Volts\n"


@pytest.fixture
def site_file(tmp_path: Path) -> Path:
    path = tmp_path / "plant.toml"
    path.write_text("[site]\n" + "".join(f"'{k}' = {v}\n" for k, v in SITE.items()), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("row", "column", "meant"),
    [
        ("P-1,200,hp,94,6,0.03,,90,480", "Line reactor (%)", "did you mean 3 %"),
        ("P-1,200,hp,94,6,3,0.04,90,480", "DC choke (%)", "did you mean 4 %"),
        ("P-1,200,hp,94,6,3,,0.9,480", "Load (%)", "did you mean 90 %"),
        ("P-1,200,hp,0.94,6,3,,90,480", "Efficiency (%)", "did you mean 94 %"),
        ("P-1,200,,94,6,3,,90,480", "Rating", "kW, hp or A"),
        ("P-1,200,hp,94,6,3,,90,0.48", "Volts", "did you mean 480 V"),
        ("P-1,200,hp,94,6,3,,90,230", "Volts", "within 10%"),
        ("P-1,90000,kW,94,6,3,,90,480", "link power at its bus", "1.5 times the 2000 kVA"),
    ],
)
def test_a_schedule_names_row_and_column(tmp_path, site_file, row, column, meant):
    path = tmp_path / "drives.csv"
    path.write_text(HEADINGS + "P-0,20,kW,90,6,3,,90,480\n" + row + "\n", encoding="utf-8")
    read, tables = run_schedule(path, [read_site(site_file)])
    (problem,) = read.problems
    assert (problem.row, problem.column) == (3, column)
    assert meant in problem.valid
    assert tables.sites.loc[0, "verdict"] == "NO VERDICT"
    assert "P-1 (row 3)" in tables.sites.loc[0, "what is missing"]


def test_a_percent_with_its_unit_in_a_cell_of_a_schedule_is_meant(tmp_path, site_file):
    path = tmp_path / "drives.csv"
    path.write_text(HEADINGS + "P-1,200,hp,94,6,0.03 %,,90,480\n", encoding="utf-8")
    read, _ = run_schedule(path, [read_site(site_file)])
    assert not read.problems
    assert read.rows["line reactor pct"].tolist() == [0.03]


@pytest.mark.parametrize(("name", "value", "meant"), SITE_SLIPS)
def test_a_site_file_names_the_value(tmp_path, name, value, meant):
    path = tmp_path / "slip.toml"
    values = {**SITE, name: value}
    path.write_text("[site]\n" + "".join(f"'{k}' = {v}\n" for k, v in values.items()), encoding="utf-8")
    drives = tmp_path / "drives.csv"
    drives.write_text(HEADINGS + "P-1,200,hp,94,6,3,,90,\n", encoding="utf-8")
    with pytest.raises(InputError) as problem:
        run_schedule(drives, [read_site(path)])
    assert name in str(problem.value)
    assert meant in str(problem.value)


@pytest.mark.parametrize(("name", "value", "meant"), SETTING_SLIPS)
def test_settings_of_a_site_file(tmp_path, site_file, name, value, meant):
    with site_file.open("a", encoding="utf-8") as out:
        out.write(f"[settings]\n'{name}' = {value}\n")
    with pytest.raises(InputError, match=meant) as problem:
        read_site(site_file)
    assert name in str(problem.value)


def test_a_plant_file_names_table_and_row(tmp_path):
    content = {
        "buses": [{"name": "U", "kv": 13.8}, {"name": "M", "kv": 0.48}],
        "utility": [{"bus": "U", "max mva": 250}],
        "transformers": [
            {"name": "T1", "from bus": "U", "to bus": "M", "kva": 2000, "z pct": 0.0575}
            | {"vector group": "Dyn11"}
        ],
    }
    with pytest.raises(InputError, match=r"did you mean 5\.75 %") as problem:
        plant_from(tmp_path / "plant.toml", content)
    assert "z pct" in str(problem.value)
    assert "transformers" in str(problem.value)


OPTIONS = "option,kind,pulses,line reactor pct,dc choke pct,price a,price b\n"


@pytest.mark.parametrize(
    ("line", "name", "meant"),
    [
        ("coil,bridge,6,0.03,,1,0", "line reactor pct", "did you mean 3 %"),
        ("coil,bridge,6,,0.04,1,0", "dc choke pct", "did you mean 4 %"),
    ],
)
def test_an_option_names_its_cell(tmp_path, line, name, meant):
    path = tmp_path / "options.csv"
    path.write_text(OPTIONS + "none,bridge,6,,,0,0\n" + line + "\n", encoding="utf-8")
    with pytest.raises(InputError, match=meant) as problem:
        read_options(path)
    assert name in str(problem.value)
    assert "3" in problem.value.argument


@pytest.mark.parametrize(
    ("tables", "name", "meant"),
    [
        ({"choice": {"margin pct": 0.1}}, "margin pct", "did you mean 10 %"),
        ({"choice": {"margins pct": {"main bus": 0.05}}}, "main bus", "did you mean 5 %"),
        ({"cases": {"night": {"load pct": {"P-1": 0.4}}}}, "load pct of P-1", "did you mean 40 %"),
        ({"money": {"price per kwh": 0.1, "discount pct": 0.07}}, "discount pct", "did you mean 7 %"),
    ],
)
def test_terms_of_a_choice(tables, name, meant):
    whole = {"money": {"price per kwh": 0.1}, **tables}
    with pytest.raises(InputError, match=meant) as problem:
        terms_from("terms.toml", whole)
    assert name in str(problem.value)


@pytest.fixture(scope="module")
def template(tmp_path_factory) -> Path:
    """A workbook of the current code with the drives of the demo."""
    demo = folder("demo")
    path = tmp_path_factory.mktemp("template") / "study.xlsx"
    package.save(drive_study.build(read_study(demo / "site.toml", demo / "drives.csv")), path)
    return path


def labelled(sheet, text: str):
    """The input beside a label."""
    return next(sheet.cell(row, 2) for row in range(1, sheet.max_row + 1) if sheet.cell(row, 1).value == text)


@pytest.mark.parametrize(
    ("place", "value", "percent", "meant"),
    [
        (("Drives", "Line reactor (%)"), 0.03, False, "did you mean 3 %"),
        (("Drives", "Line reactor (%)"), 0.03, True, "did you mean 3 %"),
        (("Drives", "Load (%)"), 0.85, True, "did you mean 85 %"),
        (("Drives", "Unit"), None, False, "one of kW, hp"),
        (("Drives", "Rating"), 93_000.0, False, "is it in"),
        (("Site", "Transformer (kVA)"), 2.0, False, "did you mean 2000 kVA"),
        (("Site", "Transformer Z (%)"), 0.0575, True, "did you mean 5.75 %"),
        (("Site", "Main bus (volts)"), 0.48, False, "did you mean 480 V"),
        (("Site", "Unbalance (%)"), 0.01, True, "did you mean 1 %"),
    ],
)
def test_a_cell_of_the_template(template, tmp_path, place, value, percent, meant):
    path = tmp_path / "slip.xlsx"
    shutil.copy(template, path)
    book = openpyxl.load_workbook(path)
    sheet = book[place[0]]
    if place[0] == "Drives":
        cell = sheet.cell(FIRST_DRIVE, schedule.input_headings().index(place[1]) + 1)
    else:
        cell = labelled(sheet, place[1])
    cell.value = value
    if percent:
        cell.number_format = "0.00%"
    book.save(path)
    report = recalculate(path, None, FUNCTIONS)
    summary = read_summary(path)
    assert summary.pcc["VERDICT"] not in ("PASS", "FAIL")
    reasons = " ".join(issue.reason for issue in report.issues)
    assert meant in reasons
    assert f"{place[0]}!{cell.coordinate}" in reasons
