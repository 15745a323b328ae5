"""A table file as it is: rows of cells with the numbers that a spreadsheet program shows beside them."""

from __future__ import annotations

from dataclasses import dataclass

from xlcalc.core.plausible import Stated
from xlcalc.io.lists.numerals import Numeral
from xlcalc.schema.values import Grid, Scalar

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


def plain(cell: RawCell) -> Scalar:
    """A cell as a worksheet function gets it; a number that carries its unit was meant."""
    if isinstance(cell, Numeral):
        return Stated(cell.value) if cell.unit else cell.value
    return cell


def plain_grid(rows: list[list[RawCell]]) -> Grid:
    """Rows as a worksheet function gets them."""
    return [[plain(cell) for cell in row] for row in rows]
