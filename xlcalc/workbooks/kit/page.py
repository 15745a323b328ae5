"""Page set-up and protection shared by all sheets; widths are fitted, so A4 and Letter both work."""

from __future__ import annotations

import math
import textwrap
from typing import Literal

from openpyxl.utils import get_column_letter
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.header_footer import HeaderFooterItem
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names
from xlcalc.files.celltext import STARTS, storable

A4 = 9
HEADING_LINE = 12.0
HEADING_SIGNS = 0.95
"""Signs of a bold heading per unit of width."""
PRINT_AREA = "_xlnm.Print_Area"
UNFOLD = (
    "select the rows above and below and unhide them, or press + at the left (unprotect first, no password)"
)
FOOTER_CAUTION = "Preliminary study: verify by measurement"


def set_up(
    sheet: Worksheet,
    *,
    area: str,
    orientation: Literal["portrait", "landscape"] = "portrait",
    title_rows: str | None = None,
    protect: bool = True,
) -> None:
    """Fit to width, margins for A4 and Letter, header, footer, print area; lock all but the inputs.

    A hidden sheet gets no print area: LibreOffice would print it.
    """
    sheet.sheet_view.showGridLines = False
    sheet.page_setup.orientation = orientation
    sheet.page_setup.paperSize = A4
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    margins = sheet.page_margins
    margins.left = margins.right = 0.5
    margins.top = margins.bottom = 0.75
    margins.header = margins.footer = 0.35
    sheet.print_options.horizontalCentered = True
    _running(sheet.oddHeader, "Drive harmonic study", "", "&A")
    _running(sheet.oddFooter, "&F", FOOTER_CAUTION, "Page &P of &N")
    if sheet.sheet_state == "visible":
        sheet.print_area = area
    if title_rows:
        sheet.print_title_rows = title_rows
    if protect:
        sheet.protection.sheet = True
        sheet.protection.formatColumns = False
        sheet.protection.formatRows = False
        sheet.protection.selectLockedCells = False


def print_to(sheet: Worksheet, last_row: str, width: int, bottom: int) -> None:
    """Let the print area end in the row that the cell named `last_row` gives, `bottom` at most.

    Only Excel follows it; openpyxl warns and drops it, and LibreOffice prints the whole sheet.
    """
    letter, title = get_column_letter(width), names.quoted(sheet.title)
    area = f"{title}!$A$1:INDEX({title}!${letter}$1:${letter}${bottom},{last_row})"
    sheet.print_area = None
    sheet.defined_names[PRINT_AREA] = DefinedName(PRINT_AREA, attr_text=area)


def _running(item: HeaderFooterItem | None, left: str, centre: str, right: str) -> None:
    """Texts of a header or footer."""
    if item is None:
        return
    for part, text in ((item.left, left), (item.center, centre), (item.right, right)):
        if text:
            part.text = text
            part.size = 8
            part.font = style.FONT


def widths(sheet: Worksheet, *columns: float) -> None:
    """Column widths from column A on."""
    for number, width in enumerate(columns, start=1):
        sheet.column_dimensions[get_column_letter(number)].width = width


def heading(sheet: Worksheet, title: str, subtitle: str) -> None:
    """Title in row 1, what the sheet is for in row 2."""
    put(sheet, 1, 1, title, style.TITLE)
    put(sheet, 2, 1, subtitle, style.SUBTITLE)
    sheet.row_dimensions[1].height = 26


def study_title(sheet: Worksheet) -> None:
    """Title of the study in row 3."""
    put(sheet, 3, 1, f'=IF({names.TITLE}="","",{names.TITLE})', style.STRONG)


def section(sheet: Worksheet, row: int, text: str, columns: int) -> None:
    """A band over `columns` columns."""
    for column in range(1, columns + 1):
        sheet.cell(row, column).style = style.SECTION
    sheet.cell(row, 1).value = text
    sheet.row_dimensions[row].height = 17


def unshown(sheet: Worksheet, row: int, column_name: str, shown: int, held: int, what: str) -> None:
    """A line on elements of the network beyond the rows in view, blank where there are none.

    `shown` rows are in view, `held` rows in all; the others are folded away.
    """
    count = f"COUNTA({column_name})"
    beyond = f'" more {what} stand in the network than this sheet holds; use the functions for them"'
    folded = f'"Rows for more than {shown} {what} are folded away: {UNFOLD}"'
    text = f'=IF({count}>{held},{count}-{held}&{beyond},IF({count}>{shown},{folded},""))'
    put(sheet, row, 1, text, style.STRONG)


def fold(sheet: Worksheet, first: int, last: int) -> None:
    """Fold rows away: they are neither seen nor printed nor drawn in charts until somebody unfolds them."""
    for row in range(first, last + 1):
        sheet.row_dimensions[row].outlineLevel = 1
        sheet.row_dimensions[row].hidden = True
    if last >= first:
        sheet.row_dimensions[last + 1].collapsed = True


def notes(sheet: Worksheet, row: int, texts: tuple[str, ...], columns: int) -> None:
    """Cautions below the tables, each over the width of the sheet."""
    width = sum(sheet.column_dimensions[get_column_letter(k)].width for k in range(1, columns + 1))
    for number, text in enumerate(texts, start=row):
        put_text(sheet, number, 1, text, style.BODY)
        sheet.merge_cells(start_row=number, end_row=number, start_column=1, end_column=columns)
        sheet.row_dimensions[number].height = 12.5 * math.ceil(1.15 * len(text) / width) + 4


def put(
    sheet: Worksheet, row: int, column: int, value: object, name: str, number_format: str | None = None
) -> None:
    """Value and named style of a cell; a text that begins with = stays text only through `put_text`."""
    cell = sheet.cell(row, column)
    cell.value = storable(value) if isinstance(value, str) else value  # type: ignore[assignment]
    cell.style = name
    if number_format:
        cell.number_format = number_format


def put_text(sheet: Worksheet, row: int, column: int, text: str, name: str) -> None:
    """A text that is never taken for a formula."""
    put(sheet, row, column, text, name)
    cell = sheet.cell(row, column)
    if text.startswith(STARTS):
        cell.data_type = "s"
        cell.quotePrefix = True


def headings(sheet: Worksheet, row: int, texts: tuple[str, ...], first_column: int = 1) -> None:
    """A row of column headings, high enough for those that take two lines or more."""
    lines = 1
    for column, text in enumerate(texts, start=first_column):
        put(sheet, row, column, text, style.HEADING)
        letter = get_column_letter(column)
        if letter in sheet.column_dimensions and text:
            room = max(4, int(sheet.column_dimensions[letter].width * HEADING_SIGNS))
            lines = max(lines, len(textwrap.wrap(text, room, break_long_words=False)))
    if lines > 1 and not sheet.row_dimensions[row].height:
        sheet.row_dimensions[row].height = HEADING_LINE * lines + 3.0


def break_before(sheet: Worksheet, row: int) -> None:
    """Start a new printed page with this row."""
    sheet.row_breaks.append(Break(id=row - 1))
