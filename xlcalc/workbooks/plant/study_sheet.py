"""Sheet of the plant study: title block and settings."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.files.books import names, outside
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.settings import STUDY_FIELDS, SUPPLY_AND_DRIVE_FIELDS, TITLE_FIELDS
from xlcalc.workbooks.drive import site_sheet
from xlcalc.workbooks.kit import page
from xlcalc.workbooks.plant.plant_data import PlantData


def shown_settings() -> tuple[Field, ...]:
    """Settings that the sheet offers: all but those of a case and the rarer background orders."""
    return tuple(
        field
        for field in (*STUDY_FIELDS, *SUPPLY_AND_DRIVE_FIELDS)
        if not field.name.startswith("background") or field.name.startswith(site_sheet.SHOWN_BACKGROUND)
    )


def build(book: Workbook, sheet: Worksheet, data: PlantData) -> None:
    """Fill the sheet and define its names."""
    page.widths(sheet, 32, 18, 30, 58)
    page.heading(
        sheet,
        "Study",
        f"{site_sheet.INPUTS_TEXT} Then fill in Network, Drives and Cases; the other sheets follow.",
    )
    row = site_sheet.inputs(book, sheet, 4, "Study", names.STUDY, TITLE_FIELDS, data.study)
    site_sheet.name_cell(book, sheet, row - len(TITLE_FIELDS), TITLE_FIELDS, "title", names.TITLE)
    settings = shown_settings()
    row = site_sheet.inputs(
        book,
        sheet,
        row + 1,
        "Settings of all cases",
        names.SETTINGS,
        settings,
        data.settings,
        needed=site_sheet.NEEDED,
    )
    for field, name in (("edition", names.EDITION), ("frequency hz", names.FREQUENCY)):
        site_sheet.name_cell(book, sheet, row - len(settings), settings, field, name)
    outside.frame(book, sheet, "study inputs", bottom=row, width=site_sheet.COLUMNS, above=site_sheet.ABOVE)
    page.set_up(sheet, area=names.area(1, 1, row - 1, site_sheet.COLUMNS), title_rows="1:2")
    sheet.freeze_panes = "A4"
