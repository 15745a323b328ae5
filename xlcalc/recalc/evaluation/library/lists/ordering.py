"""SORT, SORTBY, UNIQUE, FILTER, and INDEX by arrays of numbers.

Rules as in the function descriptions of Excel (support.microsoft.com, from memory): numbers come before text
and text before logicals, blank cells last; capitals and small letters are the same.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cmp_to_key
from itertools import pairwise

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.comparing import near, order
from xlcalc.recalc.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    cells_of,
    fail,
    is_error,
    is_number,
    lifted,
    logical,
    number,
    rows_of,
    single,
    whole,
)
from xlcalc.schema.values import ErrorCode

_NO_RESULT: Raw = {"type": "Error", "kind": "Calc"}
Rows = list[list[Raw]]


def _turned(rows: Rows) -> Rows:
    return [list(line) for line in zip(*rows, strict=True)]


def _result(rows: Rows) -> Raw:
    return rows if len(rows) > 1 or len(rows[0]) > 1 else rows[0][0]


def _direction(raw: Raw) -> int:
    found = 1 if raw is LEFT_OUT else whole(raw)
    return found if found in (1, -1) else fail(ErrorCode.VALUE)


def _ordered(rows: Rows, keys: Sequence[tuple[Sequence[Raw], int]]) -> Rows:
    """Rows in the order of their keys, each with its direction; equal ones stay as they are."""

    def compare(first: int, second: int) -> int:
        for values, direction in keys:
            a, b = values[first], values[second]
            if a is None or b is None:
                if (a is None) != (b is None):
                    return 1 if a is None else -1
                continue
            found = order(a, b)
            if found:
                return found * direction
        return 0

    for values, _ in keys:
        if any(is_error(value) for value in values):
            raise Uncertain("error values to be sorted")
    return [rows[place] for place in sorted(range(len(rows)), key=cmp_to_key(compare))]


def sort(array: Raw, index: Raw = LEFT_OUT, direction: Raw = LEFT_OUT, by_column: Raw = LEFT_OUT) -> Raw:
    """SORT."""
    across = by_column is not LEFT_OUT and logical(by_column)
    rows = _turned(rows_of(array)) if across else rows_of(array)
    places = [1] if index is LEFT_OUT else [whole(cell) for cell in cells_of(index)]
    wanted = list(cells_of(direction))
    if len(wanted) not in (1, len(places)):
        raise Uncertain("so many directions of SORT for other columns")
    if not all(1 <= place <= len(rows[0]) for place in places):
        if len(places) > 1:
            raise Uncertain("SORT by a column that is not there, among several")
        fail(ErrorCode.VALUE)
    directions = [_direction(raw) for raw in (wanted * len(places) if len(wanted) == 1 else wanted)]
    keys = [([row[place - 1] for row in rows], way) for place, way in zip(places, directions, strict=True)]
    found = _ordered(rows, keys)
    return _result(_turned(found) if across else found)


def sort_by(array: Raw, *given: Raw) -> Raw:
    """SORTBY; a range and a direction in turn."""
    rows, key = rows_of(array), rows_of(given[0])
    across = len(key) == 1 and len(key[0]) == len(rows[0]) and len(key[0]) > 1
    lines = _turned(rows) if across else rows
    keys = []
    for place in range(0, len(given), 2):
        values = list(cells_of(given[place]))
        grid = rows_of(given[place])
        if len(grid[0] if across else grid) != len(values) or len(values) != len(lines):
            fail(ErrorCode.VALUE)
        keys.append((values, _direction(given[place + 1] if place + 1 < len(given) else LEFT_OUT)))
    found = _ordered(lines, keys)
    return _result(_turned(found) if across else found)


def unique(array: Raw, by_column: Raw = LEFT_OUT, once: Raw = LEFT_OUT) -> Raw:
    """UNIQUE."""
    across = by_column is not LEFT_OUT and logical(by_column)
    rows = _turned(rows_of(array)) if across else rows_of(array)
    places: dict[tuple[Raw, ...], list[int]] = {}
    for place, row in enumerate(rows):
        places.setdefault(tuple(map(_identity, row)), []).append(place)
    numbers = sorted({cell for row in rows for cell in row if is_number(cell)})
    if any(near(a, b) for a, b in pairwise(numbers)):
        raise Uncertain("numbers that differ in the last digits only; ROUND would decide it")
    for line in zip(*rows, strict=True):
        if any(cell is None for cell in line) and any(cell in ("", 0.0) for cell in line):
            raise Uncertain("blank cells beside zeros or empty texts, which programs may take for the same")
    only = once is not LEFT_OUT and logical(once)
    found = [rows[where[0]] for where in places.values() if not only or len(where) == 1]
    if not found:
        return _NO_RESULT
    return _result(_turned(found) if across else found)


def _identity(cell: Raw) -> Raw:
    """What makes two cells the same."""
    if isinstance(cell, str):
        return cell.lower()
    return (type(cell).__name__, str(cell)) if isinstance(cell, bool | dict) or cell is None else float(cell)


def chosen_rows(array: Raw, include: Raw, otherwise: Raw = LEFT_OUT) -> Raw:
    """FILTER."""
    rows, wanted = rows_of(array), rows_of(include)
    across = len(wanted) == 1 and (len(wanted[0]) > 1 or len(rows) > 1)
    lines = _turned(rows) if across else rows
    conditions = list(cells_of(include))
    if min(len(wanted), len(wanted[0])) > 1 or len(conditions) != len(lines):
        fail(ErrorCode.VALUE)
    for cell in conditions:
        if is_error(cell):
            raise ErrorShown(cell)
        if isinstance(cell, str):
            fail(ErrorCode.VALUE)
    found = [line for line, cell in zip(lines, conditions, strict=True) if number(cell) != 0]
    if not found:
        return _NO_RESULT if otherwise is LEFT_OUT else otherwise
    return _result(_turned(found) if across else found)


def picked(array: Raw, row: Raw, column: Raw = LEFT_OUT) -> Raw:
    """INDEX of an array at several places."""
    rows = rows_of(array)
    if column is LEFT_OUT and len(rows) == 1:
        row, column = 1.0, row
    column = 1.0 if column is LEFT_OUT and len(rows[0]) == 1 else column
    if column is LEFT_OUT:
        raise Uncertain("INDEX of several rows and columns by one number")

    def one(down: Raw, across: Raw) -> Raw:
        r, c = whole(single(down)), whole(single(across))
        if r == 0 or c == 0:
            raise Uncertain("INDEX of a whole row or column among several places")
        return rows[r - 1][c - 1] if 1 <= r <= len(rows) and 1 <= c <= len(rows[0]) else fail(ErrorCode.REF)

    return lifted(one, (row, column), (0, 1))


FUNCTIONS: dict[str, Callable[..., Raw]] = {
    "SORT": sort,
    "SORTBY": sort_by,
    "UNIQUE": unique,
    "FILTER": chosen_rows,
    "_PICKED": picked,
}
