"""Names of cells and ranges: ``B3`` and ``B3:D9`` to numbers and back, inside the limits of a worksheet."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple

MAX_ROW = 1_048_576
MAX_COL = 16_384

_BUCKET = 64

Position = tuple[int, int]
"""Row and column of a cell, both counted from 1."""

_CELL = re.compile(r"\$?([A-Za-z]{1,3})\$?([1-9][0-9]{0,6})")


class CellRange(NamedTuple):
    """A rectangle of cells, both corners included, counted from 1."""

    first_row: int
    first_col: int
    last_row: int
    last_col: int

    @property
    def rows(self) -> int:
        """Number of rows."""
        return self.last_row - self.first_row + 1

    @property
    def cols(self) -> int:
        """Number of columns."""
        return self.last_col - self.first_col + 1

    @property
    def area(self) -> int:
        """Number of cells."""
        return self.rows * self.cols

    def contains(self, row: int, col: int) -> bool:
        """Whether a cell lies inside."""
        return self.first_row <= row <= self.last_row and self.first_col <= col <= self.last_col

    @property
    def name(self) -> str:
        """The range as a sheet writes it, one cell without a colon."""
        first = cell_name(self.first_row, self.first_col)
        return first if self.area == 1 else f"{first}:{cell_name(self.last_row, self.last_col)}"


class AreaIndex:
    """Whether a cell lies in any of many ranges, quick for cells asked range by range."""

    def __init__(self, areas: Iterable[CellRange]) -> None:
        self._buckets: dict[int, list[CellRange]] = {}
        self._last: CellRange | None = None
        for area in areas:
            for bucket in range(area.first_row // _BUCKET, area.last_row // _BUCKET + 1):
                self._buckets.setdefault(bucket, []).append(area)

    def covers(self, row: int, col: int) -> bool:
        """Whether one of the ranges holds the cell."""
        if self._last is not None and self._last.contains(row, col):
            return True
        for area in self._buckets.get(row // _BUCKET, ()):
            if area.contains(row, col):
                self._last = area
                return True
        return False


@lru_cache(maxsize=MAX_COL)
def column_letters(col: int) -> str:
    """Letters of a column number.

    Examples
    --------
    >>> column_letters(1), column_letters(28), column_letters(16384)
    ('A', 'AB', 'XFD')
    """
    letters = ""
    while col:
        col, rest = divmod(col - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


@lru_cache(maxsize=MAX_COL)
def column_number(letters: str) -> int:
    """Number of a column; 0 where the letters name no column of a worksheet.

    Examples
    --------
    >>> column_number("A"), column_number("xfd"), column_number("XFE")
    (1, 16384, 0)
    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number if 1 <= number <= MAX_COL else 0


def cell_name(row: int, col: int) -> str:
    """Name of a cell.

    Examples
    --------
    >>> cell_name(3, 2)
    'B3'
    """
    return f"{column_letters(col)}{row}"


def area_name(area: CellRange) -> str:
    """An area as a formula names it, whole columns and rows by their names."""
    if area.first_row == 1 and area.last_row == MAX_ROW:
        return f"{column_letters(area.first_col)}:{column_letters(area.last_col)}"
    if area.first_col == 1 and area.last_col == MAX_COL:
        return f"{area.first_row}:{area.last_row}"
    return area.name


def parse_cell(text: str) -> Position | None:
    """Row and column of a cell name; None where it names no cell of a worksheet.

    Examples
    --------
    >>> parse_cell("B3"), parse_cell("XFE1"), parse_cell("A1048577")
    ((3, 2), None, None)
    """
    match = _CELL.fullmatch(text)
    if not match:
        return None
    row, col = int(match[2]), column_number(match[1])
    return (row, col) if col and row <= MAX_ROW else None


def parse_range(text: str) -> CellRange | None:
    """Corners of a range or of one cell; None where the text is neither.

    Examples
    --------
    >>> parse_range("B3:D9").area, parse_range("B3").name, parse_range("B3:")
    (21, 'B3', None)
    """
    first, colon, last = text.partition(":")
    start = parse_cell(first)
    end = parse_cell(last) if colon else start
    if start is None or end is None:
        return None
    return CellRange(
        min(start[0], end[0]), min(start[1], end[1]), max(start[0], end[0]), max(start[1], end[1])
    )
