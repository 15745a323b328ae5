"""Sheet of the three phases of the PCC by order, the same in every template."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol

from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names
from xlcalc.studies.verdict.phases import ROWS
from xlcalc.workbooks.kit import marks, page
from xlcalc.worksheet.functions.plant.phases import BUS_HEADINGS, HEADINGS

SHEET: Final = "Phases"
WIDTH: Final = len(HEADINGS)
HEADING_ROW: Final = 6
FIRST_ROW: Final = HEADING_ROW + 1
NOTE_ROW: Final = FIRST_ROW + ROWS + 1
LIMITS: Final = {5: (2, 3, 4), 9: (6, 7, 8)}
"""Column of a limit and those that it limits."""
VERDICTS: Final = (10, 11, 12)
EMPTY: Final = {1: range(5, WIDTH + 1), ROWS: range(2, 10)}
"""Columns without a value, by row: the fundamental has no limit, the last row only verdicts."""
ROW_HEIGHT: Final = 12

CAUTIONS: Final = (
    "Percent of the maximum demand current and of nominal voltage. The verdict on the PCC takes the largest "
    "phase of every order; here each phase is judged by itself. The last row names the supply that decides "
    "where none was given, and says where the phases are alike.",
)


class ArrayCells(Protocol):
    """An array result on another sheet."""

    def cell(self, row: int, column: int) -> str:
        """Reference to one of its cells."""
        ...


@dataclass(frozen=True)
class Buses:
    """Rows of HD_PLANT_BUS_PHASES.

    Parameters
    ----------
    source : ArrayCells
    name_range : str
        Name of the column of the network that holds the names of the buses.
    held, shown : int
        Rows that it holds, and those that are in view.
    """

    source: ArrayCells
    name_range: str
    held: int
    shown: int


def build(sheet: Worksheet, source: ArrayCells, where: str, buses: Buses | None = None) -> None:
    """Fill the sheet.

    Parameters
    ----------
    sheet : Worksheet
    source : ArrayCells
        Rows of HD_PCC_PHASES or HD_PLANT_PHASES.
    where : str
        Formula that says which PCC it is.
    buses : Buses, optional
        All buses, where the template has them.
    """
    page.widths(sheet, 24, *[11.5] * (WIDTH - 1))
    page.heading(sheet, SHEET, "The three phases of the point of common coupling, each against the limits.")
    page.study_title(sheet)
    page.put(sheet, 4, 1, where, style.SUBTITLE)
    page.section(sheet, HEADING_ROW - 1, "Phases by order", WIDTH)
    page.headings(sheet, HEADING_ROW, HEADINGS)
    sheet.row_dimensions[HEADING_ROW].height = 38
    for position in range(1, ROWS + 1):
        row = FIRST_ROW + position - 1
        for column in range(1, WIDTH + 1):
            look = "0.000" if column > 1 else "General"
            if column in EMPTY.get(position, ()):
                page.put(sheet, row, column, None, style.RESULT, look)
            else:
                _put(sheet, row, column, source.cell(position, column), look)
        sheet.row_dimensions[row].height = ROW_HEIGHT
        for limit, values in LIMITS.items():
            for value in values:
                cells = [sheet.cell(row, k).coordinate for k in (value, limit)]
                marks.margins(sheet, cells[0], f"({cells[1]}-{cells[0]})", cells[1])
        for column in VERDICTS:
            marks.verdict(sheet, sheet.cell(row, column).coordinate)
    marks.errors(sheet, names.area(FIRST_ROW, 1, FIRST_ROW + ROWS - 1, WIDTH))
    page.notes(sheet, NOTE_ROW, CAUTIONS, WIDTH)
    last = NOTE_ROW + len(CAUTIONS) - 1
    if buses is not None:
        last = _buses(sheet, last + 2, buses)
    page.set_up(sheet, area=names.area(1, 1, last, WIDTH), title_rows="1:4")
    sheet.freeze_panes = f"B{FIRST_ROW}"


def _buses(sheet: Worksheet, row: int, buses: Buses) -> int:
    """Distortion of each phase at every bus; gives the last row."""
    page.section(sheet, row, "Voltage of every bus by phase", WIDTH)
    page.headings(sheet, row + 1, BUS_HEADINGS)
    sheet.row_dimensions[row + 1].height = 38
    first, last = row + 2, row + 1 + buses.held
    for position in range(1, buses.held + 1):
        name, here = f"INDEX({buses.name_range},{position})", first + position - 1
        page.put(sheet, here, 1, f'=IF({name}="","",{name})', style.RESULT)
        for column in range(2, len(BUS_HEADINGS) + 1):
            look = "0.00" if column > 2 else "General"
            _put(sheet, here, column, buses.source.cell(position, column), look, f'$A{here}=""')
    marks.errors(sheet, names.area(first, 1, last, len(BUS_HEADINGS)))
    page.unshown(sheet, last + 1, buses.name_range, buses.shown, buses.held, "buses")
    page.fold(sheet, first + buses.shown, last)
    page.break_before(sheet, row)
    return last + 1


def _put(sheet: Worksheet, row: int, column: int, source: str, number_format: str, blank: str = "") -> None:
    formula = f'=IF({blank},"",{source})' if blank else f"={source}"
    page.put(sheet, row, column, formula, style.RESULT, number_format)
