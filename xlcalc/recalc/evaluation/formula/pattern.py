"""Formulas as patterns with slots for cell addresses, so that a column filled down is analysed once."""

from __future__ import annotations

import re
from functools import lru_cache

from xlcalc.recalc.cellnames import MAX_COL, MAX_ROW, column_letters, column_number

_STRING = r'"(?:[^"]|"")*"'
_QUOTED = r"'(?:[^']|'')*'"
_BRACKETS = r"\[(?:[^\[\]']|'.|\[(?:[^\[\]']|'.)*\])*\]"
_COLUMN = r"(?:[A-Za-z]{1,2}|[A-Wa-w][A-Za-z]{2}|[Xx](?:[A-Ea-e][A-Za-z]|[Ff][A-Da-d]))"
_ROW = r"(?:[1-9]\d{0,5}|10[0-3]\d{4}|104[0-7]\d{3}|1048[0-4]\d{2}|10485[0-6]\d|104857[0-6])"
_BEFORE = r"(?<![\w.$\\?])"
_AFTER = r"(?![\w.(\[!?\\])"
_CELL = rf"(\$?{_COLUMN}\$?{_ROW})"
_SCAN = re.compile(rf"{_STRING}|{_QUOTED}|{_BRACKETS}|{_BEFORE}{_CELL}{_AFTER}")
_PLAIN_SCAN = re.compile(rf"{_BEFORE}{_CELL}{_AFTER}")
_SHIFT = re.compile(
    rf"{_STRING}|{_QUOTED}|{_BRACKETS}|{_BEFORE}{_CELL}{_AFTER}"
    rf"|{_BEFORE}(?P<columns>\$?{_COLUMN}:\$?{_COLUMN}){_AFTER}|{_BEFORE}(?P<rows>\$?{_ROW}:\$?{_ROW}){_AFTER}"
)
_CORNER = re.compile(r"(\$?)([A-Za-z]*)(\$?)(\d*)\Z")

_LAST_ROW, _LAST_COLUMN = str(MAX_ROW), column_letters(MAX_COL)
_WORDS = {1: "one", MAX_ROW: "all", MAX_COL: "all"}

SLOT = "\x01"


def split_pattern(text: str) -> tuple[str, list[str]]:
    """The text with every cell address replaced by a slot mark, and the addresses in order.

    Examples
    --------
    >>> split_pattern('A1+SUM($B$2:B9)&"A1"')
    ('\\x01+SUM(\\x01:\\x01)&"A1"', ['A1', '$B$2', 'B9'])
    """
    if '"' not in text and "'" not in text and "[" not in text:
        pieces = _PLAIN_SCAN.split(text)
        return SLOT.join(pieces[::2]), pieces[1::2]
    cells: list[str] = []

    def take(match: re.Match[str]) -> str:
        cell = match[1]
        if cell is None:
            return match[0]
        cells.append(cell)
        return SLOT

    return _SCAN.sub(take, text), cells


_MATTERING = re.compile("INDEX *\\(", re.IGNORECASE)


def extents(pattern: str, cells: list[str]) -> str:
    """Which ranges of a pattern are one, several or all rows and columns, where its meaning depends on that.

    INDEX by one number asks whether a range is a single row or column, and a range may be written out as a
    whole column. Formulas of one pattern that differ in this are no copies of each other.

    Examples
    --------
    >>> extents(*split_pattern("INDEX(A1:A4,2)")), extents(*split_pattern("INDEX(A1:B4,2)"))
    (' several-one', ' several-several')
    >>> extents(*split_pattern("SUM(A1:A4)"))
    ''
    """
    whole = any(cell.endswith(_LAST_ROW) or cell.lstrip("$").startswith(_LAST_COLUMN) for cell in cells)
    if not whole and _MATTERING.search(pattern) is None:
        return ""
    between = pattern.split(SLOT)[1:-1]
    pairs = (k for k, text in enumerate(between) if text == ":")
    return "".join(f" {_extent(cells[k], cells[k + 1])}" for k in pairs)


def _extent(first: str, last: str) -> str:
    (top, left), (bottom, right) = cell_position(first), cell_position(last)
    rows, columns = abs(bottom - top) + 1, abs(right - left) + 1
    return f"{_WORDS.get(rows, 'several')}-{_WORDS.get(columns, 'several')}"


@lru_cache(maxsize=65536)
def cell_position(address: str) -> tuple[int, int]:
    """Row and column of an address such as ``$B$7``."""
    match = _CORNER.match(address)
    if match is None:
        raise ValueError(address)
    return int(match[4]), column_number(match[2].upper())


def shift(text: str, rows: int, columns: int) -> str:
    """A formula copied that many rows down and columns to the right; what leaves the sheet becomes #REF!.

    Examples
    --------
    >>> shift('A1+$A1+A$1+SUM(B:B)', 2, 1)
    'B3+$A3+B$1+SUM(C:C)'
    """

    def move(match: re.Match[str]) -> str:
        if match[1] is not None:
            return _moved(match[1], rows, columns)
        area = match["columns"] or match["rows"]
        if area is None:
            return match[0]
        first, last = area.split(":")
        moved = (_moved(first, rows, columns), _moved(last, rows, columns))
        return "#REF!" if "#REF!" in moved else ":".join(moved)

    return _SHIFT.sub(move, text)


def _moved(corner: str, rows: int, columns: int) -> str:
    match = _CORNER.match(corner)
    if match is None:
        return corner
    column_mark, letters, row_mark, digits = match.groups()
    if not letters and column_mark:
        column_mark, row_mark = "", column_mark
    if letters and not column_mark:
        column = column_number(letters.upper()) + columns
        if not 1 <= column <= MAX_COL:
            return "#REF!"
        letters = column_letters(column)
    if digits and not row_mark:
        row = int(digits) + rows
        if not 1 <= row <= MAX_ROW:
            return "#REF!"
        digits = str(row)
    return f"{column_mark}{letters}{row_mark}{digits}"
