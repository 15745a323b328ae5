"""Reading the values of worksheets."""

from __future__ import annotations

import datetime
import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from openpyxl import load_workbook

from xlcalc.bulk.numerals import Numeral
from xlcalc.bulk.rawtable import RawCell, RawTable
from xlcalc.errors import InputError
from xlcalc.hosts.headless.package import WorkbookPackage


def read_xlsx_tables(path: Path, sheet: str | None = None) -> tuple[RawTable, ...]:
    """All visible worksheets of a workbook, or the one named.

    Raises
    ------
    WorkbookFileError
        The file is no sound workbook.
    InputError
        No such sheet, or a formula without a value.
    """
    package = WorkbookPackage.open(path)
    chosen = [
        s for s in package.sheets if s.entry.kind == "worksheet" and _wanted(s.name, s.entry.state, sheet)
    ]
    if not chosen:
        raise InputError("--sheet", sheet, "one of " + ", ".join(s.name for s in package.sheets))
    for part in chosen:
        for cell in part.formulas:
            if not cell.text and cell.type != "str":
                raise InputError(
                    f"cell {cell.name} of sheet {part.name} in {path.name}",
                    "a formula without a value",
                    "a workbook that was calculated and saved; run xlcalc recalc on it first",
                )
    book = load_workbook(io.BytesIO(package.content), read_only=True, data_only=True)
    tables = []
    for part in chosen:
        worksheet = book[part.name]
        worksheet.reset_dimensions()
        rows = [[_cell(cell) for cell in row] for row in worksheet.iter_rows()]
        tables.append(RawTable(f"{path.name}, sheet {part.name}", rows, False))
    return tuple(tables)


def read_named_ranges(path: Path, names: Sequence[str]) -> dict[str, RawTable]:
    """Rows of the ranges that a workbook has under given names; names that it lacks are left out.

    Raises
    ------
    InputError, WorkbookFileError
        As `read_xlsx_tables`.
    """
    package = WorkbookPackage.open(path)
    book = load_workbook(io.BytesIO(package.content), data_only=True)
    found = {}
    for name in names:
        places = list(book.defined_names[name].destinations) if name in book.defined_names else []
        if len(places) == 1:
            sheet, area = places[0]
            rows = [[_cell(cell) for cell in row] for row in book[sheet][area.replace("$", "")]]
            found[name] = RawTable(f"{path.name}, range {name}", rows, False)
    return found


def _wanted(name: str, state: str, sheet: str | None) -> bool:
    return state == "visible" if sheet is None else name.casefold() == sheet.casefold()


def _cell(cell: Any) -> RawCell:
    value = cell.value
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, int | float):
        return Numeral(100.0 * value, "%") if "%" in (cell.number_format or "") else float(value)
    if isinstance(value, datetime.datetime | datetime.date | datetime.time):
        return value.isoformat()
    return str(value)
