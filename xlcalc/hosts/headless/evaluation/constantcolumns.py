"""Columns of constants, in which ranges that grow from row to row can be taken as parts of one range."""

from __future__ import annotations

import re
from collections.abc import Sequence

from xlcalc.hosts.headless.cellnames import MAX_ROW, column_number
from xlcalc.hosts.headless.evaluation.content import ArrayMark, SheetContent

_CELL = re.compile(rb'<c r="([A-Z]{1,3})([1-9][0-9]{0,6})"[^<>]*>\s*+(<f[\s/>])?')


class ConstantColumns:
    """What stands in the columns of the sheets; a sheet is looked through when it is asked for."""

    def __init__(self, sheets: Sequence[SheetContent]) -> None:
        self._sheets = {sheet.name: sheet for sheet in sheets}
        self._known: dict[str, dict[int, tuple[int, int]]] = {}

    def last_row(self, sheet: str, column: int, first_row: int) -> int | None:
        """Last row in use of a column, None where a formula stands in it from `first_row` on."""
        if sheet not in self._known:
            self._known[sheet] = _columns(self._sheets[sheet])
        last, formula = self._known[sheet].get(column, (0, 0))
        return None if formula >= first_row or last < first_row else last


def _columns(sheet: SheetContent) -> dict[int, tuple[int, int]]:
    """Last row in use and last row with a formula by column; nothing where an array may grow."""
    found: dict[int, tuple[int, int]] = {}

    def note(row: int, column: int, *, formula: bool) -> None:
        last, known = found.get(column, (0, 0))
        found[column] = max(last, row), max(known, row if formula else 0)

    if sheet.plain is not None:
        for letters, digits, formula in _CELL.findall(sheet.plain.data):
            note(int(digits), column_number(letters.decode()), formula=bool(formula))
        return found
    for row, column, _ in sheet.constants:
        note(row, column, formula=False)
    for cell in sheet.formulas:
        columns = [cell.col]
        last = cell.row
        if cell.area is not None:
            columns = list(range(cell.area.first_col, cell.area.last_col + 1))
            last = cell.area.last_row
        if cell.mark is ArrayMark.DYNAMIC:
            columns = [*columns, *(column for column in found if column > cell.col)]
            last = max(last, MAX_ROW)
        for column in columns:
            note(last, column, formula=True)
    return found
