"""The hidden sheet of a submittal: how its pages were made, and everything the workbook held."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Final

from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.core.errors import InputError
from xlcalc.recalc.reader import read_book
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.workbooks.pages.submittal_digest import BookRecord, DigestLine, Part

CELLS: Final = "record_cells"
MADE: Final = "made"
_TEXT: Final = "'"


@dataclass(frozen=True)
class Made:
    """How the pages were made; made so again from the same workbook, they are the same.

    Parameters
    ----------
    workbook : str
        Name of the file.
    paper : str
        ``a4`` or ``letter``.
    proof : bool
        Whether a copy of the workbook was calculated to prove its results.
    version : str
        Of this package.
    """

    workbook: str
    paper: str
    proof: bool
    version: str


def write_cells(sheet: Worksheet, made: Made, record: BookRecord) -> None:
    """Fill the sheet; nobody reads it, so it is hidden."""
    sheet.sheet_state = "veryHidden"
    for name, value in vars(made).items():
        sheet.append([_TEXT + json.dumps([MADE, name, value])])
    for line in record.lines:
        sheet.append([_TEXT + json.dumps([line.part.value, line.sheet, line.cell, line.text])])


def read_cells(pages: WorkbookPackage) -> tuple[Made, BookRecord]:
    """How the pages of a submittal were made, and the record that they carry.

    Raises
    ------
    InputError
        There is no record, or it is not whole.
    """
    name = pages.path.name
    if all(sheet.name != CELLS for sheet in pages.sheets):
        raise InputError("--check", name, "a workbook that xlcalc submittal wrote, or a digest of 64 digits")
    try:
        rows = [json.loads(text) for text in _texts(pages)]
        given = {str(name): value for name, value in (row[1:] for row in rows if row[0] == MADE)}
        lines = tuple(
            DigestLine(str(sheet), str(cell), Part(part), str(text))
            for part, sheet, cell, text in (row for row in rows if row[0] != MADE)
        )
        workbook, paper, version = (str(given[name]) for name in ("workbook", "paper", "version"))
        return Made(workbook, paper, given["proof"] is True, version), BookRecord(lines)
    except (ValueError, LookupError, TypeError, RecursionError):
        valid = "a submittal whose record is whole; this one was altered, or made by an earlier version"
        raise InputError("--check", name, valid, wrong_kind=True) from None


def _texts(pages: WorkbookPackage) -> list[str]:
    content = read_book(pages, plain=True)
    cells = next(sheet for sheet in content.sheets if sheet.name == CELLS).filled()
    return [str(value).removeprefix(_TEXT) for _, column, value in cells.constants if column == 1]
