"""Where a sheet of inputs must be blank: what is typed there would be left out of the study.

Every such place has a name that begins with ``outside_``; its comment says in words where it is. The sheet of
checks counts it live, and whoever reads the inputs from the file looks at the same names.
"""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.workbooks import names

LAST_COLUMN: Final = 16384
LAST_ROW: Final = 1048575
"""One above the last, so that no program shortens the reference to whole columns."""


def watch(book: Workbook, sheet: Worksheet, key: str, where: str, cells: str) -> None:
    """Name a place that must be blank; `where` is read after "data", such as "right of the table"."""
    names.define(book, names.OUTSIDE + key, sheet, cells, comment=where)


def frame(
    book: Workbook, sheet: Worksheet, key: str, what: str, *, bottom: int, width: int, first_row: int = 1
) -> None:
    """Watch everything to the right of `width` columns, and everything below the row `bottom`."""
    right = names.area(first_row, width + 1, LAST_ROW, LAST_COLUMN)
    watch(book, sheet, f"{key}_right", f"right of {what}", right)
    watch(
        book, sheet, f"{key}_below", f"below the room of {what}", names.area(bottom + 1, 1, LAST_ROW, width)
    )


def above(
    book: Workbook, sheet: Worksheet, key: str, what: str, *, header_row: int, used: int, width: int
) -> None:
    """Watch what stands over the headings, right of the first `used` columns."""
    cells = f"{get_column_letter(used + 1)}1:{get_column_letter(width)}{header_row - 1}"
    watch(book, sheet, f"{key}_above", f"above the headings of {what}", cells)
