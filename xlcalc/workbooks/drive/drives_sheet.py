"""Sheet of the drive schedule: room for rows; an Excel table with computed columns holds the first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.table import Table, TableFormula, TableStyleInfo
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, outside
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.tables import normalised
from xlcalc.workbooks.drive import schedule, site_sheet
from xlcalc.workbooks.drive.study_data import StudyData
from xlcalc.workbooks.kit import marks, page, validation
from xlcalc.workbooks.kit.labels import label

TOTALS_ROW: Final = 4
TOTALS_COLUMNS: Final = 3
HEADER_ROW: Final = site_sheet.DRIVES_ROW
TEXT_COLUMNS: Final = ("Tag", "Description", "Unit", "Bus")
FOLDED: Final = "filter "
"""Columns whose heading begins so are folded away until a row has a value there."""
WIDTHS: Final = (10, 24, 9, 8, 6, 10, 9, 7.5, 9, 9, 7.5, 9, 9, 9, 9, 9)
"""Of the inputs."""
ROOM: Final = 500
"""Rows below the headings that are read."""
SPARE: Final = 10
"""Rows below those filled in whose computed columns stay: LibreOffice prints as far as they go."""
PREPARED: Final = 25
"""Rows of the Excel table, whose computed columns are filled; rows of the room below it are read as well.

They fill one page, because LibreOffice prints blank ones too."""


def build(book: Workbook, sheet: Worksheet, data: StudyData) -> None:
    """Fill the sheet with the schedule of `data`."""
    inputs = schedule.input_headings()
    computed = schedule.calculated()
    width = len(inputs) + len(computed)
    page.widths(sheet, 10, 26, 10, 9, 7, 11, 10, 8, 11, 10, 9, 9, 9, 9, *[11] * 5, 9, 14, *[10] * 4)
    page.heading(sheet, "Drives", room_text(HEADER_ROW, computed=True))
    page.study_title(sheet)
    _totals(sheet)
    fault(sheet, HEADER_ROW - 1)
    fill(book, sheet, HEADER_ROW, data.drives, inputs, computed, TOTALS_COLUMNS)
    add_checks(sheet, HEADER_ROW, inputs, width, schedule.shown(DRIVES.fields))
    page.set_up(
        sheet,
        area=names.area(1, 1, HEADER_ROW + ROOM, width),
        orientation="landscape",
        title_rows=f"{HEADER_ROW}:{HEADER_ROW}",
        protect=False,
    )
    page.print_to(sheet, names.LAST_DRIVE_ROW, width, HEADER_ROW + ROOM)
    sheet.freeze_panes = f"B{HEADER_ROW + 1}"


def room_text(header_row: int, *, computed: bool) -> str:
    """A formula for the rows that are read, in every host."""
    last = f"ROW(A{header_row})+ROWS({names.TABLE}[{label('tag')}])"
    white = f'" White columns fill themselves to row "&{last}&"."' if computed else '""'
    return (
        f'="One row per drive or group of equal drives. Rows "&ROW(A{header_row + 1})&" to "'
        f'&ROW(A{header_row + ROOM})&" are in the study, blank ones are passed over."&{white}'
    )


def fault(sheet: Worksheet, row: int) -> None:
    """A line on inputs that would be left out, blank where there are none."""
    page.put(sheet, row, 1, f"={names.INPUT_FAULT}", style.STRONG)
    marks.formula(sheet, f"A{row}", f'$A${row}<>""', style.BAD)


def fill(
    book: Workbook,
    sheet: Worksheet,
    header_row: int,
    drives: Sequence[Mapping[str, object]],
    inputs: tuple[str, ...],
    computed: tuple[schedule.Calculated, ...],
    used: int,
    spare: int | None = None,
) -> None:
    """Headings, rows and the room below them, with its names; what lies around it is watched.

    Above the headings the first `used` columns are in use. Computed columns are filled for all prepared rows,
    or for `spare` rows below those of `drives`.
    """
    prepared = PREPARED if spare is None else min(PREPARED, len(drives) + spare)
    width = len(inputs) + len(computed)
    above = names.area(1, used + 1, header_row - 1, width)
    page.headings(sheet, header_row, (*inputs, *(column.heading for column in computed)))
    sheet.row_dimensions[header_row].height = 38
    first, bottom = header_row + 1, header_row + ROOM
    for row in range(first, bottom + 1):
        drive = drives[row - first] if row - first < len(drives) else {}
        fill_row(sheet, row, drive, inputs, computed if row <= header_row + prepared else ())
    add_table(sheet, header_row + prepared, inputs, computed, header_row)
    names.define(book, names.DRIVE_INPUTS, sheet, names.area(header_row, 1, bottom, len(inputs)))
    names.define(book, names.TAGS, sheet, f"A{first}:A{bottom}")
    if computed:
        cells = names.area(first, len(inputs) + 1, bottom, width)
        names.define(book, names.DRIVE_FIGURES, sheet, cells)
    outside.frame(book, sheet, "drives", bottom=bottom, width=width, above=above)
    fold(sheet, inputs, drives)


def fold(sheet: Worksheet, inputs: Sequence[str], drives: Sequence[Mapping[str, object]]) -> None:
    """Fold away the columns of filters where no row has one; the + above the columns shows them."""
    used = {normalised(heading) for drive in drives for heading in drive}
    for number, heading in enumerate(map(normalised, inputs), start=1):
        if heading.startswith(FOLDED) and heading not in used:
            dimension = sheet.column_dimensions[get_column_letter(number)]
            dimension.hidden, dimension.outlineLevel = True, 1


def cells_of(heading: str, headings: Sequence[str], header_row: int = HEADER_ROW) -> str:
    """Reference to the column below a heading, as long as the room."""
    letter = get_column_letter(list(headings).index(heading) + 1)
    return names.reference(names.DRIVES_SHEET, f"{letter}{header_row + 1}:{letter}{header_row + ROOM}")


def column(heading: str) -> str:
    """Reference to a column of the drive study."""
    return cells_of(heading, (*schedule.input_headings(), *(c.heading for c in schedule.calculated())))


def _totals(sheet: Worksheet) -> None:
    page.section(sheet, TOTALS_ROW, "Totals", TOTALS_COLUMNS)
    quantity, link, load, tag = map(column, ("Quantity", "Link power (kW)", "Load (%)", "Tag"))
    count = f'SUM({quantity})+SUMPRODUCT(({tag}<>"")*({quantity}=""))'
    one, full = f'--({quantity}="")', f'100*({load}="")'
    rated = f"SUMPRODUCT({quantity},{link})+SUMPRODUCT({one},{link})"
    running = "+".join(f"SUMPRODUCT({q},{link},{at})" for q in (quantity, one) for at in (load, full))
    cells = (
        ("Drives", f"={count}", "0"),
        ("Link power, rated (kW)", _of_all(f"{rated}"), "0"),
        ("Link power, running (kW)", _of_all(f"({running})/100"), "0"),
        ("Highest THD (%)", f"=MAX({column('THD (%)')})", "0.0"),
    )
    row = TOTALS_ROW + 1
    for text, formula, number_format in cells:
        for number in (1, 2):
            sheet.cell(row, number).style = style.LABEL
        page.put(sheet, row, 1, text, style.LABEL)
        sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=2)
        page.put(sheet, row, 3, formula, style.RESULT, number_format)
        row += 1
    marks.errors(sheet, f"C{TOTALS_ROW + 1}:C{row - 1}")


def _of_all(total: str) -> str:
    """A total, unless rows below the prepared ones lack their link power."""
    missing = f'SUMPRODUCT(({column("Tag")}<>"")*({column("Link power (kW)")}=""))'
    return f'=IF({missing}>0,"not for all rows",{total})'


def fill_row(
    sheet: Worksheet,
    row: int,
    drive: Mapping[str, object],
    inputs: tuple[str, ...],
    computed: tuple[schedule.Calculated, ...],
) -> None:
    """Inputs and formulas of one drive."""
    given = {normalised(heading): value for heading, value in drive.items()}
    for number, heading in enumerate(inputs, start=1):
        name = style.INPUT_TEXT if heading in TEXT_COLUMNS else style.INPUT
        page.put(sheet, row, number, given.get(normalised(heading)), name)
    for number, field in enumerate(computed, start=len(inputs) + 1):
        page.put(sheet, row, number, field.formula, style.RESULT, field.number_format)


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
    sheet: Worksheet, header_row: int, inputs: tuple[str, ...], width: int, columns: Sequence[Field]
) -> None:
    """Validate the inputs of the room; mark errors, tags that come twice and missing values."""
    fields = {label(field.name): field for field in columns}
    first, last = header_row + 1, header_row + ROOM
    for number, heading in enumerate(inputs, start=1):
        if heading in fields:
            validation.add(sheet, names.area(first, number, last, number), fields[heading])
    if width > len(inputs):
        marks.errors(sheet, names.area(first, len(inputs) + 1, last, width))
    tags = f"$A${first}:$A${last}"
    marks.formula(sheet, f"A{first}:A{last}", f"COUNTIF({tags},$A{first})>1", style.BAD)
    typed = f"COUNTA($A{first}:${get_column_letter(len(inputs))}{first})>0"
    for number, heading in enumerate(inputs, start=1):
        if heading in fields and fields[heading].required:
            cell = f"{get_column_letter(number)}{first}"
            condition = f'AND({typed},${cell}="")'
            marks.formula(sheet, names.area(first, number, last, number), condition, style.BAD)
