"""Tables of options from CSV files or the sheets of a workbook, with the name of every cell."""

from __future__ import annotations

from pathlib import Path

from openpyxl.utils import get_column_letter

from xlcalc.bulk.reading.csv_table import read_csv_table
from xlcalc.bulk.reading.numerals import Numeral
from xlcalc.bulk.reading.rawtable import RawCell, RawTable
from xlcalc.bulk.reading.xlsx_table import read_xlsx_tables
from xlcalc.errors import InputError
from xlcalc.mitigation.sheet import Record, Sheet
from xlcalc.plausible import Stated

NAMES = ("options", "prices", "residuals")
SUFFIXES = (".xlsx", ".xlsm")


def read_sheet(path: Path) -> Sheet:
    """The table of a CSV file; raises `InputError` for a file without headings or rows."""
    return _sheet(read_csv_table(path), path.name, None)


def read_sheets(path: Path) -> dict[str, Sheet]:
    """The sheets Options, Prices and Residuals of a workbook, those that there are.

    Raises
    ------
    InputError
        No sheet Options, or a sheet without headings.
    WorkbookFileError
        The file is no sound workbook.
    """
    found = {}
    for table in read_xlsx_tables(path):
        name = table.name.rpartition(", sheet ")[2]
        if name.casefold() in NAMES:
            found[name.casefold()] = _sheet(table, table.name, name)
    if "options" not in found:
        raise InputError("--options", path.name, "a workbook with a sheet Options")
    return found


def _sheet(table: RawTable, name: str, sheet: str | None) -> Sheet:
    rows = [(n, row) for n, row in enumerate(table.rows, start=1) if not all(map(_blank, row))]
    if len(rows) < 2:
        raise InputError(name, "without rows", "a row of headings and one row per entry")
    headings = [str(cell).strip().casefold() if not _blank(cell) else "" for cell in rows[0][1]]
    records = []
    for number, row in rows[1:]:
        cells: dict[str, object] = {}
        for column, cell in enumerate(row):
            if _blank(cell):
                continue
            if column >= len(headings) or not headings[column]:
                place = f"cell {get_column_letter(column + 1)}{number} of {name}"
                raise InputError(place, str(cell), "blank, because its column has no heading")
            cells[headings[column]] = _value(cell)
        places = {
            heading: f"cell {get_column_letter(column)}{number}"
            + (f" of sheet {sheet}" if sheet else f" of {name}")
            for column, heading in enumerate(headings, start=1)
            if heading
        }
        records.append(Record(f"row {number} of {name}", cells, places))
    return Sheet(name, tuple(heading for heading in headings if heading), tuple(records))


def _value(cell: RawCell) -> object:
    if isinstance(cell, Numeral):
        return Stated(cell.value) if cell.unit else cell.value
    return cell


def _blank(cell: RawCell) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())
