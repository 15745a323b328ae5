"""Order sheet of the magnetics: line reactors, DC chokes and filters of every kind of drive."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names
from xlcalc.schema.values import Scalar
from xlcalc.workbooks.kit import page
from xlcalc.worksheet.functions.plant.magnetics import (
    CHOKE_COLUMNS,
    COLUMNS,
    DRIVE_COLUMNS,
    FILTER_COLUMNS,
    NOTES,
    REACTOR_COLUMNS,
)

MAGNETICS: Final = "Magnetics"
PARTS: Final = {
    "Line reactors, one per drive": REACTOR_COLUMNS,
    "DC chokes": CHOKE_COLUMNS,
    "Passive filters, one per drive": FILTER_COLUMNS,
}
WIDTH: Final = len(DRIVE_COLUMNS) + max(map(len, PARTS.values()))
TAG_WIDTH: Final = 22.0
COLUMN_WIDTH: Final = 9.5
DIGITS: Final = 6
"""Significant digits, which processors agree on."""


def magnetics_sheet(sheet: Worksheet, rows: Sequence[Sequence[Scalar]], hertz: float) -> None:
    """Fill the printed sheet with rows of `HD_MAGNETICS` for one drive of every kind."""
    page.widths(sheet, TAG_WIDTH, *[COLUMN_WIDTH] * (WIDTH - 1))
    page.heading(sheet, "Order sheet of magnetics", "")
    made = "Calculated from the input cells when these pages were made."
    page.notes(sheet, 2, (f"At {hertz:g} Hz. {NOTES} {made}",), WIDTH)
    row = 4
    for title, columns in PARTS.items():
        row = _part(sheet, row, title, columns, rows)
    for line in (line for line in rows if line[-1]):
        page.put_text(sheet, row, 1, f"{line[0]}: {line[-1]}", style.SUBTITLE)
        row += 1
    page.set_up(sheet, area=names.area(1, 1, row, WIDTH), orientation="landscape")


def is_needed(rows: Sequence[Sequence[Scalar]]) -> bool:
    """Whether a drive has any of these devices."""
    first = len(DRIVE_COLUMNS)
    return any(cell != "" for line in rows for cell in line[first:-1])


def _part(
    sheet: Worksheet, row: int, title: str, columns: Sequence[str], rows: Sequence[Sequence[Scalar]]
) -> int:
    """One kind of device; returns the row after it, the same row where no drive has one."""
    first = COLUMNS.index(columns[0])
    places = [*range(len(DRIVE_COLUMNS)), *range(first, first + len(columns))]
    found = [line for line in rows if any(cell != "" for cell in line[first : first + len(columns)])]
    if not found:
        return row
    page.section(sheet, row, title, WIDTH)
    page.headings(sheet, row + 1, (*DRIVE_COLUMNS, *columns))
    sheet.row_dimensions[row + 1].height = 40
    row += 2
    for line in found:
        for column, place in enumerate(places, start=1):
            cell = line[place]
            if isinstance(cell, str):
                page.put_text(sheet, row, column, cell, style.RESULT_TEXT)
            else:
                page.put(sheet, row, column, _short(cell), style.FIGURE, _format(cell))
        row += 1
    return row + 1


def _short(cell: Scalar) -> float | None:
    return float(f"{cell:.{DIGITS}g}") if isinstance(cell, int | float) else None


def _format(cell: Scalar) -> str:
    """Four digits at least, whatever the size."""
    size = abs(float(cell)) if isinstance(cell, int | float) else 0.0
    if size == round(size):
        return "0"
    return "0.0" if size >= 100.0 else "0.00" if size >= 1.0 else "0.0000"
