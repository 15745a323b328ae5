"""The pages behind the cover: single-line diagram, what the study rests on, how to verify it."""

from __future__ import annotations

import math
import re
from typing import Final

from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.drawing.marks import Drawing
from xlcalc.files.books import names
from xlcalc.workbooks.drive import summary_sheet
from xlcalc.workbooks.kit import page

DIAGRAM: Final = "Single-line"
BASIS: Final = "Basis"
COLUMNS: Final = 4
WIDTHS: Final = (34.0, 34.0, 24.0, 24.0)
DIAGRAM_TOP: Final = 62.0
COLUMN_POINTS: Final = 48.0
ROW_POINTS: Final = 15.0
MEMORY: Final = re.compile(r"(kept |recollection; )?from memory( \((high|moderate|low)\))?")
CUSTOMER: Final = "secondary source, to be checked against a licensed copy"
RECOLLECTION: Final = re.compile(r": recollection; no text read|, recalled, not read in a licensed copy")

FOLDED: Final = ("Handling", "Settings of a drive on")
RECOMMENDED: Final = {
    summary_sheet.NEXT: "Recommendation",
    summary_sheet.MEND: "The point in the line above is to be settled first; until then there is no verdict.",
}

DEFINITIONS: Final = (
    (
        "Point of common coupling (PCC)",
        "The point of the supply nearest to the plant at which another customer is or could be "
        "connected. Its bus and voltage stand on the sheet Summary and in the single-line diagram, "
        "which marks it. Limits are applied there, not at single drives.",
    ),
    (
        "Isc",
        "Three-phase short-circuit current at the PCC from the supply alone, from the fault level "
        "stated for the utility and, for a bus below it, the impedances in between. Machines of the"
        " plant are left out.",
    ),
    (
        "IL",
        "Maximum demand current at the PCC, fundamental, rms. The standard takes the mean of the "
        "monthly maxima of the last 12 months; where it was not stated it is estimated as the "
        "fundamental of all loads of the study at the stated operating point, which the sheet "
        "Summary says.",
    ),
    (
        "TDD, percent values",
        "Harmonic currents, orders 2 to 50, in percent of IL; voltages in percent of nominal. On an"
        " unbalanced supply the phase with the largest value counts.",
    ),
    (
        "Operating states judged",
        "The supply as stated, and where unbalance and background distortion were not stated also a"
        " typical supply; both ends of what static loads may damp; both rows of the limit table "
        "near an edge. The worst counts.",
    ),
    (
        "Weekly and daily values",
        "The standard compares percentiles of measured 10 min and 3 s values over a week or a day "
        "with its limits. The study computes one steady state and compares it with the limit for "
        "the weekly 95th percentile of 10 min values.",
    ),
)
VERIFICATION: Final = (
    "Measure at the PCC, currents and voltages of all three phases, with an instrument of class"
    " A or S to IEC 61000-4-30 that groups harmonics to IEC 61000-4-7; window 10 cycles at 50 "
    "Hz or 12 cycles at 60 Hz.",
    "Record for one week or more of normal operation, with 3 s and 10 min values to order 50. "
    "Note supply switching, capacitor steps and which drives ran.",
    "Compare the 95th and 99th percentiles of the 10 min values and the 99th of the 3 s values "
    "with the limits of the edition named in this study, with IL from the demand of 12 months.",
    "Compare at one recorded operating state with the study: load of the drives, short-circuit "
    "level and background on that day. Measure the background with the drives off.",
    "Choose current transformers and probes for order 50; resistive or clamp-on sensors are to "
    "be compensated in angle. The work is done by qualified persons under the safety rules of "
    "the site.",
)


def diagram_sheet(sheet: Worksheet, drawing: Drawing) -> None:
    """Title and print area of the sheet that gets the drawing."""
    page.heading(sheet, "Single-line diagram", "")
    columns = max(8, math.ceil(drawing.width / COLUMN_POINTS) + 1)
    rows = math.ceil((DIAGRAM_TOP + drawing.height) / ROW_POINTS) + 1
    page.widths(sheet, *[9.5] * columns)
    wide = drawing.width > drawing.height
    page.set_up(
        sheet,
        area=names.area(1, 1, rows, columns),
        orientation="landscape" if wide else "portrait",
    )
    sheet.page_setup.fitToHeight = 1
    note = "Drives by bus and pulse number; the drive list has every row. Isc: three-phase, of the supply."
    page.put(sheet, 2, 1, note, style.SUBTITLE)


def basis_sheet(sheet: Worksheet, assumed: str) -> int:
    """Definitions, assumed values, verification; returns the last row."""
    page.widths(sheet, *WIDTHS)
    page.heading(sheet, "Basis of the study and verification", "")
    row = 3
    page.section(sheet, row, "Definitions", COLUMNS)
    for term, text in DEFINITIONS:
        row = _wide(sheet, row + 1, term, text)
    row += 2
    page.section(sheet, row, "Assumed values: nobody stated them, these numbers were used", COLUMNS)
    for what, values in _assumed(assumed):
        row = _wide(sheet, row + 1, what, values)
    row += 2
    page.section(sheet, row, "How to verify by measurement", COLUMNS)
    page.notes(sheet, row + 1, VERIFICATION, COLUMNS)
    row += len(VERIFICATION)
    page.set_up(sheet, area=names.area(1, 1, row, COLUMNS))
    return row


def _assumed(text: str) -> list[tuple[str, str]]:
    """Groups of assumed values of the text that the sheet Checks holds."""
    groups = text.removeprefix("Blank cells stand for: ").split("; ") if text else []
    found = [group.partition(": ") for group in groups if group]
    return [(what.capitalize(), values) for what, _, values in found if values] or [
        ("None", "every value was stated")
    ]


def _wide(sheet: Worksheet, row: int, label: str, text: str) -> int:
    page.put_text(sheet, row, 1, label, style.LABEL)
    for column in range(2, COLUMNS + 1):
        sheet.cell(row, column).style = style.RESULT_TEXT
    page.put_text(sheet, row, 2, text, style.RESULT_TEXT)
    sheet.merge_cells(start_row=row, end_row=row, start_column=2, end_column=COLUMNS)
    return row


def for_a_reader(sheet: Worksheet) -> None:
    """Leave out what is meant for the person who types, and word sources for a customer."""
    if sheet.cell(2, 1).style == style.SUBTITLE:
        sheet.cell(2, 1).value = None
    _fold_for_a_reader(sheet)
    _without_ranges(sheet)
    for row in sheet.iter_rows():
        for cell in row:
            if cell.value in (summary_sheet.NEXT, summary_sheet.MEND):
                cell.value = RECOMMENDED[str(cell.value)]
            elif isinstance(cell.value, str):
                for hint in (summary_sheet.MAKE_PAGES, summary_sheet.COMPARE):
                    cell.value = cell.value.replace(hint, "")
            if isinstance(cell.value, str) and "memory" in cell.value:
                cell.value = RECOLLECTION.sub("", MEMORY.sub(CUSTOMER, cell.value))


def _fold_for_a_reader(sheet: Worksheet) -> None:
    """Fold away how to handle the workbook, and settings that repeat the cells above them."""
    inside = False
    for row in range(1, sheet.max_row + 1):
        cell = sheet.cell(row, 1)
        if cell.style == style.SECTION:
            inside = str(cell.value).startswith(FOLDED)
        if inside:
            sheet.row_dimensions[row].hidden = True


def _without_ranges(sheet: Worksheet) -> None:
    """Take away the ranges that help to type an input."""
    column = 0
    for row in range(1, sheet.max_row + 1):
        if sheet.cell(row, 1).style == style.SECTION:
            texts = [cell.value for cell in sheet[row]]
            column = texts.index("valid") + 1 if "valid" in texts else 0
            if column:
                sheet.cell(row, column).value = None
        elif column and sheet.cell(row, column).style == style.HELP:
            sheet.cell(row, column).value = None
