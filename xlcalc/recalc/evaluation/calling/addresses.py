"""Addresses that formulas compute: OFFSET, INDIRECT, INDEX in a range, and which cells they met."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from typing import Protocol

import numpy as np
import numpy.typing as npt

from xlcalc.recalc.cellnames import (
    MAX_COL,
    MAX_ROW,
    CellRange,
    area_name,
    column_letters,
    parse_range,
)
from xlcalc.recalc.evaluation.dependents import SheetArea
from xlcalc.recalc.evaluation.engine import Raw, error_from_raw
from xlcalc.recalc.evaluation.feeding.keptranges import KeptRanges
from xlcalc.recalc.evaluation.feeding.prepared import Prepared
from xlcalc.recalc.evaluation.formula.pattern import split_pattern
from xlcalc.recalc.evaluation.formula.references import (
    Area,
    Name,
    References,
    sheet_prefix,
    whole_lines,
)
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.library.arrays import listed
from xlcalc.recalc.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    fail,
    logical,
    number,
    rows_of,
    single,
    whole,
)
from xlcalc.schema.values import ErrorCode, all_numbers

_DEEPEST = 16


class NumberedFormulas(Protocol):
    """Formulas by number."""

    def __getitem__(self, identity: int) -> Prepared: ...


class Addresses:
    """Callbacks that pass addresses as text, and a note of the cells behind them by formula."""

    def __init__(self, references: References, formulas: NumberedFormulas, ranges: KeptRanges) -> None:
        self._references = references
        self._formulas = formulas
        self._ranges = ranges
        self.met: dict[int, list[SheetArea]] = {}

    def callbacks(self) -> dict[str, Callable[..., Raw]]:
        """By name; each takes the number of the formula first."""
        return {
            "_AREA": self.area,
            "_OFFSET": self.offset,
            "_AROUND": self.around,
            "_CELL": self.cell,
            "_SPAN": self.span,
            "_FOUND": self.found,
            "_CROSS": self.cross,
            "_CELLADDRESS": lambda _, text: _absolute(parsed_address(text)[1]),
            "_ADDRESS": self.given,
            "_MEET": self.meet,
            "_ROW": self.row,
            "_COLUMN": self.column,
            "_ROWS": lambda _, text: float(parsed_address(text)[1].rows),
            "_COLUMNS": lambda _, text: float(parsed_address(text)[1].cols),
        }

    def area(self, formula: int, number: Raw) -> Raw:
        """An area that the formula names."""
        item = self._formulas[formula]
        pattern = item.compiled.bases[int(number)]
        return _text(pattern.sheet, pattern.at(split_pattern(item.source.text)[1], item.source.row))

    def offset(
        self, formula: int, base: Raw, rows: Raw, columns: Raw, height: Raw = LEFT_OUT, width: Raw = LEFT_OUT
    ) -> Raw:
        """OFFSET; a height or width that is left out is that of the base."""
        sheet, area = parsed_address(base)
        down, across = whole(rows), whole(columns)
        tall = area.rows if height is LEFT_OUT else whole(height)
        wide = area.cols if width is LEFT_OUT else whole(width)
        if tall == 0 or wide == 0:
            given = (raw for raw in (height, width) if raw is not LEFT_OUT)
            if any(0 < abs(number(raw)) < 1 for raw in given):
                raise Uncertain("OFFSET with a height or width of a part of a row or column")
            fail(ErrorCode.REF)
        top, left = area.first_row + down, area.first_col + across
        rows_, columns_ = sorted((top, top + tall - _sign(tall))), sorted((left, left + wide - _sign(wide)))
        return _text(sheet, CellRange(rows_[0], columns_[0], rows_[1], columns_[1]))

    def around(self, formula: int, base: Raw, *steps: Raw) -> Raw:
        """The smallest area with all cells of OFFSET by arrays of numbers."""
        sheet, area = parsed_address(base)
        top, left, bottom, right = several_areas(area, steps)
        return _text(sheet, CellRange(int(top.min()), int(left.min()), int(bottom.max()), int(right.max())))

    def cell(self, formula: int, base: Raw, row: Raw = None, column: Raw = LEFT_OUT) -> Raw:
        """INDEX of a range, as one end of another range."""
        sheet, area = parsed_address(base)
        down, across = whole(row), whole(column)
        if column is LEFT_OUT and area.rows == 1:
            down, across = 0, down
        if not (0 <= down <= area.rows and 0 <= across <= area.cols):
            fail(ErrorCode.REF)
        top, bottom = (area.first_row, area.last_row) if down == 0 else (area.first_row + down - 1,) * 2
        left, right = (area.first_col, area.last_col) if across == 0 else (area.first_col + across - 1,) * 2
        return _text(sheet, CellRange(top, left, bottom, right))

    def found(self, formula: int, base: Raw, sought_in: Raw, place: Raw) -> Raw:
        """XLOOKUP of a range, as one end of another range."""
        (sheet, area), (_, line) = parsed_address(base), parsed_address(sought_in)
        along = whole(place) - 1
        if line.cols == 1 and line.rows == area.rows:
            row = area.first_row + along
            return _text(sheet, CellRange(row, area.first_col, row, area.last_col))
        if line.rows == 1 and line.cols == area.cols:
            column = area.first_col + along
            return _text(sheet, CellRange(area.first_row, column, area.last_row, column))
        fail(ErrorCode.VALUE)

    def span(self, formula: int, first: Raw, last: Raw) -> Raw:
        """The cells between two areas."""
        (sheet, a), (other, b) = parsed_address(first), parsed_address(last)
        if sheet != other:
            fail(ErrorCode.VALUE)
        top, left = min(a.first_row, b.first_row), min(a.first_col, b.first_col)
        return _text(sheet, CellRange(top, left, max(a.last_row, b.last_row), max(a.last_col, b.last_col)))

    def cross(self, formula: int, first: Raw, last: Raw) -> Raw:
        """The cells that two areas have in common."""
        (sheet, a), (other, b) = parsed_address(first), parsed_address(last)
        top, left = max(a.first_row, b.first_row), max(a.first_col, b.first_col)
        bottom, right = min(a.last_row, b.last_row), min(a.last_col, b.last_col)
        if sheet != other or top > bottom or left > right:
            fail(ErrorCode.NULL)
        return _text(sheet, CellRange(top, left, bottom, right))

    def given(self, formula: int, text: Raw = None, plain: Raw = True) -> Raw:
        """An address that is given as text; refused where it may mean something else.

        Raises
        ------
        Uncertain
            For text that is no address, table or name of fixed cells in this workbook.
        """
        text = single(text)
        if isinstance(text, dict):
            return text
        if not isinstance(text, str):
            fail(ErrorCode.REF)
        item = self._formulas[formula]
        written, mark, cells = text.strip().rpartition("!")
        sheet = self._references.sheet(written.strip("'").replace("''", "'")) if mark else item.sheet
        if not logical(plain):
            numbered = _by_numbers(cells, item.source.row, item.source.col)
            if numbered is None or sheet is None:
                raise Uncertain(f"INDIRECT of {text!r} by row and column numbers")
            return _text(sheet, numbered)
        found = parse_range(cells.replace("$", "")) or _whole(cells)
        if sheet is not None and found is not None:
            return _text(sheet, found)
        if found is not None:
            fail(ErrorCode.REF)
        resolved = self._named(text.strip(), item)
        if resolved is None:
            raise Uncertain(f"INDIRECT of {text!r}, which is not an address")
        return _text(resolved.pattern.sheet, resolved.pattern.at((), item.source.row))

    def _named(self, text: str, item: Prepared) -> Area | None:
        """The cells behind a name or a part of a table."""
        place = (item.source.row, item.source.col)
        for _ in range(_DEEPEST):
            try:
                resolved = self._references.resolve(text, item.sheet, None, place)
            except Refusal:
                return None
            if not isinstance(resolved, Name):
                return resolved if isinstance(resolved, Area) else None
            text = resolved.text
        return None

    def meet(self, formula: int, text: Raw) -> Raw:
        """An address whose cells the formula uses; for an error value a cell that holds it."""
        error = error_from_raw(text)
        if error is not None:
            return self._ranges.error(error.code)
        self.met.setdefault(formula, []).append(parsed_address(text))
        return text

    def row(self, formula: int, text: Raw) -> Raw:
        """Row numbers of an area, one below the other."""
        _, area = parsed_address(text)
        return (
            self._numbers(area.first_row, area.last_row).reshape(-1, 1)
            if area.rows > 1
            else float(area.first_row)
        )

    def column(self, formula: int, text: Raw) -> Raw:
        """Column numbers of an area, side by side."""
        _, area = parsed_address(text)
        return (
            self._numbers(area.first_col, area.last_col).reshape(1, -1)
            if area.cols > 1
            else float(area.first_col)
        )

    @staticmethod
    def _numbers(first: int, last: int) -> npt.NDArray[np.float64]:
        return np.arange(first, last + 1, dtype=np.float64)


def several_areas(base: CellRange, steps: Sequence[Raw]) -> tuple[npt.NDArray[np.int64], ...]:
    """First rows, first columns, last rows and last columns of OFFSET by arrays of numbers.

    Raises
    ------
    Uncertain
        Where a number is none, arrays do not fit together, or cells lie beyond the sheet.
    """
    given = [rows_of(listed(step)) for step in steps]
    if not all(map(all_numbers, given)):
        raise Uncertain("OFFSET by an array with something that is no number")
    sizes: list[Raw] = [[[float(base.rows)]], [[float(base.cols)]]]
    arrays = [np.trunc(np.array(rows, dtype=np.float64)) for rows in [*given, *sizes[len(given) - 2 :]]]
    try:
        rows, columns, tall, wide = np.broadcast_arrays(*arrays)
    except ValueError:
        raise Uncertain("OFFSET by arrays of different sizes") from None
    top, left = base.first_row + rows, base.first_col + columns
    top, bottom = np.minimum(top, top + tall + 1), np.maximum(top, top + tall - 1)
    left, right = np.minimum(left, left + wide + 1), np.maximum(left, left + wide - 1)
    outside = (top < 1) | (left < 1) | (bottom > MAX_ROW) | (right > MAX_COL)
    if (tall == 0).any() or (wide == 0).any() or outside.any():
        raise Uncertain("OFFSET by an array of numbers, some of which give no cells")
    return tuple(array.astype(np.int64) for array in (top, left, bottom, right))


def parsed_address(text: Raw) -> SheetArea:
    """Sheet and cells of an address as these callbacks pass it; an error value is shown."""
    text = single(text)
    if isinstance(text, dict):
        raise ErrorShown(text)
    sheet, _, cells = str(text).rpartition("!")
    area = parse_range(cells) or _whole(cells)
    if area is None:
        fail(ErrorCode.REF)
    return sheet[1:-1].replace("''", "'"), area


def _text(sheet: str, area: CellRange) -> str:
    inside = area.first_row >= 1 and area.first_col >= 1
    if not inside or area.last_row > MAX_ROW or area.last_col > MAX_COL:
        fail(ErrorCode.REF)
    return sheet_prefix(sheet) + area_name(area)


_NUMBERED = re.compile(r"R(\d+|\[-?\d+\])?C(\d+|\[-?\d+\])?\Z", re.IGNORECASE)


def _by_numbers(text: str, row: int, col: int) -> CellRange | None:
    """Cells by row and column numbers, such as ``R3C1`` or ``R[-1]C:RC[2]`` counted from a cell."""
    corners = []
    for corner in text.split(":"):
        match = _NUMBERED.match(corner.strip())
        if match is None:
            return None
        corners.append((_counted(match[1], row), _counted(match[2], col)))
    if len(corners) > 2:
        return None
    (top, left), (bottom, right) = corners[0], corners[-1]
    return CellRange(min(top, bottom), min(left, right), max(top, bottom), max(left, right))


def _counted(part: str | None, own: int) -> int:
    if part is None:
        return own
    return own + int(part[1:-1]) if part.startswith("[") else int(part)


def _absolute(area: CellRange) -> str:
    return f"${column_letters(area.first_col)}${area.first_row}"


def _sign(count: int) -> int:
    return int(math.copysign(1, count))


def _whole(text: str) -> CellRange | None:
    """Whole columns or rows."""
    pattern = whole_lines(text, "")
    return None if pattern is None else pattern.at((), 1)
