"""Sheet of the drives of a plant: an Excel table whose computed columns fill themselves."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.workbooks import (
    drives_sheet,
    names,
    page,
    plant_names,
    plant_schedule,
    schedule,
    style,
    validation,
)
from xlcalc.workbooks.labels import label
from xlcalc.workbooks.plant_data import PlantData
from xlcalc.worksheet.functions.network_fields import PLANT_DRIVES

HEADER_ROW: Final = 6
BUS: Final = "Bus"


def build(book: Workbook, sheet: Worksheet, data: PlantData) -> None:
    """Fill the sheet with the schedule of `data`."""
    inputs = plant_schedule.input_headings()
    computed = plant_schedule.calculated()
    width = len(inputs) + len(computed)
    last_row = HEADER_ROW + len(data.drives)
    page.widths(sheet, 10, 24, 9, 8, 7, 10, 12, 8, 10, 9, 8, 9, 9, 9, 9, *[12.5] * len(computed))
    page.heading(
        sheet,
        "Drives",
        "One row per drive or group of equal drives. Type or paste below the last row: the table grows.",
    )
    page.study_title(sheet)
    view = plant_names.VIEW_NAME
    page.put(
        sheet, 4, 1, f'="White columns: case in view (chosen on the sheet PCC), "&{view}', style.SUBTITLE
    )
    page.headings(sheet, HEADER_ROW, (*inputs, *(column.heading for column in computed)))
    sheet.row_dimensions[HEADER_ROW].height = 38
    for row, drive in enumerate(data.drives, start=HEADER_ROW + 1):
        drives_sheet.fill_row(sheet, row, drive, inputs, computed)
    drives_sheet.add_table(sheet, last_row, inputs, computed, HEADER_ROW)
    book.defined_names[names.TAGS] = DefinedName(names.TAGS, attr_text=f"{names.TABLE}[Tag]")
    fields = tuple(field for field in schedule.shown(PLANT_DRIVES.fields) if label(field.name) != BUS)
    drives_sheet.add_checks(sheet, HEADER_ROW, last_row, inputs, width, fields)
    letter = get_column_letter(inputs.index(BUS) + 1)
    buses = plant_names.column("buses", "name")
    validation.add_list(
        sheet, f"{letter}{HEADER_ROW + 1}:{letter}{last_row}", buses, BUS, "Bus of the sheet Network."
    )
    page.set_up(
        sheet,
        area=names.area(1, 1, last_row, width),
        orientation="landscape",
        title_rows=f"{HEADER_ROW}:{HEADER_ROW}",
        protect=False,
    )
    sheet.freeze_panes = f"B{HEADER_ROW + 1}"
