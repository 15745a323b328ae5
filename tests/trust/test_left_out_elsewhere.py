"""What is typed on a copied sheet, in a second list or outside a narrowed range is named, and no PASS stays.

What is expected follows from the workbook alone: the value stands in that cell, and no formula reads it.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from openpyxl import load_workbook

from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.io.lists.xlsx_table import BookCells
from xlcalc.recalc.cellnames import CellRange, parse_range
from xlcalc.recalc.evaluation.content import BookContent, CellFormula, SheetContent
from xlcalc.recalc.inputs import Fault
from xlcalc.recalc.leftout import left_out
from xlcalc.recalc.reader import read_book
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.typedresults import typed_over
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.worksheet.catalogue import FUNCTIONS

Change = Callable[[BookContent], BookContent]
TEMPLATES = ("drive_study", "plant_study", "choice_study", "front_end_comparison", "field_proof")


@cache
def content(template: str) -> BookContent:
    book = read_book(WorkbookPackage.open(resources.template(template), check_cells=False), plain=True)
    return replace(book, sheets=tuple(sheet.filled() for sheet in book.sheets))


def at(cell: str) -> tuple[int, int]:
    found = parse_range(cell)
    assert isinstance(found, CellRange)
    return found.first_row, found.first_col


def copied(sheet: str, cell: str = "", value: str | float = 0.0) -> Change:
    """A copy of a sheet at the end of the book, with one value typed there."""

    def change(book: BookContent) -> BookContent:
        original = next(s for s in book.sheets if s.name == sheet)
        constants = [item for item in original.constants if not cell or item[:2] != at(cell)]
        if cell:
            constants.append((*at(cell), value))
        return replace(book, sheets=(*book.sheets, SheetContent(f"{sheet} (2)", "", constants)))

    return change


HEADINGS = ("Tag", "Description", "Quantity", "Rating", "Unit", "Efficiency (%)", "Bus", "Pulses")


def listed(*rows: tuple[str | float, ...], first: int = 1) -> Change:
    """A list of one's own with the headings of the drives."""
    constants = [
        (row, column, value)
        for row, values in enumerate((HEADINGS, *rows), start=first)
        for column, value in enumerate(values, start=1)
    ]
    return lambda book: replace(book, sheets=(*book.sheets, SheetContent("More drives", "", constants)))


def named(name: str, text: str) -> Change:
    return lambda book: replace(book, names={**book.names, ("", name): text})


def formula(sheet: str, cell: str, text: str) -> Change:
    """Another formula in a cell of results."""

    def change(book: BookContent) -> BookContent:
        sheets = [
            replace(s, formulas=[*(f for f in s.formulas if (f.row, f.col) != at(cell)), new])
            if s.name == sheet
            else s
            for s in book.sheets
        ]
        return replace(book, sheets=tuple(sheets))

    new = CellFormula(*at(cell), text)
    return change


NEW = ("Y-1", "typed", 1.0, 500.0, "kW", 95.0, "main", 6.0)
SLIPS: dict[str, tuple[str, Change, str]] = {
    "a drive on a copy of the sheet": ("drive_study", copied("Drives", "A30", "Y-1"), "'Drives (2)'!A30 "),
    "a rating on a copy": ("drive_study", copied("Drives", "D11", 900.0), "'Drives (2)'!D11 "),
    "MVA on a copy of the site": ("drive_study", copied("Site", "B20", 20.0), "'Site (2)'!B20 "),
    "kVA on a copy of the network": ("plant_study", copied("Network", "C9", 99.0), "'Network (2)'!C9 "),
    "a case on a copy": ("plant_study", copied("Cases", "B8", "alone"), "'Cases (2)'!B8 "),
    "terms on a copy": ("choice_study", copied("Terms", "B8", 77.0), "'Terms (2)'!B8 "),
    "a price on a copy": ("front_end_comparison", copied("Prices", "B9", 1.0), "'Prices (2)'!B9 "),
    "a second list of drives": ("drive_study", listed(NEW), "'More drives'!A2 is 'Y-1'"),
    "a second list further down": ("plant_study", listed(NEW, first=40), "'More drives'!A41 is 'Y-1'"),
    "a second list for a choice": ("choice_study", listed(NEW), "'More drives'!A2 is 'Y-1'"),
    "the drives narrowed": (
        "drive_study",
        named("drive_inputs", "Drives!$A$10:$O$12"),
        "Drives!A10:O510 is for inputs, and no name stands for it any more; drive_inputs is now",
    ),
    "the site narrowed": ("drive_study", named("site", "Site!$A$18:$B$30"), "Site!A18:B37 "),
    "PASS as a formula": ("drive_study", formula("PCC", "C5", '"PASS"'), 'PCC!C5 holds ="PASS"'),
    "a formula of one's own for the verdict": (
        "drive_study",
        formula("PCC", "C5", 'IF(D14<20,"PASS","FAIL")'),
        "PCC!C5 holds a formula that does not look at the faults of the inputs",
    ),
    "a sum over a limit": ("drive_study", formula("PCC", "E14", "40+10"), "PCC!E14 holds =40+10"),
    "PASS over one verdict of many": ("plant_study", formula("Verdicts", "C9", '"PASS"'), "Verdicts!C9 "),
    "PASS over the summary": ("plant_study", formula("Summary", "A5", 'IF(TRUE,"PASS")'), "Summary!A5 "),
    "PASS over the proof": ("field_proof", formula("Proof", "B24", '"PASS"'), "Proof!B24 "),
    "PASS over a front end": (
        "front_end_comparison",
        formula("Comparison", "B7", '"PASS"'),
        "Comparison!B7 ",
    ),
}
IN_THE_STUDY: dict[str, Change] = {
    "the template itself": lambda book: book,
    "a copy as it was": copied("Drives"),
    "the customer's list of the same drives": listed(("D1", "as in the enquiry", 1.0, 999.0, "kW")),
    "a sheet of one's own": lambda book: replace(
        book, sheets=(*book.sheets, SheetContent("Mine", "", [(1, 1, "Tag"), (1, 2, "Unit"), (2, 1, "Z")]))
    ),
}


def faults(book: BookContent) -> tuple[Fault, ...]:
    names = {name: text for (sheet, name), text in book.names.items() if not sheet}
    cells = {s.name: lambda s=s: {(r, c): value for r, c, value in s.constants} for s in book.sheets}
    return (*typed_over(book), *left_out(cells, names))


@pytest.mark.parametrize("name", SLIPS)
def test_the_cell_is_named(name: str) -> None:
    template, change, sentence = SLIPS[name]
    found = faults(change(content(template)))
    assert any(fault.sentence.startswith(sentence) for fault in found), found


@pytest.mark.parametrize("change", IN_THE_STUDY.values(), ids=list(IN_THE_STUDY))
def test_what_is_in_the_study_is_no_fault(change: Change) -> None:
    assert faults(change(content("drive_study"))) == ()


@pytest.mark.parametrize("template", TEMPLATES)
def test_a_template_has_no_fault(template: str) -> None:
    assert faults(content(template)) == ()


def test_every_door_refuses_a_file_with_a_second_list(tmp_path: Path) -> None:
    """The list stands in the file; the workbook shows why there is no verdict, and a schedule refuses it."""
    path = tmp_path / "slip.xlsx"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = load_workbook(resources.template("drive_study"))
    sheet = book.create_sheet("More drives")
    sheet.append(HEADINGS)
    sheet.append(NEW)
    book.save(path)
    report = recalculate(path, None, FUNCTIONS)
    assert not report.clean
    assert report.verdict_line().startswith("Verdict: NO VERDICT: 'More drives'!A2 is 'Y-1'")
    with pytest.raises(InputError) as refused:
        BookCells(path).check_inputs()
    assert str(refused.value).startswith("slip.xlsx: 'More drives'!A2 is 'Y-1'")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        shown = load_workbook(path, data_only=True)["PCC"]
    assert shown["C5"].value == "NO VERDICT"
    assert str(shown["C6"].value).startswith("'More drives'!A2 is 'Y-1'")
