"""Columns that do not depend on what refers to them: growing ranges are taken as parts of one range."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from xlcalc.recalc.cellnames import MAX_COL, column_number
from xlcalc.recalc.evaluation.content import ArrayMark, SheetContent
from xlcalc.recalc.evaluation.formula.pattern import shift
from xlcalc.recalc.xlsx.plaincells import attributes, plain_text

Column = tuple[str, int]
"""Sheet and column."""

_CELL = re.compile(rb'<c r="([A-Z]{1,3})([1-9][0-9]{0,6})"[^<>]*>\s*+(?:<f([\s][^<>]*?)?(/>|>([^<]*)</f>))?')
_ROW_NUMBER = re.compile(r"(\$?\b[A-Z]{1,3}\$?)\d+(?![\w!'.(])")
_TEXT = re.compile(r'"[^"]*"')
_REFERENCE = re.compile(
    r"(?:('(?:[^']|'')+'|\b[A-Za-z_][\w.]*)!)?"
    r"\$?\b([A-Z]{1,3})(?:\$?\d+(?::\$?([A-Z]{1,3})\$?\d+)?|:\$?([A-Z]{1,3}))(?![\w(!.])"
)
_WORD = re.compile(r"[A-Za-z_\\][\w.]*(\(?)")
_MOVING = re.compile(r"\b(OFFSET|INDIRECT)\(", re.IGNORECASE)
_WIDEST = 64


class SettledColumns:
    """What stands in the columns of the sheets; a sheet is looked through when it is asked for."""

    def __init__(self, sheets: Sequence[SheetContent]) -> None:
        self._sheets = {sheet.name: sheet for sheet in sheets}
        self._known: dict[str, _Sheet] = {}
        self._settled: dict[Column, bool] = {}

    def last_row(self, sheet: str, column: int, first_row: int) -> int | None:
        """Last row in use of a column; None where its formulas may depend on what refers to them."""
        last = self._sheet(sheet).last.get(column, 0)
        if last < first_row:
            return None
        if (sheet, column) not in self._settled:
            self._settled[sheet, column] = self._is_settled((sheet, column))
        return last if self._settled[sheet, column] else None

    def _sheet(self, name: str) -> _Sheet:
        if name not in self._known:
            self._known[name] = _Sheet(self._sheets[name])
        return self._known[name]

    def _is_settled(self, start: Column) -> bool:
        """Whether no way over what the formulas of columns refer to leads back."""
        seen: set[Column] = set()
        waiting = [start]
        while waiting:
            sheet, column = waiting.pop()
            used = self._sheet(sheet).refers_to(column) if sheet in self._sheets else None
            if used is None or start in used:
                return False
            new = used - seen
            seen |= new
            waiting += new
        return True


class _Sheet:
    """The columns of one sheet: the last row in use, the formulas, and those that arrays may fill."""

    def __init__(self, content: SheetContent) -> None:
        self._name = content.name
        self.last: dict[int, int] = {}
        self._formulas: dict[int, dict[str, str]] = {}
        self._filled: set[int] = set()
        self._grows = MAX_COL
        if content.plain is not None:
            for row, column, text in _plain_cells(content.plain.data):
                self._note(row, column, text)
            return
        for row, column, _ in content.constants:
            self._note(row, column, None)
        for cell in content.formulas:
            self._note(cell.row, cell.col, cell.text)
            if cell.mark is ArrayMark.DYNAMIC:
                self._grows = min(self._grows, cell.col)
            if cell.area is not None:
                self._filled.update(range(cell.area.first_col, cell.area.last_col + 1))

    def _note(self, row: int, column: int, text: str | None) -> None:
        self.last[column] = max(self.last.get(column, 0), row)
        if text is not None:
            self._formulas.setdefault(column, {}).setdefault(_ROW_NUMBER.sub(r"\1", text), text)

    def refers_to(self, column: int) -> set[Column] | None:
        """Columns that the formulas of a column refer to; None where that is unknown."""
        if column in self._filled or column >= self._grows:
            return None
        found: set[Column] = set()
        for text in self._formulas.get(column, {}).values():
            columns = _columns_in(text, self._name)
            if columns is None:
                return None
            found |= columns
        return found


def _columns_in(text: str, sheet: str) -> set[Column] | None:
    plain = _TEXT.sub('""', text)
    if _MOVING.search(plain) or any(sign in plain for sign in "[]#{}"):
        return None
    found: set[Column] = set()
    for named, first, last, whole in _REFERENCE.findall(plain):
        left, right = sorted((column_number(first), column_number(last or whole or first)))
        if not left or right - left > _WIDEST:
            return None
        where = named.strip("'").replace("''", "'") if named else sheet
        found.update((where, column) for column in range(left, right + 1))
    rest = _REFERENCE.sub("", plain)
    words = (match for match in _WORD.finditer(rest) if not match[1])
    return found if all(match[0].upper() in ("TRUE", "FALSE") for match in words) else None


def _plain_cells(data: bytes) -> Iterator[tuple[int, int, str | None]]:
    """Row, column and formula of the cells of a plainly written sheet."""
    shared: dict[str, tuple[int, int, str]] = {}
    columns: dict[bytes, int] = {}
    for letters, digits, marks, end, text in _CELL.findall(data):
        column = columns.get(letters) or columns.setdefault(letters, column_number(letters.decode()))
        row = int(digits)
        if not end:
            yield row, column, None
            continue
        formula = plain_text(text.decode())
        if b"shared" in marks:
            index = attributes(marks.decode()).get("si", "")
            if formula:
                shared[index] = (row, column, formula)
            elif index in shared:
                first_row, first_column, first = shared[index]
                formula = shift(first, row - first_row, column - first_column)
        yield row, column, formula
