"""Sheet of what the equipment sheets need beyond the network: rating plates, load profile, prices."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, outside, plant_names
from xlcalc.schema.inputs.equipment import EQUIPMENT, LOAD_PROFILE
from xlcalc.schema.kinds import Choice, Text
from xlcalc.schema.tables import normalised
from xlcalc.workbooks.drive.site_sheet import as_cell
from xlcalc.workbooks.kit import marks, page, validation
from xlcalc.workbooks.kit.labels import default_text, label
from xlcalc.workbooks.plant.equipment.equipment_data import TABLES, DataTable
from xlcalc.workbooks.plant.plant_data import PlantData

COLUMNS: Final = max(len(table.fields) for table in TABLES)


CHOICE_ROW: Final = 4


TEXTS: Final = {"system_class": "Class of the system, for notches", "currency": "Currency of the prices"}


def build(book: Workbook, sheet: Worksheet, data: PlantData) -> None:
    """Fill the sheet and define a name for each column and for the load profile."""
    page.widths(sheet, 30, *[15.0] * (COLUMNS - 1))
    page.heading(
        sheet, "Equipment data", "Sand-coloured cells are inputs; the sheets of equipment look names up here."
    )
    page.study_title(sheet)
    row = _choices(book, sheet, data)
    for table in TABLES:
        row = _table(book, sheet, row + 1, table, data) + 1
    above = names.area(1, 2, CHOICE_ROW - 1, COLUMNS)
    outside.frame(book, sheet, "equipment data", bottom=row - 1, width=COLUMNS, above=above)
    page.set_up(sheet, area=names.area(1, 1, row - 1, COLUMNS), title_rows="1:3")
    sheet.freeze_panes = "B4"


def area_name(table: DataTable) -> str:
    """Name of the rows of a table."""
    return plant_names.column(table.title, "rows")


def _choices(book: Workbook, sheet: Worksheet, data: PlantData) -> int:
    page.section(sheet, CHOICE_ROW, "Choices", COLUMNS)
    given = {normalised(key): value for key, value in data.choices.items()}
    row = CHOICE_ROW
    for field in EQUIPMENT.fields:
        row += 1
        page.put(sheet, row, 1, TEXTS[field.name], style.LABEL)
        page.put(sheet, row, 2, given.get(normalised(field.name), field.default), style.INPUT_TEXT)
        page.put(sheet, row, 3, None, style.INPUT_TEXT)
        sheet.merge_cells(start_row=row, end_row=row, start_column=2, end_column=3)
        for column in range(4, COLUMNS + 1):
            sheet.cell(row, column).style = style.HELP
        page.put(sheet, row, 4, f"{field.doc} ({default_text(field)})", style.HELP)
        sheet.merge_cells(start_row=row, end_row=row, start_column=4, end_column=COLUMNS)
        sheet.row_dimensions[row].height = 26
        validation.add(sheet, f"B{row}", field)
        names.define(book, plant_names.CHOICES[field.name], sheet, f"B{row}")
    return row + 1


def _table(book: Workbook, sheet: Worksheet, row: int, table: DataTable, data: PlantData) -> int:
    """Title, headings, rows; returns the row after it."""
    page.section(sheet, row, table.heading, COLUMNS)
    page.headings(sheet, row + 1, tuple(label(field.name) for field in table.fields))
    sheet.row_dimensions[row + 1].height = 27
    given = [
        {normalised(key): value for key, value in line.items()}
        for line in data.equipment.get(table.title, ())
    ]
    first, rows = row + 2, max(table.rows, len(given))
    last = first + rows - 1
    for number in range(rows):
        values = given[number] if number < len(given) else {}
        for column, field in enumerate(table.fields, start=1):
            text = isinstance(field.kind, Text | Choice)
            value = as_cell(values.get(normalised(field.name)))
            page.put(sheet, first + number, column, value, style.INPUT_TEXT if text else style.INPUT)
    for column, field in enumerate(table.fields, start=1):
        cells = names.area(first, column, last, column)
        names.define(book, plant_names.column(table.title, field.name), sheet, cells)
        if column == 1 and len(table.sources) == 1:
            source = plant_names.column(table.sources[0], "name")
            validation.add_list(sheet, cells, source, "Name", f"{field.doc}.")
        else:
            validation.add(sheet, cells, field)
    key = f"$A${first}:$A${last}"
    marks.formula(sheet, names.area(first, 1, last, 1), f"COUNTIF({key},$A{first})>1", style.BAD)
    if table.sources:
        known = "+".join(f"COUNTIF({plant_names.column(s, 'name')},$A{first})" for s in table.sources)
        unknown = f'AND($A{first}<>"",{known}=0)'
        marks.formula(sheet, names.area(first, 1, last, 1), unknown, style.CLOSE)
    if table.title == LOAD_PROFILE:
        area = names.area(row + 1, 1, last, len(table.fields))
        names.define(book, plant_names.LOAD_PROFILE, sheet, area)
    names.define(book, area_name(table), sheet, names.area(first, 1, last, len(table.fields)))
    if len(table.fields) < COLUMNS:
        beside = names.area(row + 1, len(table.fields) + 1, last, COLUMNS)
        outside.watch(book, sheet, table.title, "beside", beside)
    outside.watch(book, sheet, table.title, "below", names.area(last + 1, 1, last + 1, COLUMNS))
    page.fold(sheet, first + max(table.shown, len(given) + 1), last)
    return last + 1
