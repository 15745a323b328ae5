"""Sheet of the drive schedule: an Excel table whose computed columns fill themselves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.table import Table, TableFormula, TableStyleInfo
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.workbooks import marks, names, page, schedule, style, validation
from xlcalc.workbooks.labels import label
from xlcalc.workbooks.study_data import StudyData
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.plant_fields import DRIVES
from xlcalc.worksheet.ranges import normalised

TOTALS_ROW = 4
TOTALS_COLUMNS = 3
HEADER_ROW = 10
TEXT_COLUMNS = ("Tag", "Description", "Unit", "Bus")


def build(book: Workbook, sheet: Worksheet, data: StudyData) -> None:
    """Fill the sheet with the schedule of `data`."""
    inputs = schedule.input_headings()
    computed = schedule.calculated()
    last_row = HEADER_ROW + len(data.drives)
    width = len(inputs) + len(computed)
    page.widths(sheet, 10, 26, 10, 9, 7, 11, 10, 8, 11, 10, 9, 9, 9, 9, *[11] * 4, 9, 14, *[10] * 4)
    page.heading(
        sheet,
        "Drives",
        "One row per drive or group of equal drives. Type or paste below the last row: the table grows and "
        "its white columns fill themselves.",
    )
    page.study_title(sheet)
    _totals(sheet)
    page.headings(sheet, HEADER_ROW, (*inputs, *(column.heading for column in computed)))
    sheet.row_dimensions[HEADER_ROW].height = 38
    for row, drive in enumerate(data.drives, start=HEADER_ROW + 1):
        fill_row(sheet, row, drive, inputs, computed)
    add_table(sheet, last_row, inputs, computed)
    book.defined_names[names.TAGS] = DefinedName(names.TAGS, attr_text=f"{names.TABLE}[Tag]")
    add_checks(sheet, HEADER_ROW, last_row, inputs, width, schedule.shown(DRIVES.fields))
    page.set_up(
        sheet,
        area=names.area(1, 1, last_row, width),
        orientation="landscape",
        title_rows=f"{HEADER_ROW}:{HEADER_ROW}",
        protect=False,
    )
    sheet.freeze_panes = f"B{HEADER_ROW + 1}"


def _totals(sheet: Worksheet) -> None:
    page.section(sheet, TOTALS_ROW, "Totals", TOTALS_COLUMNS)
    quantity, link, load = (
        f"{names.TABLE}[{heading}]" for heading in ("Quantity", "Link power (kW)", "Load (%)")
    )
    cells = (
        ("Drives", f"=SUM({quantity})", "0"),
        ("Link power, rated (kW)", f"=SUMPRODUCT({quantity},{link})", "0"),
        ("Link power, running (kW)", f"=SUMPRODUCT({quantity},{link},{load})/100", "0"),
        ("Highest THD (%)", f"=MAX({names.TABLE}[THD (%)])", "0.0"),
    )
    row = TOTALS_ROW + 1
    for text, formula, number_format in cells:
        for column in (1, 2):
            sheet.cell(row, column).style = style.LABEL
        page.put(sheet, row, 1, text, style.LABEL)
        sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=2)
        page.put(sheet, row, 3, formula, style.RESULT, number_format)
        row += 1
    marks.errors(sheet, f"C{TOTALS_ROW + 1}:C{row - 1}")


def fill_row(
    sheet: Worksheet,
    row: int,
    drive: Mapping[str, object],
    inputs: tuple[str, ...],
    computed: tuple[schedule.Calculated, ...],
) -> None:
    """Inputs and formulas of one drive."""
    given = {normalised(heading): value for heading, value in drive.items()}
    for column, heading in enumerate(inputs, start=1):
        name = style.INPUT_TEXT if heading in TEXT_COLUMNS else style.INPUT
        page.put(sheet, row, column, given.get(normalised(heading)), name)
    for column, field in enumerate(computed, start=len(inputs) + 1):
        page.put(sheet, row, column, field.formula, style.RESULT, field.number_format)


def add_table(
    sheet: Worksheet,
    last_row: int,
    inputs: tuple[str, ...],
    computed: tuple[schedule.Calculated, ...],
    header_row: int = HEADER_ROW,
) -> None:
    """The rows as a table whose computed columns fill themselves."""
    headings = (*inputs, *(field.heading for field in computed))
    table = Table(displayName=names.TABLE, ref=names.area(header_row, 1, last_row, len(headings)))
    table.tableStyleInfo = TableStyleInfo(name="TableStyleLight1", showRowStripes=False)
    table._initialise_columns()  # type: ignore[attr-defined]
    for column, heading in zip(table.tableColumns, headings, strict=True):
        column.name = heading
    for column, field in zip(table.tableColumns[len(inputs) :], computed, strict=True):
        column.calculatedColumnFormula = TableFormula(attr_text=field.formula.removeprefix("="))
    sheet.add_table(table)


def add_checks(
    sheet: Worksheet,
    header_row: int,
    last_row: int,
    inputs: tuple[str, ...],
    width: int,
    columns: Sequence[Argument],
) -> None:
    """Validate the inputs of the table; mark errors, tags that come twice and missing values."""
    fields = {label(field.name): field for field in columns}
    first = header_row + 1
    for column, heading in enumerate(inputs, start=1):
        if heading in fields:
            validation.add(sheet, names.area(first, column, last_row, column), fields[heading])
    marks.errors(sheet, names.area(first, len(inputs) + 1, last_row, width))
    tags = f"$A${first}:$A${last_row}"
    marks.formula(sheet, f"A{first}:A{last_row}", f"COUNTIF({tags},$A{first})>1", style.BAD)
    required = [
        get_column_letter(column)
        for column, heading in enumerate(inputs, start=1)
        if heading in fields and fields[heading].required and heading != "Tag"
    ]
    for letter in required:
        condition = f'AND($A{first}<>"",{letter}{first}="")'
        marks.formula(sheet, f"{letter}{first}:{letter}{last_row}", condition, style.BAD)
