"""A table file as it is: rows of cells with the numbers that a spreadsheet program shows beside them."""

from __future__ import annotations

from dataclasses import dataclass

from xlcalc.bulk.reading.numerals import Numeral

RawCell = str | float | bool | Numeral | None
"""A `Numeral` is a number whose cell carries its unit, such as 94 % kept as 0.94."""


@dataclass(frozen=True)
class RawTable:
    """Cells of a file.

    Parameters
    ----------
    name : str
        File name, and sheet name where there is one, for messages.
    rows : list of list of RawCell
        From the first row of the file, blank rows included.
    texts : bool
        True where every number is a text that may use a decimal comma.
    remarks : tuple of str
        What a reader of the results should know about the reading.
    drives_only : bool
        True for the room of a template, whose functions take every row for a drive, totals too.
    """

    name: str
    rows: list[list[RawCell]]
    texts: bool
    remarks: tuple[str, ...] = ()
    drives_only: bool = False
