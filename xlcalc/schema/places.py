"""Cells of sheets by name: where the range of an argument stands, and what stands in it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from xlcalc.core.errors import Place

_ADDRESS = re.compile(
    r"\$?(?:'(?P<quoted>(?:[^']|'')+)'|(?P<plain>[^'!.:\s]+))[!.]\$?(?P<letters>[A-Za-z]{1,3})\$?(?P<row>[1-9]\d{0,6})"
    r"(?::(?:[^:]*[!.])?\$?[A-Za-z]{1,3}\$?[1-9]\d{0,6})?\Z"
)

_LEADING = re.compile(r"(?:'(?:[^']|'')+'|[^\W\d][\w.]*)!\$?[A-Z]{1,3}\$?[1-9]\d{0,6}\b")
_PLAIN_SHEET = re.compile(r"[^\W\d][\w.]*\Z")


@dataclass(frozen=True)
class Corner:
    """The top left cell of a range, counted from 1."""

    sheet: str
    row: int
    column: int

    def cell(self, place: Place) -> str:
        """Name of the cell at a place in the range.

        Examples
        --------
        >>> Corner("Drives", 10, 1).cell(Place("drives", 2, 4))
        'Drives!D11'
        """
        sheet, row, column = self.at(place)
        return f"{sheet_text(sheet)}!{letters_of(column)}{row}"

    def at(self, place: Place) -> tuple[str, int, int]:
        """Sheet, row and column of the cell at a place in the range."""
        return self.sheet, self.row + (place.row or 1) - 1, self.column + (place.column or 1) - 1


class PlacedValues(dict[str, object]):
    """Checked values by name, with the place where each of them was typed, and the names left blank."""

    places: Mapping[str, Place]
    blank: frozenset[str]

    def __init__(
        self, values: Mapping[str, object], places: Mapping[str, Place], blank: Iterable[str] = ()
    ) -> None:
        super().__init__(values)
        self.places = places
        self.blank = frozenset(blank)


def place_of(values: object, name: str) -> Place | None:
    """Where a value was typed; None where that is not known."""
    return values.places.get(name) if isinstance(values, PlacedValues) else None


def corner_of(text: str) -> Corner | None:
    """The cell that a text such as ``Drives!A10`` names; None for any other text.

    Examples
    --------
    >>> corner_of("'Drive list'!$B$3")
    Corner(sheet='Drive list', row=3, column=2)
    """
    match = _ADDRESS.match(text.strip())
    if match is None:
        return None
    sheet = match["plain"] or match["quoted"].replace("''", "'")
    return Corner(sheet, int(match["row"]), column_of(match["letters"]))


def leading_cell(sentence: str) -> str:
    """The cell with which a sentence begins; empty where it begins otherwise.

    Examples
    --------
    >>> leading_cell("'Drive list'!D11 is blank"), leading_cell("IL is 3")
    ("'Drive list'!D11", '')
    """
    match = _LEADING.match(sentence)
    return match[0] if match else ""


def sheet_text(sheet: str) -> str:
    """Name of a sheet as it stands before an exclamation mark.

    Examples
    --------
    >>> sheet_text("Drives"), sheet_text("Drive list")
    ('Drives', "'Drive list'")
    """
    return sheet if _PLAIN_SHEET.match(sheet) else "'" + sheet.replace("'", "''") + "'"


def letters_of(column: int) -> str:
    """Letters of a column, from 1.

    Examples
    --------
    >>> letters_of(1), letters_of(26), letters_of(27)
    ('A', 'Z', 'AA')
    """
    head, tail = divmod(column - 1, 26)
    return (letters_of(head) if head else "") + chr(ord("A") + tail)


def column_of(letters: str) -> int:
    """Number of a column, from 1.

    Examples
    --------
    >>> column_of("A"), column_of("z"), column_of("AA")
    (1, 26, 27)
    """
    number = 0
    for letter in letters.upper():
        number = 26 * number + ord(letter) - ord("A") + 1
    return number
