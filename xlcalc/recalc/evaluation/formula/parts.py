"""Pieces of a rewritten formula, and the areas it refers to, both free of any one cell's position."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from xlcalc.recalc.cellnames import MAX_COL, MAX_ROW, CellRange, area_name, column_letters
from xlcalc.recalc.evaluation.feeding.keptranges import KeptRanges
from xlcalc.recalc.evaluation.formula.pattern import cell_position
from xlcalc.recalc.evaluation.internal import HEAD

Corner = int | tuple[int, int]
"""A slot of the pattern, or a fixed row and column; row 0 stands for the formula's own row."""


@dataclass(frozen=True, slots=True)
class FormulaPlace:
    """Where a formula stands, and the text in it that identifies the formula to callbacks."""

    row: int
    col: int
    caller: str


@dataclass(frozen=True, slots=True)
class AreaPattern:
    """Cells that a formula refers to; as many rows and columns as `shape` has, where that is given."""

    sheet: str
    first: Corner
    last: Corner
    shape: AreaPattern | None = None

    def at(self, cells: Sequence[str], row: int) -> CellRange:
        top, left = _position(self.first, cells, row)
        bottom, right = _position(self.last, cells, row)
        top, left, bottom, right = min(top, bottom), min(left, right), max(top, bottom), max(left, right)
        if self.shape is not None:
            like = self.shape.at(cells, row)
            bottom, right = min(top + like.rows - 1, MAX_ROW), min(left + like.cols - 1, MAX_COL)
        return CellRange(top, left, bottom, right)

    def stiff(self, cells: Sequence[str]) -> bool:
        """Whether both corners move together when the formula is filled down."""
        corners = [
            cells[c].rpartition("$")[2].isdigit() for c in (self.first, self.last) if isinstance(c, int)
        ]
        return len(set(corners)) < 2


@dataclass(frozen=True, slots=True)
class Slot:
    """A cell address copied from the formula."""

    index: int


@dataclass(frozen=True, slots=True)
class Span:
    """Two cell addresses with a colon, in the order of rows and columns that the engine needs."""

    first: int
    last: int

    def at(self, cells: Sequence[str]) -> str:
        first, last = cells[self.first], cells[self.last]
        (top, left), (bottom, right) = cell_position(first), cell_position(last)
        if top <= bottom and left <= right:
            return f"{first}:{last}"
        rows, columns = sorted((top, bottom)), sorted((left, right))
        return f"{column_letters(columns[0])}{rows[0]}:{column_letters(columns[1])}{rows[1]}"


@dataclass(frozen=True, slots=True)
class Kept:
    """Cells that are looked up in: kept for all formulas where their addresses do not move.

    A range that grows from row to row, such as ``$A$2:A7``, is the head of its column, which is kept.
    """

    sheet: str
    prefix: str
    sheet_prefix: str
    span: Span
    ranges: KeptRanges

    def fixed(self, cells: Sequence[str]) -> bool:
        return all(cells[slot].count("$") == 2 for slot in (self.span.first, self.span.last))

    def around(self, cells: Sequence[str]) -> tuple[str, str]:
        """What stands before and behind the addresses of cells that move."""
        first, last = cells[self.span.first], cells[self.span.last]
        row, column = cell_position(first)
        if first.count("$") != 2 or "$" in last[1:] or cell_position(last)[1] != column:
            return self.prefix, ""
        bottom = self.ranges.columns.last_row(self.sheet, column, row)
        if bottom is None:
            return self.prefix, ""
        area = CellRange(row, column, bottom, column)
        return f"{HEAD}({self.ranges.cell(self.sheet_prefix + area.name, area)},ROWS({self.prefix}", "))"

    def at(self, cells: Sequence[str]) -> str:
        text = self.span.at(cells)
        if not self.fixed(cells):
            before, behind = self.around(cells)
            return before + text + behind
        first, last = cell_position(cells[self.span.first]), cell_position(cells[self.span.last])
        rows, columns = sorted((first[0], last[0])), sorted((first[1], last[1]))
        area = CellRange(rows[0], columns[0], rows[1], columns[1])
        return self.ranges.cell(self.sheet_prefix + area.name, area)


@dataclass(frozen=True, slots=True)
class Identity:
    """The identity of the calling formula, so that callbacks can name the cell."""


@dataclass(frozen=True, slots=True)
class OwnRow:
    """Columns of the formula's own row, an error outside the rows of the table."""

    prefix: str
    first_col: int
    last_col: int
    first_row: int
    last_row: int

    def at(self, place: FormulaPlace) -> str:
        if not self.first_row <= place.row <= self.last_row:
            return "#VALUE!"
        first = f"{self.prefix}{column_letters(self.first_col)}{place.row}"
        return (
            first
            if self.first_col == self.last_col
            else f"{first}:{column_letters(self.last_col)}{place.row}"
        )


@dataclass(frozen=True, slots=True)
class Crossing:
    """The one cell of a row or column of cells that lies level with the formula (implicit intersection)."""

    prefix: str
    area: AreaPattern

    def at(self, place: FormulaPlace, cells: Sequence[str]) -> str:
        area = self.area.at(cells, place.row)
        row = place.row if area.rows > 1 else area.first_row
        col = place.col if area.cols > 1 else area.first_col
        if (area.rows > 1 and area.cols > 1) or not area.contains(row, col):
            return "#VALUE!"
        return f"{self.prefix}{column_letters(col)}{row}"


@dataclass(frozen=True, slots=True)
class Sized:
    """Cells from the first one of a range on, as many as another range has."""

    plain: tuple[str | Slot | Span | Kept | OwnRow, ...]
    prefix: str
    area: AreaPattern

    def same(self, cells: Sequence[str], row: int) -> bool:
        """Whether the range has the size already."""
        wanted, given = self.area.at(cells, row), replace(self.area, shape=None).at(cells, row)
        return (wanted.rows, wanted.cols) == (given.rows, given.cols)

    def stays(self, cells: Sequence[str]) -> bool:
        """Whether neither range changes its size when the formula is filled down."""
        return all(pattern is not None and pattern.stiff(cells) for pattern in (self.area, self.area.shape))

    def at(self, place: FormulaPlace, cells: Sequence[str]) -> str:
        if self.same(cells, place.row):
            return Compiled(self.plain).render(cells, place)
        return self.prefix + area_name(self.area.at(cells, place.row))


Part = str | Slot | Span | Kept | Identity | OwnRow | Crossing | Sized


@dataclass(frozen=True, slots=True)
class OwnCall:
    """A call of one of our functions: the cells that stand for each argument, None where it is computed."""

    name: str
    arguments: tuple[AreaPattern | None, ...] = ()


@dataclass(frozen=True)
class Compiled:
    """A formula rewritten for the engine, valid for every cell with the same pattern.

    Parameters
    ----------
    areas, bases : tuple of AreaPattern
        Cells that it uses, and cells that it only measures from.
    anchors : tuple of AreaPattern
        Cells of which it uses the whole array (``A1#``).
    moving : bool
        It can use cells that its text does not name.
    tracked : bool
        Those cells are noted when it is evaluated.
    """

    parts: tuple[Part, ...]
    areas: tuple[AreaPattern, ...] = ()
    bases: tuple[AreaPattern, ...] = ()
    moving: bool = False
    tracked: bool = True
    volatile: bool = False
    own_calls: tuple[OwnCall, ...] = ()
    anchors: tuple[AreaPattern, ...] = ()
    refusal: str = ""
    unknown_function: bool = False

    def render(self, cells: Sequence[str], place: FormulaPlace) -> str:
        """Text for the engine, without equals sign."""
        out: list[str] = []
        for part in self.parts:
            if isinstance(part, str):
                out.append(part)
            elif isinstance(part, Slot):
                out.append(cells[part.index])
            elif isinstance(part, Span | Kept):
                out.append(part.at(cells))
            elif isinstance(part, Identity):
                out.append(place.caller)
            elif isinstance(part, OwnRow):
                out.append(part.at(place))
            else:
                out.append(part.at(place, cells))
        return "".join(out)


def joined(parts: Sequence[Part]) -> tuple[Part, ...]:
    """The same parts with neighbouring texts put together."""
    merged: list[Part] = []
    for part in parts:
        if isinstance(part, str) and merged and isinstance(merged[-1], str):
            merged[-1] += part
        else:
            merged.append(part)
    return tuple(merged)


def _position(corner: Corner, cells: Sequence[str], row: int) -> tuple[int, int]:
    if isinstance(corner, int):
        return cell_position(cells[corner])
    return corner[0] or row, corner[1]
