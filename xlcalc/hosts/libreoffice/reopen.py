"""Plain function names in an opened workbook; runs inside LibreOffice's Python once a document is loaded.

The import of an .xlsx file knows only built-in functions: HD_THD(...) arrives as an unknown name. Entering
such a formula again resolves it, because the formula language of the program knows the add-in. A sheet
protected without a password is opened for that moment. With a password only its single formulas can be
entered again; its array formulas stay unknown, and the sheet is named to the user.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, TypeVar

SPREADSHEET = "com.sun.star.sheet.SpreadsheetDocument"
FORMULA_CELLS = 16

Result = TypeVar("Result")

_QUOTED = re.compile(r"""("(?:[^"]|"")*"|'(?:[^']|'')*')""")


@dataclass(frozen=True)
class Resolved:
    """Number of cells and arrays entered, and the sheets whose array formulas a password keeps unknown."""

    count: int = 0
    locked: tuple[str, ...] = ()


class Names:
    """Finds calls of our functions that stand under a plain or prefixed name."""

    def __init__(self, functions: Iterable[str]) -> None:
        names = "|".join(sorted(map(re.escape, functions), key=len, reverse=True))
        self._call = re.compile(rf"(?<![\w.$])(?:_xl(?:fn|udf|l)\.)*({names})(?=\s*\()", re.IGNORECASE)

    def resolved(self, formula: str) -> str | None:
        """The formula with plain names in capitals, None where it has no unresolved call.

        Examples
        --------
        >>> Names(["HD_THD"]).resolved('=_xludf.hd_thd(A1)&"hd_thd(1)"')
        '=HD_THD(A1)&"hd_thd(1)"'
        """
        parts = _QUOTED.split(formula)
        parts[::2] = [self._call.sub(lambda call: call[1].upper(), part) for part in parts[::2]]
        found = any(self._call.search(part) for part in parts[::2])
        return "".join(parts) if found else None


def resolve_names(document: Any, functions: Iterable[str]) -> Resolved:
    """Enter again every formula with an unresolved call."""
    if document is None or not document.supportsService(SPREADSHEET):
        return Resolved()
    names = Names(functions)
    modified = document.isModified()
    document.lockControllers()
    document.addActionLock()
    try:
        sheets = [document.Sheets.getByIndex(n) for n in range(document.Sheets.Count)]
        done = {sheet.Name: _resolve_sheet(sheet, names) for sheet in sheets}
    finally:
        document.removeActionLock()
        document.unlockControllers()
    count = sum(entered for entered, _ in done.values())
    if count:
        document.getUndoManager().clear()
        if not modified:
            mark_unchanged(document)
    return Resolved(count, tuple(name for name, (_, left) in done.items() if left))


def mark_unchanged(document: Any) -> None:
    """Nothing to save; a chart that drew new values counts as a change of the document otherwise."""
    for number in range(document.Sheets.Count):
        charts = document.Sheets.getByIndex(number).Charts
        for position in range(charts.Count):
            charts.getByIndex(position).EmbeddedObject.setModified(False)
    document.setModified(False)


def _resolve_sheet(sheet: Any, names: Names) -> tuple[int, int]:
    pending = [
        (area.StartColumn + column, area.StartRow + row, text)
        for area, formulas in _formula_areas(sheet)
        for row, line in enumerate(formulas)
        for column, text in enumerate(line)
        if names.resolved(text) is not None
    ]
    return with_open_sheet(sheet, lambda: _enter(sheet, pending, names)) if pending else (0, 0)


def with_open_sheet(sheet: Any, work: Callable[[], Result]) -> Result:
    """Do something on a sheet that is protected without a password as if it were not protected."""
    protected = sheet.isProtected()
    if protected:
        try:
            sheet.unprotect("")
        except Exception:  # IllegalArgumentException of the program: there is a password
            protected = False
    try:
        return work()
    finally:
        if protected and not sheet.isProtected():
            sheet.protect("")


def _enter(sheet: Any, pending: list[tuple[int, int, str]], names: Names) -> tuple[int, int]:
    done: set[tuple[int, int]] = set()
    count = left = 0
    for column, row, text in pending:
        if (column, row) in done:
            continue
        cell = sheet.getCellByPosition(column, row)
        if text.startswith("{"):
            array = array_around(sheet, cell)
            area = array.getRangeAddress()
            done |= {
                (c, r)
                for c in range(area.StartColumn, area.EndColumn + 1)
                for r in range(area.StartRow, area.EndRow + 1)
            }
            array.setArrayFormula(names.resolved(text.strip("{}")) or "")
            left += names.resolved(cell.getFormula()) is not None
        else:
            cell.setFormula(names.resolved(text) or "")
        count += 1
    return count - left, left


def array_around(sheet: Any, cell: Any) -> Any:
    """Cells of the array formula that a cell belongs to."""
    array = sheet.createCursorByRange(cell)
    array.collapseToCurrentArray()
    return array


def _formula_areas(sheet: Any) -> list[tuple[Any, Any]]:
    ranges = sheet.queryContentCells(FORMULA_CELLS)
    found = (ranges.getByIndex(n) for n in range(ranges.Count))
    return [(area.getRangeAddress(), area.getFormulaArray()) for area in found]
