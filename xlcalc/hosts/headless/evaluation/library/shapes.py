"""Arrays brought into another shape: WRAPROWS, WRAPCOLS, EXPAND, MUNIT."""

from __future__ import annotations

from collections.abc import Callable

from xlcalc.hosts.headless.evaluation.engine import Raw
from xlcalc.hosts.headless.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    cells_of,
    error,
    fail,
    is_error,
    rows_of,
    single,
    whole,
)
from xlcalc.worksheet.values import ErrorCode

_MOST_CELLS = 1_000_000


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
    grid = rows_of(array)
    height = len(grid) if rows in (LEFT_OUT, None) else whole(rows)
    width = len(grid[0]) if columns in (LEFT_OUT, None) else whole(columns)
    if height < len(grid) or width < len(grid[0]):
        fail(ErrorCode.VALUE)
    if height * width > _MOST_CELLS:
        raise Uncertain("an array of more than a million cells")
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
    "MUNIT": unit_matrix,
    "ROWS": height,
    "COLUMNS": width,
}
