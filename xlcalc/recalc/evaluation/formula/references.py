"""Kinds of references in a formula: cells, whole columns, tables, names, other files."""

from __future__ import annotations

import re
import string
from collections.abc import Mapping
from dataclasses import dataclass

from xlcalc.recalc.cellnames import MAX_COL, MAX_ROW, column_letters, column_number
from xlcalc.recalc.evaluation.content import BookContent
from xlcalc.recalc.evaluation.formula.parts import AreaPattern, OwnRow, Part, Slot, Span
from xlcalc.recalc.evaluation.formula.pattern import SLOT, cell_position, split_pattern
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.structured import DeclaredTable, parse_structured, resolve

_SHEET = re.compile(r"(?:'((?:[^']|'')*)'|([^'!\[\]]*(?:\[[^\]]*\])?[^'!\[\]]*))!")
_COLUMNS = re.compile(r"\$?([A-Za-z]{1,3}):\$?([A-Za-z]{1,3})\Z")
_ROWS = re.compile(r"\$?([1-9]\d{0,6}):\$?([1-9]\d{0,6})\Z")


_FIXED = re.compile(rf"(?:{_SHEET.pattern})?\$[A-Z]{{1,3}}\$\d+(?::\$[A-Z]{{1,3}}\$\d+)?\Z")
_MOST_RESOLVED = 4096


@dataclass(frozen=True)
class Area:
    """Cells: the text for the engine, the cells themselves, and whether there can be more than one."""

    parts: tuple[Part, ...]
    prefix: str
    pattern: AreaPattern
    several: bool


@dataclass(frozen=True)
class Name:
    """A defined name and its text."""

    name: str
    text: str


@dataclass(frozen=True)
class Constant:
    """A reference that stands for an error value, such as a deleted cell."""

    text: str


@dataclass(frozen=True)
class Cube:
    """The same cells of several sheets."""

    sheets: tuple[str, ...]
    cells: str


Resolved = Area | Name | Constant | Cube


def sheet_prefix(sheet: str) -> str:
    """A sheet name as it stands before a cell."""
    return "'" + sheet.replace("'", "''") + "'!"


class References:
    """Resolves the references of one workbook."""

    def __init__(self, book: BookContent) -> None:
        self._sheets = {sheet.name.casefold(): sheet.name for sheet in book.sheets}
        self._names = book.names
        self._tables: Mapping[str, DeclaredTable] = book.tables
        self._moving = _moving_names(book.names)
        self._resolved: dict[tuple[str, str, int | None, tuple[int, int] | None], Resolved] = {}

    def sheet(self, name: str) -> str | None:
        """The sheet's own spelling."""
        return self._sheets.get(name.casefold())

    def resolve(self, text: str, sheet: str, first_slot: int | None, place: tuple[int, int]) -> Resolved:
        """What the text stands for on a sheet.

        Parameters
        ----------
        text : str
            The reference as written.
        sheet : str
            Sheet of the formula.
        first_slot : int or None
            Slot of the first cell address in the text; None for text with fixed addresses (a defined name).
        place : (row, column)
            Of a formula with this pattern; for ``[@column]``, and for names with relative references.

        Raises
        ------
        Refusal
            Where the text cannot be resolved for certain.
        """
        anywhere = first_slot is None and _FIXED.match(text) is not None
        key = (text, sheet, first_slot, None if anywhere else place)
        known = self._resolved.get(key)
        if known is None:
            known = self._looked_up(text, sheet, first_slot, place)
            if len(self._resolved) >= _MOST_RESOLVED:
                self._resolved.clear()
            self._resolved[key] = known
        return known

    def _looked_up(self, text: str, sheet: str, first_slot: int | None, place: tuple[int, int]) -> Resolved:
        if text.startswith("[0]!"):
            return self._name(text[4:], "", sheet, text)
        match = _SHEET.match(text)
        target, rest = sheet, text
        if first_slot is None and text.startswith("!"):
            match, rest = None, text[1:]
        if match:
            cube = self._cube(match, text)
            if cube is not None:
                return cube
            target, rest = self._qualified(match, text), text[match.end() :]
        if rest.upper().startswith("#REF!"):
            return Constant("#REF!")
        prefix = sheet_prefix(target) if match else ""
        area = self._cells(rest, target, prefix, first_slot, place)
        if area is not None:
            return area
        if "[" in rest:
            if rest.startswith("[") and re.match(r"\[\d+\]", rest):
                raise Refusal(f"{text} lies in another file")
            return self._structured(rest, sheet, place)
        return self._name(rest, target if match else sheet, sheet, text)

    def _cube(self, match: re.Match[str], text: str) -> Cube | None:
        """A reference to the sheets from one to another."""
        written = match[1].replace("''", "'") if match[1] is not None else match[2]
        first, mark, last = written.partition(":")
        if not mark or self.sheet(written) is not None or "[" in written:
            return None
        ends = [self.sheet(name) for name in (first, last)]
        if match[1] is None and split_pattern(written)[1]:
            raise Refusal(f"{text}: a sheet name that looks like a cell has to stand in quotation marks")
        order = list(self._sheets.values())
        places = [order.index(name) for name in ends if name is not None]
        if len(places) < 2:
            raise Refusal(f"the workbook has no worksheets from {first!r} to {last!r}")
        return Cube(tuple(order[min(places) : max(places) + 1]), text[match.end() :])

    def _qualified(self, match: re.Match[str], text: str) -> str:
        written = match[1].replace("''", "'") if match[1] is not None else match[2]
        known = self.sheet(written)
        if known is not None:
            return known
        if "[" in written or written.lower().endswith((".xlsx", ".xlsm", ".xlam", ".xlsb", ".xls")):
            raise Refusal(f"{text} lies in another file")
        raise Refusal(f"the workbook has no worksheet {written!r}")

    def moves(self, text: str) -> bool:
        """Whether a text uses a name whose cells lie relative to the cell that uses it."""
        return self._moving is not None and self._moving.search(text) is not None

    def _cells(
        self, rest: str, sheet: str, prefix: str, first_slot: int | None, place: tuple[int, int]
    ) -> Area | None:
        key, cells = split_pattern(rest)
        if key in (SLOT, f"{SLOT}:{SLOT}"):
            several = len(cells) == 2
            if first_slot is None:
                return _fixed([_seen_from(place, cell) for cell in cells], sheet, prefix)
            part: Part = Span(first_slot, first_slot + 1) if several else Slot(first_slot)
            pattern = AreaPattern(sheet, first_slot, first_slot + len(cells) - 1)
            return Area((prefix, part), prefix, pattern, several)
        whole = whole_lines(rest, sheet)
        if whole is None:
            return None
        if first_slot is None and rest.count("$") != 2:
            raise Refusal("a defined name with a relative reference")
        return Area((prefix + rest,), prefix, whole, True)

    def _structured(self, text: str, sheet: str, place: tuple[int, int]) -> Resolved:
        reference = parse_structured(text)
        if reference.table:
            table = self._tables.get(reference.table.casefold())
            if table is None:
                raise Refusal(f"the workbook has no table {reference.table!r}")
        else:
            table = self.table_at(sheet, *place)
            if table is None:
                raise Refusal("a column of a table without the table's name, outside any table")
        part = resolve(reference, table)
        if part.area is None:
            return Constant("#REF!")
        prefix = "" if table.sheet == sheet else sheet_prefix(table.sheet)
        area = part.area
        if part.own_row:
            own = OwnRow(prefix, area.first_col, area.last_col, area.first_row, area.last_row)
            pattern = AreaPattern(table.sheet, (0, area.first_col), (0, area.last_col))
            return Area((own,), prefix, pattern, area.cols > 1)
        pattern = AreaPattern(table.sheet, area[:2], area[2:])
        return Area((prefix + area.name,), prefix, pattern, area.area > 1)

    def table_at(self, sheet: str, row: int, col: int) -> DeclaredTable | None:
        """The table around a cell."""
        for table in self._tables.values():
            if table.sheet == sheet and table.area.contains(row, col):
                return table
        return None

    def _name(self, name: str, scope: str, sheet: str, text: str) -> Resolved:
        folded = name.casefold()
        definition = self._names.get((scope, folded), self._names.get(("", folded)))
        if definition is not None:
            return Name(name, definition)
        table = self._tables.get(folded)
        if table is not None:
            return self._structured(f"{table.name}[]", sheet, (0, 0))
        raise Refusal(f"the workbook has no name {text!r}")


def _seen_from(place: tuple[int, int], cell: str) -> str:
    """An address of a defined name, which the file writes as for cell A1, as another cell sees it.

    Beyond the last row or column it goes on from the first one (ECMA-376 Part 1, 18.2.5).
    """
    row, col = cell_position(cell)
    letters, digits = cell.rstrip("0123456789$"), cell.lstrip("$").lstrip(string.ascii_letters)
    if not letters.startswith("$"):
        col = (col + place[1] - 2) % MAX_COL + 1
    if not digits.startswith("$"):
        row = (row + place[0] - 2) % MAX_ROW + 1
    return f"${column_letters(col)}${row}"


def _moving_names(names: Mapping[tuple[str, str], str]) -> re.Pattern[str] | None:
    """A pattern for the names with relative references, and those that use such a name."""
    found = {
        name for (_, name), text in names.items() if any(c.count("$") != 2 for c in split_pattern(text)[1])
    }
    if not found:
        return None
    while True:
        listed = "|".join(map(re.escape, sorted(found)))
        pattern = re.compile(rf"(?<![\w.\\])(?:{listed})(?![\w.\\(])", re.IGNORECASE)
        more = {name for (_, name), text in names.items() if pattern.search(text)} - found
        if not more:
            return pattern
        found |= more


def _fixed(cells: list[str], sheet: str, prefix: str) -> Area:
    """Cells of a defined name."""
    text = Span(0, 1).at(cells) if len(cells) == 2 else cells[0]
    first, last = cell_position(cells[0]), cell_position(cells[-1])
    return Area((prefix + text,), prefix, AreaPattern(sheet, first, last), first != last)


def whole_lines(text: str, sheet: str) -> AreaPattern | None:
    """Whole columns such as B:D or rows such as 1:9; None for any other text."""
    columns = _COLUMNS.match(text)
    if columns:
        first, last = column_number(columns[1]), column_number(columns[2])
        return AreaPattern(sheet, (1, first), (MAX_ROW, last)) if first and last else None
    rows = _ROWS.match(text)
    return AreaPattern(sheet, (int(rows[1]), 1), (int(rows[2]), MAX_COL)) if rows else None
