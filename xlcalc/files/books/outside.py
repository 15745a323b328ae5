"""Where a sheet of inputs must be blank: what is typed there would be left out of the study.

Every such place has a name of the form ``outside_<inputs>_<side>``. The sheet of checks counts it live, and
whoever reads the inputs from the file looks at the same names.
"""

from __future__ import annotations

import re
from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.files.books import names

LAST_COLUMN: Final = 16384
LAST_ROW: Final = 1048575
"""One above the last, so that no program shortens the reference to whole columns."""
SIDES: Final = {
    "right": "right of the",
    "below": "below the room of the",
    "above": "above the headings of the",
    "beside": "beside the table of the",
    "between": "between the tables of the",
}
_NAME: Final = re.compile(rf"{names.OUTSIDE}(\w+?)_({'|'.join(SIDES)})(?:_\d+)?")


def watch(book: Workbook, sheet: Worksheet, inputs: str, side: str, cells: str) -> None:
    """Name a place that must be blank.

    Parameters
    ----------
    inputs : str
        What stands beside it, such as "drives".
    side : str
        One of `SIDES`, with a number behind it where there are several.
    cells : str
        Without dollar signs.
    """
    names.define(book, f"{names.OUTSIDE}{inputs.replace(' ', '_')}_{side}", sheet, cells)


def where(name: str) -> str:
    """A place in words.

    Examples
    --------
    >>> where("outside_drives_right"), where("outside_site_inputs_between_2")
    ('right of the drives', 'between the tables of the site inputs')
    """
    found = _NAME.fullmatch(name)
    return f"{SIDES[found[2]]} {found[1].replace('_', ' ')}" if found else "where no input is read"


def sentence(place: str, name: str) -> str:
    """What is wrong with data in a place with this name."""
    return f"{place}: data {where(name)} is not in the study"


def untagged(place: str) -> str:
    """What is wrong with values typed over the figures of rows that hold no drive."""
    return f"{place}: values beside rows without a tag are not in the study"


def frame(book: Workbook, sheet: Worksheet, inputs: str, *, bottom: int, width: int, above: str = "") -> None:
    """Watch everything right of `width` columns and below the row `bottom`, and the cells `above`."""
    watch(book, sheet, inputs, "right", names.area(1, width + 1, LAST_ROW, LAST_COLUMN))
    watch(book, sheet, inputs, "below", names.area(bottom + 1, 1, LAST_ROW, width))
    _seam(book, sheet, inputs, "below", names.area(bottom, 1, bottom + 1, width))
    if above:
        watch(book, sheet, inputs, "above", above)
        left, _, right, last = names.bounds(above)
        _seam(book, sheet, inputs, "above", names.area(last, left, last + 1, right))


def _seam(book: Workbook, sheet: Worksheet, inputs: str, side: str, cells: str) -> None:
    """Name the two rows that meet at the edge of a place: rows inserted between them make it taller."""
    names.define(book, f"{names.SEAM}{inputs.replace(' ', '_')}_{side}", sheet, cells)


def inserted(seam: str) -> str:
    """Formula: cells with data in rows that were inserted in a seam."""
    ends = f"COUNTA(INDEX({seam},1,0))+COUNTA(INDEX({seam},ROWS({seam}),0))"
    return f"IF(ROWS({seam})>2,COUNTA({seam})-{ends},0)"
