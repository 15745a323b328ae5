"""Examples that templates, demo and table of options come with are no data: every door says so.

What counts as untouched: every value of the block is the shipped one, read here from the shipped files.
"""

from __future__ import annotations

import csv
import shutil
import tomllib
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner

from xlcalc.cli.app import app
from xlcalc.core.resources import folder
from xlcalc.files.books import comparison_names, names
from xlcalc.io.choices.option_files import read_options
from xlcalc.io.choices.terms import terms_from
from xlcalc.io.plants.plant_file import plant_from
from xlcalc.io.plants.site_file import read_drive_site, read_site
from xlcalc.jobs.choice.assemble import problem_of
from xlcalc.jobs.schedule.schedule_run import run_schedule
from xlcalc.mitigation.offer.shipped import example_spectra, has_example_price
from xlcalc.recalc.recalc import recalculate
from xlcalc.workbooks.comparison import comparison_study
from xlcalc.workbooks.comparison.comparison_data import read_comparison
from xlcalc.workbooks.drive import drive_study
from xlcalc.workbooks.drive.study_data import read_study
from xlcalc.workbooks.drive.summary import read_summary
from xlcalc.workbooks.kit import package
from xlcalc.worksheet.catalogue import FUNCTIONS

DEMO = folder("demo")
EXAMPLE_SITE = "the site is the example of the template"


def site(name: str = "starter_site.toml", **changed: object) -> list[list[object]]:
    values = tomllib.loads((DEMO / name).read_text(encoding="utf-8"))["site"]
    return [[key, value] for key, value in {**values, **changed}.items()]


def drives(name: str = "starter_drives.csv") -> list[list[object]]:
    def cell(text: str) -> object:
        try:
            return float(text)
        except ValueError:
            return text or None

    with (DEMO / name).open(encoding="utf-8", newline="") as lines:
        return [[cell(text) for text in row] for row in csv.reader(lines)]


OWN: list[object] = ["X-1", "Own pump", 1.0, 60.0, "hp", 94.0, "main", 6.0, 3.0, None, 100.0]
SETTINGS = [["unbalance pct", 0.0], ["supply", "ideal"]]


def answer(quantity: str, rows: list[list[object]], of: list[list[object]]) -> str:
    found = FUNCTIONS["HD_PCC_VALUE"]([rows, of, quantity, SETTINGS])
    assert isinstance(found, str), found
    return found


def test_own_drives_on_the_example_site_have_no_verdict():
    rows = [drives()[0], OWN]
    assert answer("VERDICT", rows, site()) == "NO VERDICT"
    assert EXAMPLE_SITE in answer("REASON", rows, site())
    assert "example site" in answer("REMARKS", rows, site())


def test_one_changed_value_makes_the_site_ones_own():
    rows, own = [drives()[0], OWN], site(**{"utility mva": 150})
    assert answer("VERDICT", rows, own) in ("PASS", "FAIL")
    assert "example" not in answer("REMARKS", rows, own)


def test_the_template_as_shipped_keeps_its_verdict_under_a_banner():
    assert answer("VERDICT", drives(), site()) in ("PASS", "FAIL")
    remarks = answer("REMARKS", drives(), site())
    assert "example site" in remarks
    assert "example drives" in remarks


def test_the_demo_is_labelled_as_invented():
    rows, demo = drives("drives.csv"), site("site.toml")
    assert answer("VERDICT", rows, demo) in ("PASS", "FAIL")
    assert "invented demo" in answer("REMARKS", rows, demo)


def test_example_rows_that_stayed_in_a_study_are_named():
    rows = [*drives()[:1], OWN, *drives()[4:5]]
    remarks = answer("REMARKS", rows, site(**{"utility mva": 150}))
    assert "example drives among others: D4" in remarks
    changed = [*rows[:2], [*rows[2][:3], 149.0, *rows[2][4:]]]
    assert "example" not in answer("REMARKS", changed, site(**{"utility mva": 150}))


def test_a_blank_efficiency_is_named_beside_the_verdict():
    rows = [drives()[0], [*OWN[:5], None, *OWN[6:]]]
    assert "efficiency assumed: X-1 90." in answer("REMARKS", rows, site(**{"utility mva": 150}))


HEADINGS = "Tag,Rating,Unit,Efficiency (%),Bus,Pulses,Line reactor (%)\n"


def customer(tmp_path: Path, bus: str = "main") -> Path:
    path = tmp_path / "customer.csv"
    path.write_text(HEADINGS + f"X-1,60,hp,94,{bus},6,3\nX-2,40,kW,93,{bus},6,3\n", encoding="utf-8")
    return path


def test_a_schedule_on_the_example_site(tmp_path):
    read, tables = run_schedule(customer(tmp_path), [read_site(DEMO / "starter_site.toml")])
    assert not read.problems
    row = tables.sites.iloc[0]
    assert row["verdict"] == "NO VERDICT"
    assert EXAMPLE_SITE in row["reason"]
    assert "example site" in row["remarks"]


def test_a_schedule_of_the_shipped_files_keeps_its_verdict(tmp_path):
    for site_file, list_file in (("starter_site.toml", "starter_drives.csv"), ("site.toml", "drives.csv")):
        _, tables = run_schedule(DEMO / list_file, [read_site(DEMO / site_file)])
        row = tables.sites.iloc[0]
        assert row["verdict"] in ("PASS", "FAIL")
        assert "example site" in row["remarks"]
        assert "example drives" in row["remarks"]


def test_a_schedule_on_the_example_plant(tmp_path):
    plant = read_drive_site(DEMO / "starter_plant.toml")
    _, tables = run_schedule(customer(tmp_path, "MCC-A"), [plant])
    assert set(tables.sites["verdict"]) == {"NO VERDICT"}
    assert tables.sites["reason"].str.contains("the plant is the example of the template").all()


def test_a_plant_with_one_changed_value_is_ones_own(tmp_path):
    content = tomllib.loads((DEMO / "starter_plant.toml").read_text(encoding="utf-8"))
    content["utility"][0]["max mva"] = 230
    _, tables = run_schedule(customer(tmp_path, "MCC-A"), [plant_from(tmp_path / "own.toml", content)])
    assert not tables.sites["reason"].str.contains("example").any()
    assert not tables.sites["remarks"].str.contains("example plant").any()


def test_the_command_says_so(tmp_path):
    """`xlcalc schedule customer.csv --site` a template that nobody filled in."""
    book = tmp_path / "untouched.xlsx"
    template(book)
    done = CliRunner().invoke(
        app,
        ["schedule", str(customer(tmp_path)), "--site", str(book), "-o", str(tmp_path / "out.csv")],
        standalone_mode=False,
    )
    assert done.exit_code == 0 or done.return_value != 0
    assert "Verdict: NO VERDICT" in done.output
    assert EXAMPLE_SITE in done.output


def test_a_choice_for_own_drives_on_the_example_site(tmp_path):
    terms = terms_from("terms.toml", {"money": {"price per kwh": 0.1}})
    for site_file, doubts in (("starter_site.toml", True), ("site.toml", False)):
        found = [read_site(DEMO / site_file)]
        problem = problem_of(found, customer(tmp_path), read_options(), terms)
        assert any(EXAMPLE_SITE in doubt for doubt in problem.doubts) == doubts
        assert any("example site" in caution for caution in problem.cautions)


def template(path: Path, site_file: str = "starter_site.toml", list_file: str = "starter_drives.csv") -> None:
    package.save(drive_study.build(read_study(DEMO / site_file, DEMO / list_file)), path)


def test_a_template_with_own_drives_and_the_example_site(tmp_path):
    path = tmp_path / "study.xlsx"
    data = read_study(DEMO / "starter_site.toml", DEMO / "starter_drives.csv")
    own = dict(
        zip(("Tag", "Rating", "Unit", "Efficiency (%)", "Pulses"), ("X-1", 60, "hp", 94, 6), strict=True)
    )
    package.save(drive_study.build(replace(data, drives=(own,))), path)
    recalculate(path, None, FUNCTIONS)
    assert read_summary(path).pcc["VERDICT"] == "NO VERDICT"
    assert EXAMPLE_SITE in all_text(path, names.PCC_SHEET)


def test_a_template_as_shipped_shows_the_banner(tmp_path):
    path = tmp_path / "study.xlsx"
    template(path)
    recalculate(path, None, FUNCTIONS)
    assert read_summary(path).pcc["VERDICT"] in ("PASS", "FAIL", "NO VERDICT")
    assert "example site" in all_text(path, names.PCC_SHEET)


def all_text(path: Path, sheet: str) -> str:
    cells = openpyxl.load_workbook(path, data_only=True)[sheet].iter_rows(values_only=True)
    return "\n".join(str(cell) for row in cells for cell in row if isinstance(cell, str))


@pytest.fixture(scope="module")
def comparison(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("comparison") / "raw.xlsx"
    package.save(comparison_study.build(read_comparison(DEMO / "starter_comparison.toml")), path)
    return path


def compared(source: Path, tmp_path: Path, **changed: object):
    """Headline, line of the drive, verdict and sentence of the last front end; cells changed as Sheet_A1."""
    path = tmp_path / "comparison.xlsx"
    shutil.copy(source, path)
    book = openpyxl.load_workbook(path)
    for place, value in changed.items():
        sheet, cell = place.rsplit("_", 1)
        book[sheet][cell] = value
    book.save(path)
    recalculate(path, None, FUNCTIONS)
    shown = openpyxl.load_workbook(path, data_only=True)[comparison_names.COMPARISON]
    last = comparison_names.COLUMNS + 1
    return shown["A4"].value, shown["A5"].value, shown.cell(7, last).value, shown.cell(9, last).value


def test_the_comparison_as_shipped(comparison, tmp_path):
    headline, drive, front_end, sentence = compared(comparison, tmp_path)
    assert "with example prices" in headline
    assert drive.startswith("EXAMPLE DRIVE. EXAMPLE SUPPLY.")
    assert front_end == "NO VERDICT"
    assert "its spectrum is the example" in sentence


def test_a_changed_price_or_remark_ends_the_example_prices(comparison, tmp_path):
    for cell, value in (("Prices_B9", 715), ("Prices_G9", "quotation 17")):
        headline, *_ = compared(comparison, tmp_path, **{cell: value})
        assert "with example prices" not in headline
        assert "Still of the example: 7 of 8 prices" in headline


def test_a_typed_basis_ends_the_example_spectrum(comparison, tmp_path):
    """Orders that the spectrum does not list still keep it from a verdict."""
    basis = "Maker's data sheet, rated current, 1 % unbalance"
    _, drive, _, sentence = compared(comparison, tmp_path, Residual_A5=basis, Site_B18=50)
    assert "example" not in sentence
    assert "EXAMPLE SUPPLY" not in drive
    *_, front_end, sentence = compared(comparison, tmp_path, Residual_A5=None)
    assert front_end == "NO VERDICT"
    assert "its spectrum is the example" in sentence


def test_shipped_options_are_known_by_price_and_remark(tmp_path):
    options = read_options().drive_options
    priced = [option for option in options if option.price.at(100.0) > 0.0]
    assert all(has_example_price(option) for option in priced)
    assert example_spectra(options) == ("active front end",)
    copied = tmp_path / "options.csv"
    text = (DEMO / "mitigation_options.csv").read_text(encoding="utf-8")
    changed = text.replace(
        "line reactor 3 %,bridge,6,3,,,,,,,,,,,,,,60,", "line reactor 3 %,bridge,6,3,,,,,,,,,,,,,,65,"
    )
    assert changed != text
    copied.write_text(changed, encoding="utf-8")
    own = read_options(copied, None, DEMO / "mitigation_residuals.csv").drive_options
    assert [o.name for o in own if not has_example_price(o) and o.price.at(100.0) > 0.0] == [
        "line reactor 3 %"
    ]
