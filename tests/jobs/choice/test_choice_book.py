"""A workbook of the template as the question: read as it is, and every cell that is wrong named."""

from __future__ import annotations

import csv
import re
from functools import cache

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from xlcalc.cli.app import app
from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.io.plants.site_file import read_drive_site
from xlcalc.jobs.choice.assemble import read_drives
from xlcalc.jobs.choice.plant_files import is_choice_book, read_choice_book, with_drives
from xlcalc.jobs.choice.question import Files, question_of

TEMPLATE = resources.template("choice_study")
DEMO = resources.folder("demo")


def plant_with_drives(path):
    plant = read_drive_site(path)
    return with_drives(plant, read_drives(DEMO / "plant_drives.csv", plant))


@pytest.fixture
def edited(tmp_path):
    """A copy of the template with cells changed; gives its path."""

    def change(*cells):
        book = load_workbook(TEMPLATE)
        book["Drives"]["A3"] = None
        for sheet, cell, value in cells:
            book[sheet][cell] = value
        path = tmp_path / "book.xlsx"
        book.save(path)
        return path

    return change


@cache
def template():
    """The shipped workbook, for reading."""
    return load_workbook(TEMPLATE)


def place(sheet, title, heading, below=1):
    """Cell of a column in a table, found by its title; `below` counts rows under the headings."""
    worksheet = template()[sheet]
    for row in range(1, worksheet.max_row + 1):
        if str(worksheet.cell(row, 1).value or "").casefold() == title:
            for column in range(1, worksheet.max_column + 1):
                if worksheet.cell(row + 1, column).value == heading:
                    return worksheet.cell(row + 1 + below, column).coordinate
    raise AssertionError(f"no {heading} in {title}")


def test_template_is_a_question(edited):
    path = edited()
    assert is_choice_book(path)
    asked = read_choice_book(path)
    problem = asked.problem
    assert [case.name for case in problem.cases][-1] == "Generator alone"
    alone = problem.cases[-1]
    assert alone.network.utility_bus == "MCC-A"
    assert alone.network.holds_terminal
    assert [point.pcc for point in alone.points] == ["MCC-A"]
    assert {"P-4", "P-5", "P-6"} <= alone.off
    weak, bare, unloaded = problem.cases[1:4]
    assert weak.network.utility.short_circuit_va == 130e6
    assert weak.network.capacitors
    assert not bare.network.capacitors
    assert weak.network.loads
    assert not unloaded.network.loads
    assert problem.margin_at("MCC-A") == 2.0
    assert problem.margin_at("Intake") == 5.0
    assert [bank.name for bank in problem.banks] == [
        "tuned filter 150 kvar on MCC-B",
        "tuned filter 300 kvar on MCC-B",
    ]
    by_tag = dict(zip((drive.tag for drive in problem.drives), problem.allowed, strict=True))
    assert [option.name for option in by_tag["P-2"]] == ["as scheduled"]
    passive = next(option for option in by_tag["P-1"] if option.name == "passive filter")
    assert passive.physics.filter.tuned_order == 5.0


def test_missing_tariff_names_the_cell(edited):
    cell = place("Terms", "general terms", "Price per kWh")
    with pytest.raises(
        InputError, match=rf"price per kwh in cell {cell}, row \d+ of .*sheet Terms is missing"
    ):
        read_choice_book(edited(("Terms", cell, None)))


def test_option_without_a_price_names_the_cell(edited):
    cells = [place("Options", "front ends", f"Price {letter}", 2) for letter in "ab"]
    with pytest.raises(
        InputError, match=rf"price a \(cell {cells[0]} of table front ends of sheet Options\)"
    ):
        read_choice_book(edited(*(("Options", cell, None) for cell in cells)))


def test_price_table_with_a_gap_names_its_row(edited):
    """Points at 5 and 50 kW for an option that can be had up to 500."""
    blank = [(place("Options", "front ends", f"Price {letter}", 2), None) for letter in "abc"]
    ends = [
        (place("Options", "front ends", "Min (kW)", 2), 5),
        (place("Options", "front ends", "Max (kW)", 2), 500),
    ]
    points = [
        (place("Options", "prices", heading, row), value)
        for row, line in ((1, ("line reactor 3 %", 5, 100)), (2, ("line reactor 3 %", 50, 400)))
        for heading, value in zip(("Option", "kW", "Price"), line, strict=True)
    ]
    changes = [("Options", cell, value) for cell, value in (*blank, *ends, *points)]
    with pytest.raises(InputError, match=r"price of line reactor 3 %.* is missing above 50 kW"):
        read_choice_book(edited(*changes))


def test_contradictory_pins_name_both_cells(edited):
    first = place("Terms", "pins", "Options", 1)
    second = place("Terms", "pins", "Options", 2)
    changes = [
        ("Terms", place("Terms", "pins", "Drives", 2), "P-2"),
        ("Terms", second, "12-pulse"),
    ]
    message = rf"pins of P-2 is contradictory: cell {first} of .*as scheduled; cell {second} of .*12-pulse"
    with pytest.raises(InputError, match=message):
        read_choice_book(edited(*changes))


def test_option_that_fits_no_drive_is_told_with_its_cell(edited):
    """The shipped 24-pulse option begins at 200 kW; the largest drive of the template has 156 kW."""
    cell = place("Options", "front ends", "Option", 8)
    asked = read_choice_book(edited())
    told = next(note for note in asked.problem.cautions if "fits no drive" in note)
    assert "option 24-pulse (200 to 5000 kW)" in told
    assert f"cell {cell} of table front ends of sheet Options" in told


@pytest.mark.parametrize(
    ("sheet", "title", "heading", "value", "message"),
    [
        ("Terms", "pcc", "Bus", "moon", "pcc of sheet Terms is moon"),
        ("Terms", "places", "Offer", "magic", r"offer of cell \w+ of table places of sheet Terms is magic"),
        ("Terms", "places", "Bus", "moon", r"bus of cell \w+ of table places of sheet Terms is moon"),
        ("Terms", "pins", "Options", "magic", r"option in cell \w+ of table pins of sheet Terms is magic"),
        ("Terms", "pins", "Drives", "P-99", r"drive in cell \w+ of table pins of sheet Terms is P-99"),
        ("Terms", "pins", "Drives", None, "neither drives nor a bus"),
        ("Terms", "cases", "Generators", "some", r"generators in cell \w+, row \d+ of table cases of sheet"),
        ("Terms", "general terms", "Margin (%)", 99, r"margin pct in cell \w+, .* of sheet Terms is 99"),
        ("Options", "front ends", "Pulses", 7, r"pulses in cell \w+, .* of sheet Options is 7"),
        ("Options", "passive filters", "Filter tuned order", 0.5, r"sheet Options\) is 0.5"),
        ("Options", "banks", "Tuned order", 4.0, r"of sheet Options\) is 4; valid: blank"),
        ("Options", "residual spectra", "Option", "magic", r"sheet Options\) is magic; valid: an option of"),
        ("Network", "buses", "kV", -1, r"kv in cell \w+, .* of sheet Network"),
        ("Network", "utility", "Max (MVA)", None, r"max mva in cell \w+, .* of sheet Network is missing"),
    ],
)
def test_wrong_cells_are_named(edited, sheet, title, heading, value, message):
    with pytest.raises(InputError, match=message):
        read_choice_book(edited((sheet, place(sheet, title, heading), value)))


def test_wrong_drive_names_sheet_and_cell(edited):
    with pytest.raises(InputError, match=r"pulses in cell H7, row 7 of sheet Drives is 8"):
        read_choice_book(edited(("Drives", "H7", 8)))


def test_workbook_and_other_files_exclude_each_other(edited):
    path = edited()
    with pytest.raises(InputError, match="with --drives"):
        question_of([path], Files(drives=DEMO / "drives.csv"))
    with pytest.raises(InputError, match="--drives is missing"):
        question_of([DEMO / "site.toml"], Files())


def test_unreachable_limit_is_told_with_its_cell(edited, tmp_path):
    """With a bare bridge as the only option nothing passes; the word, the nearest mix and the cell say so."""
    rows = template()["Options"]
    gone = []
    for title, count in (("front ends", 8), ("passive filters", 1), ("residual front ends", 1)):
        first = 2 if title == "front ends" else 1
        for below in range(first, count + 1):
            row = int(place("Options", title, "Option", below)[1:])
            gone += [("Options", rows.cell(row, column).coordinate, None) for column in range(1, 25)]
    for below in range(1, 40):
        try:
            row = int(place("Options", "residual spectra", "Option", below)[1:])
        except AssertionError:
            break
        if rows.cell(row, 1).value == "active front end":
            gone += [("Options", rows.cell(row, column).coordinate, None) for column in range(1, 6)]
    places = [("Terms", place("Terms", "places", heading), None) for heading in ("Bus", "Offer")]
    margin = place("Terms", "general terms", "Margin (%)")
    cases = [
        ("Terms", place("Terms", "cases", heading, below), None)
        for below in range(2, 6)
        for heading in ("Case", "Short circuit", "Generators", "Capacitors", "Out of service", "Loads")
    ]
    path = edited(*gone, *places, *cases, ("Terms", margin, 60))
    out = tmp_path / "out.xlsx"
    result = CliRunner().invoke(app, ["choose", str(path), "-o", str(out), "--front", "0", "--runners", "0"])
    assert result.exit_code == 1, result.output
    assert f"cell {margin} of table general terms of sheet Terms" in result.output
    book = load_workbook(out)
    assert book["Choice"]["A4"].value == "NO MIX PASSES"
    shares = [book["Exceeded"].cell(row, 7).value for row in range(5, book["Exceeded"].max_row + 1)]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 40.0


def test_a_schedule_as_customers_send_it_is_one_for_a_plant_too(tmp_path):
    """Semicolons, a decimal comma and a title row, which the command for schedules takes as well."""
    plain = DEMO / "plant_drives.csv"
    lines = list(csv.reader(plain.read_text(encoding="utf-8").splitlines()))
    comma = [[re.sub(r"^(\d+)\.(\d+)$", r"\1,\2", cell) for cell in line] for line in lines]
    messy = tmp_path / "messy.csv"
    text = "\n".join(["Drives of the mill", "", *(";".join(line) for line in comma)])
    messy.write_text(text, encoding="utf-8-sig")
    plant = read_drive_site(DEMO / "plant.toml")
    assert read_drives(messy, plant) == read_drives(plain, plant)


def test_plant_from_files_has_its_cases():
    path = DEMO / "plant.toml"
    plant = plant_with_drives(path)
    assert [case.name for case in plant.cases][:2] == ["Strong supply", "Weak supply"]
    asked = question_of([path], Files(drives=DEMO / "plant_drives.csv", terms=DEMO / "plant_choice.toml"))
    assert [case.name for case in asked.problem.cases] == [case.name for case in plant.cases]
    assert {point.pcc for point in asked.problem.cases[0].points} == {"Grid", "Mill"}
    assert asked.problem.margins_pct == {"Mill": 3.0}
    assert asked.problem.capacitor_standard == "IEC 60831-1"
    assert {bank.elements[0].bus for bank in asked.problem.banks} == {"Finishing"}
