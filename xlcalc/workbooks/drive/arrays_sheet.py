"""Sheet of array results: every table that a function returns stands here once, the other sheets refer to it.

A program that lacks the functions computes array formulas anew and shows an error; cells that merely refer to
them keep the values of the last calculation. Tables and charts therefore stand on such cells.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names
from xlcalc.studies.verdict.phases import ROWS
from xlcalc.workbooks.drive import schedule
from xlcalc.workbooks.kit import page
from xlcalc.worksheet.functions.plant.phases import HEADINGS

HEADER_ROW: Final = 5
FIRST_ROW: Final = HEADER_ROW + 1
MAX_DRIVES: Final = 500


@dataclass(frozen=True)
class Block:
    """An array result: its place and the headings of its columns."""

    name: str
    first_column: int
    rows: int
    headings: tuple[str, ...]

    @property
    def cells(self) -> str:
        last_column = self.first_column + len(self.headings) - 1
        return names.area(FIRST_ROW, self.first_column, FIRST_ROW + self.rows - 1, last_column)

    def cell(self, row: int, column: int) -> str:
        """Reference from another sheet to a cell of the block, both numbers from 1."""
        letter = get_column_letter(self.first_column + column - 1)
        return f"{names.ARRAYS_SHEET}!{letter}{FIRST_ROW + row - 1}"


PCC = Block(
    "pcc_table",
    1,
    51,
    (
        "order",
        "line current (A)",
        "% of demand current",
        "limit (%)",
        "margin (%)",
        "voltage (%)",
        "limit (%)",
        "margin (%)",
    ),
)
SPECTRUM = Block("view_spectrum", 10, 50, ("order", "% of fundamental", "angle (deg)"))
WAVEFORM = Block("view_waveform", 14, 360, ("degrees", "current (pu)", "voltage (pu)"))
DRIVES = Block(schedule.RESULTS, 18, MAX_DRIVES, tuple(schedule.result_columns()))
TAGS = Block(schedule.RESULT_TAGS, 18 + len(DRIVES.headings), MAX_DRIVES, ("tag as text",))
RANKED = 10
"""Rows of drives that a summary shows."""
CAUSE_HEADINGS = ("order", "tag", "units", "A at the PCC", "share (%)")
CONTRIBUTIONS = Block("contributions", TAGS.first_column + 2, RANKED, CAUSE_HEADINGS)
LINK_HEADINGS = tuple(f"{name} (%)" for name in ("line", "mean", "lowest", "highest", "ripple"))
PHASES = Block("pcc_phases", CONTRIBUTIONS.first_column + len(CAUSE_HEADINGS) + 1, ROWS, HEADINGS)

LINK = Block(
    "view_link",
    PHASES.first_column + len(HEADINGS) + 1,
    3,
    (*LINK_HEADINGS, "capacitor (%)", "reactor drop (%)", "above trip (%)"),
)


def build(book: Workbook, sheet: Worksheet, view_arguments: str) -> None:
    """Fill the sheet; `view_arguments` are the arguments of the drive functions for the drive in view."""
    plant = f"{schedule.input_span()},{names.SITE},{names.CALL_SETTINGS}"
    page.heading(
        sheet, names.ARRAYS_SHEET, "Array results that the other sheets refer to. Nothing to enter here."
    )
    for block, formula in (
        (PCC, f"HD_PCC({plant})"),
        (SPECTRUM, f"HD_SPECTRUM({view_arguments})"),
        (WAVEFORM, f"HD_WAVEFORM({view_arguments})"),
        (DRIVES, f"HD_DRIVES({plant})"),
        (CONTRIBUTIONS, f"HD_CONTRIBUTIONS({plant})"),
        (PHASES, f"HD_PCC_PHASES({plant})"),
        (LINK, f"HD_LINK_DUTY({view_arguments})"),
    ):
        page.put_text(sheet, HEADER_ROW - 1, block.first_column, block.name, style.SUBTITLE)
        page.headings(sheet, HEADER_ROW, block.headings, block.first_column)
        for row in sheet[block.cells]:
            for cell in row:
                cell.style = style.ARRAY
        sheet[block.cells.split(":")[0]] = ArrayFormula(block.cells, f"={formula}")
        names.define(book, block.name, sheet, block.cells)
    _joined_tags(book, sheet)
    sheet.row_dimensions[HEADER_ROW].height = 38
    page.widths(sheet, *[12.0] * (LINK.first_column + len(LINK.headings)))
    sheet.freeze_panes = f"A{FIRST_ROW}"
    page.set_up(sheet, area="A1:H3")


def _joined_tags(book: Workbook, sheet: Worksheet) -> None:
    page.put_text(sheet, HEADER_ROW - 1, TAGS.first_column, TAGS.name, style.SUBTITLE)
    page.headings(sheet, HEADER_ROW, TAGS.headings, TAGS.first_column)
    tag = get_column_letter(DRIVES.first_column)
    for (cell,) in sheet[TAGS.cells]:
        cell.style = style.ARRAY
        cell.value = f'=IFERROR({tag}{cell.row}&"","")'
    names.define(book, TAGS.name, sheet, TAGS.cells)
