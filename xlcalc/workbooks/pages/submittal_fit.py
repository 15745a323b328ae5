"""Room for every text and number of a printed sheet, so that no cell is cut off."""

from __future__ import annotations

import copy
import math
import re
from typing import Any

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.files.books.names import bounds

DEFAULT_WIDTH = 8.43
DEFAULT_HEIGHT = 15.0
DESIGN_SIZE = 9.0
MOST_LINES = 7
WIDEST = 60.0
"""Width to which the column of a text of more lines is widened."""
_DECIMALS = re.compile(r"0\.(0+)")


def fit(sheet: Worksheet, area: str) -> None:
    """Wrap texts that would be cut off, raise rows and widen columns for what stands in `area`."""
    left, top, right, bottom = bounds(area)
    merged = {
        (span.min_row, span.min_col): (span.max_row, span.max_col) for span in sheet.merged_cells.ranges
    }
    for row in range(top, bottom + 1):
        if sheet.row_dimensions[row].hidden:
            continue
        needed = 0.0
        for column in range(left, right + 1):
            cell = sheet.cell(row, column)
            if cell.value is None or sheet.column_dimensions[get_column_letter(column)].hidden:
                continue
            last_row, last = merged.get((row, column), (row, column))
            if isinstance(cell.value, str):
                if last_row == row:
                    needed = max(needed, _text(sheet, cell, last, right))
            elif last == column:
                _number(sheet, cell)
        height = sheet.row_dimensions[row].height or DEFAULT_HEIGHT
        if needed > height:
            sheet.row_dimensions[row].height = needed


def _text(sheet: Worksheet, cell: Any, last: int, right: int) -> float:
    """Height that the text takes, after wrapping it where it has no room to run on."""
    size = float(cell.font.sz or DESIGN_SIZE)
    length = max(len(line) for line in cell.value.split("\n")) * (1.1 if cell.font.b else 1.0)
    breaks = cell.value.count("\n")
    if last == cell.column and cell.alignment.wrap_text:
        least = min(WIDEST, length * size / DESIGN_SIZE / MOST_LINES)
        dimension = sheet.column_dimensions[get_column_letter(cell.column)]
        if least > _width(sheet, cell.column) and not dimension.hidden:
            dimension.width = least
    own = sum(_width(sheet, column) for column in range(cell.column, last + 1))
    capacity = (own - 1.0) * DESIGN_SIZE / size * 1.2
    if length <= capacity and not breaks:
        return 0.0
    if not cell.alignment.wrap_text:
        free, column = own, last + 1
        while column <= right and sheet.cell(cell.row, column).value is None:
            free, column = free + _width(sheet, column), column + 1
        if length <= (free - 1.0) * DESIGN_SIZE / size and not breaks:
            return 0.0
        alignment = copy.copy(cell.alignment)
        alignment.wrap_text = True
        cell.alignment = alignment
    lines = sum(max(1, math.ceil(1.06 * len(line) / capacity)) for line in cell.value.split("\n"))
    return lines * size * 1.28 + 3.0


def _number(sheet: Worksheet, cell: Any) -> None:
    if isinstance(cell.value, bool) or not isinstance(cell.value, int | float):
        return
    found = _DECIMALS.search(cell.number_format)
    if cell.number_format == "General":
        shown = f"{cell.value:.6g}"
    else:
        shown = f"{cell.value:,.{len(found[1]) if found else 0}f}"
    size = float(cell.font.sz or DESIGN_SIZE)
    needed = (len(shown) + 1.5) * size / DESIGN_SIZE
    if needed > _width(sheet, cell.column):
        sheet.column_dimensions[get_column_letter(cell.column)].width = needed


def _width(sheet: Worksheet, column: int) -> float:
    dimension = sheet.column_dimensions[get_column_letter(column)]
    if dimension.hidden:
        return 0.0
    return float(dimension.width or DEFAULT_WIDTH)
