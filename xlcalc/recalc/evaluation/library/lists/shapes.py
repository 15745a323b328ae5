"""Arrays brought into another shape: HSTACK, VSTACK, TAKE, DROP, CHOOSECOLS, WRAPROWS, EXPAND and their kin.

Rules as in the function descriptions of Excel (support.microsoft.com, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    cells_of,
    error,
    fail,
    is_error,
    logical,
    number,
    rows_of,
    single,
    whole,
)
from xlcalc.schema.values import ErrorCode

_MOST_CELLS = 1_000_000
_MOST_COLUMNS = 16_384
_NO_RESULT: Raw = {"type": "Error", "kind": "Calc"}
Rows = list[list[Raw]]


def _filler(pad: Raw) -> Raw:
    return error(ErrorCode.NA) if pad is LEFT_OUT else single(pad)


def _wrapped(vector: Raw, count: Raw, pad: Raw) -> list[list[Raw]]:
    rows = rows_of(vector)
    if len(rows) > 1 and len(rows[0]) > 1:
        fail(ErrorCode.VALUE)
    length = whole(count)
    if length < 1:
        fail(ErrorCode.NUM)
    cells = list(cells_of(vector))
    length = min(length, _MOST_CELLS)
    lines = [cells[start : start + length] for start in range(0, len(cells), length)]
    missing = length - len(lines[-1])
    if len(lines) == 1 and missing:
        raise Uncertain("fewer values than one line takes")
    lines[-1] += [_filler(pad)] * missing
    return lines


def wrap_rows(vector: Raw, count: Raw, pad: Raw = LEFT_OUT) -> Raw:
    """WRAPROWS."""
    return _wrapped(vector, count, pad)


def wrap_columns(vector: Raw, count: Raw, pad: Raw = LEFT_OUT) -> Raw:
    """WRAPCOLS."""
    return [list(line) for line in zip(*_wrapped(vector, count, pad), strict=True)]


def expand(array: Raw, rows: Raw, columns: Raw = LEFT_OUT, pad: Raw = LEFT_OUT) -> Raw:
    """EXPAND."""
    grid = _grid(array)
    down, across = _count(rows), _count(columns)
    height = len(grid) if down is None else down
    width = len(grid[0]) if across is None else across
    if height < len(grid) or width < len(grid[0]):
        fail(ErrorCode.VALUE)
    _check_size(height, width)
    filler = _filler(pad)
    wide = [[*row, *[filler] * (width - len(row))] for row in grid]
    return wide + [[filler] * width for _ in range(height - len(grid))]


def unit_matrix(size: Raw) -> Raw:
    """MUNIT."""
    count = whole(single(size))
    if count < 1:
        fail(ErrorCode.VALUE)
    if count * count > _MOST_CELLS:
        raise Uncertain("an array of more than a million cells")
    if count == 1:
        return 1.0
    return [[float(row == column) for column in range(count)] for row in range(count)]


def _turned(rows: Rows) -> Rows:
    return [list(line) for line in zip(*rows, strict=True)]


def _shown(rows: Rows) -> Raw:
    return rows if len(rows) > 1 or len(rows[0]) > 1 else rows[0][0]


def _check_size(height: int, width: int) -> None:
    if height * width > _MOST_CELLS:
        raise Uncertain("an array of more than a million cells")
    if width > _MOST_COLUMNS:
        raise Uncertain("an array of more columns than a sheet has")


def _stacked(parts: tuple[Raw, ...]) -> Rows:
    """Parts one below the other, narrow ones filled with #N/A."""
    grids = [rows_of(part) for part in parts]
    if len(parts) > 1 and any(len(grid) == len(grid[0]) == 1 and is_error(grid[0][0]) for grid in grids):
        raise Uncertain("a single error value among what is put together")
    breadth = max(len(grid[0]) for grid in grids)
    _check_size(sum(map(len, grids)), breadth)
    missing = error(ErrorCode.NA)
    return [[*row, *[missing] * (breadth - len(row))] for grid in grids for row in grid]


def below_each_other(*parts: Raw) -> Raw:
    """VSTACK."""
    return _shown(_stacked(parts))


def side_by_side(*parts: Raw) -> Raw:
    """HSTACK."""
    return _shown(_turned(_stacked(tuple(_turned(rows_of(part)) for part in parts))))


def _count(raw: Raw) -> int | None:
    """How many lines to take or drop; None where that is left out."""
    if raw is None:
        raise Uncertain("a number of rows or columns that is a blank cell")
    return None if raw is LEFT_OUT else whole(single(raw))


def _taken(lines: Rows, count: int | None) -> Rows:
    if count is None:
        return lines
    return lines[:count] if count >= 0 else lines[count:]


def _dropped(lines: Rows, count: int | None) -> Rows:
    if count is None:
        return lines
    return lines[count:] if count >= 0 else lines[:count]


def _cut(part: Callable[[Rows, int | None], Rows]) -> Callable[..., Raw]:
    """TAKE or DROP; nothing that is left is #CALC!."""

    def computed(array: Raw, rows: Raw, columns: Raw = LEFT_OUT) -> Raw:
        grid = _grid(array)
        down, across = _count(rows), _count(columns)
        kept = part(grid, down)
        kept = kept and _turned(part(_turned(kept), across))
        return _shown(kept) if kept else _NO_RESULT

    return computed


def _places(given: tuple[Raw, ...], length: int) -> Iterator[int]:
    for raw in given:
        for cell in cells_of(raw):
            place = whole(cell)
            if not 1 <= abs(place) <= length:
                fail(ErrorCode.VALUE)
            yield place - 1 if place > 0 else length + place


def chosen_lines(array: Raw, *given: Raw) -> Raw:
    """CHOOSEROWS, counted from the end where negative."""
    grid = _grid(array)
    return _shown([grid[place] for place in _places(given, len(grid))])


def chosen_columns(array: Raw, *given: Raw) -> Raw:
    """CHOOSECOLS."""
    lines = _turned(_grid(array))
    return _shown(_turned([lines[place] for place in _places(given, len(lines))]))


def sequence(rows: Raw, columns: Raw = LEFT_OUT, start: Raw = LEFT_OUT, step: Raw = LEFT_OUT) -> Raw:
    """SEQUENCE, row by row."""
    if None in (rows, columns, start, step):
        raise Uncertain("SEQUENCE with a blank cell")
    down, across = (1 if raw is LEFT_OUT else whole(single(raw)) for raw in (rows, columns))
    first, by = (1.0 if raw is LEFT_OUT else number(single(raw)) for raw in (start, step))
    if down < 0 or across < 0:
        fail(ErrorCode.VALUE)
    if not (down and across):
        return _NO_RESULT
    _check_size(down, across)
    if not math.isfinite(first + by * down * across):
        fail(ErrorCode.NUM)
    return _shown([[first + by * (row * across + column) for column in range(across)] for row in range(down)])


def _in_one_line(array: Raw, ignored: Raw, by_column: Raw) -> list[Raw]:
    """The cells of an array one after the other; 1 passes over blanks, 2 over errors, 3 over both."""
    if ignored is None or by_column is None:
        raise Uncertain("TOCOL or TOROW with a blank cell as an option")
    without = 0 if ignored is LEFT_OUT else whole(single(ignored))
    turned = by_column is not LEFT_OUT and logical(by_column)
    if not 0 <= without <= 3:
        fail(ErrorCode.VALUE)
    cells = cells_of(_turned(rows_of(array)) if turned else array)
    return [
        cell for cell in cells if not (without & 1 and cell is None) and not (without & 2 and is_error(cell))
    ]


def to_column(array: Raw, ignored: Raw = LEFT_OUT, by_column: Raw = LEFT_OUT) -> Raw:
    """TOCOL."""
    found = _in_one_line(array, ignored, by_column)
    return _shown([[cell] for cell in found]) if found else _NO_RESULT


def to_row(array: Raw, ignored: Raw = LEFT_OUT, by_column: Raw = LEFT_OUT) -> Raw:
    """TOROW."""
    found = _in_one_line(array, ignored, by_column)
    return _shown([found]) if found else _NO_RESULT


def height(array: Raw) -> Raw:
    """ROWS of something computed."""
    return float(len(_grid(array)))


def width(array: Raw) -> Raw:
    """COLUMNS of something computed."""
    return float(len(_grid(array)[0]))


def _grid(array: Raw) -> list[list[Raw]]:
    if is_error(array):
        raise ErrorShown(array)
    return rows_of(array)


FUNCTIONS: dict[str, Callable[..., Raw]] = {
    "WRAPROWS": wrap_rows,
    "WRAPCOLS": wrap_columns,
    "EXPAND": expand,
    "HSTACK": side_by_side,
    "VSTACK": below_each_other,
    "TAKE": _cut(_taken),
    "DROP": _cut(_dropped),
    "CHOOSECOLS": chosen_columns,
    "CHOOSEROWS": chosen_lines,
    "SEQUENCE": sequence,
    "TOCOL": to_column,
    "TOROW": to_row,
    "MUNIT": unit_matrix,
    "ROWS": height,
    "COLUMNS": width,
}
