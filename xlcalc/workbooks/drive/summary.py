"""The results of a calculated workbook as plain data, read from its cells."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from openpyxl import load_workbook
from openpyxl.workbook import Workbook

from xlcalc.core.errors import InputError
from xlcalc.files.books import names

VERDICT_QUANTITIES = ("VERDICT", "WORST", "SOURCE")
TEXTS = ("REASON", "REMARKS")
"""Quantities that workbooks of earlier versions do not show."""

NUMBER_QUANTITIES = ("ISC_IL", "ISC", "IL", "TDD", "LIMIT_TDD", "WORST_ORDER", "THDV", "LIMIT_THDV", "MARGIN")
CellValue = float | str | None


@dataclass(frozen=True)
class Summary:
    """Results of a calculated drive study.

    Parameters
    ----------
    drives : tuple of mapping
        One mapping of heading and cell value per row of the table of drives in which something was typed.
    pcc : mapping
        Cell value by quantity of HD_PCC_VALUE; an error value of the sheet is its text.
    """

    drives: tuple[Mapping[str, CellValue], ...]
    pcc: Mapping[str, CellValue]


def read_summary(path: Path) -> Summary:
    """Read the values that the last calculation left in a workbook made from the template.

    Raises
    ------
    InputError
        The workbook lacks the table of drives or a name of the sheet PCC.
    """
    book = load_workbook(path, data_only=True)
    pcc = {
        quantity: _named(book, names.pcc(quantity)) for quantity in (*VERDICT_QUANTITIES, *NUMBER_QUANTITIES)
    }
    shown = (quantity for quantity in TEXTS if names.pcc(quantity) in book.defined_names)
    pcc |= {quantity: _named(book, names.pcc(quantity)) for quantity in shown}
    return Summary(_drives(book), pcc)


def _drives(book: Workbook) -> tuple[dict[str, CellValue], ...]:
    for sheet in book.worksheets:
        if names.TABLE in sheet.tables:
            rows = sheet[sheet.tables[names.TABLE].ref]
            headings = [str(cell.value) for cell in rows[0]]
            found = (
                {heading: plain(cell.value) for heading, cell in zip(headings, row, strict=True)}
                for row in rows[1:]
            )
            return tuple(drive for drive in found if any(value not in (None, "") for value in drive.values()))
    raise InputError("workbook", f"without the table {names.TABLE}", "a workbook made from the template")


def _named(book: Workbook, name: str) -> CellValue:
    defined = book.defined_names.get(name)
    if defined is None:
        raise InputError("workbook", f"without the name {name}", "a workbook made from the template")
    sheet, (column, row, _, _) = names.place(book, name, "workbook")
    return plain(sheet.cell(row, column).value)


def plain(value: object) -> CellValue:
    """A cell value as a number, a text, or nothing."""
    if value is None or isinstance(value, str):
        return value
    return float(value) if isinstance(value, int | float) else str(value)
