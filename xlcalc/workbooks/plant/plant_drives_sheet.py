"""Sheet of the drives of a plant, with results of the case in view beside them."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.schema.inputs.drive import PLANT_DRIVES
from xlcalc.workbooks.drive import drives_sheet, schedule
from xlcalc.workbooks.drive.schedule import DESCRIPTION, Calculated, cell, shown
from xlcalc.workbooks.kit import page, validation
from xlcalc.workbooks.kit.labels import label
from xlcalc.workbooks.plant.plant_data import PlantData
from xlcalc.worksheet.functions.plant.plant_study import DRIVE_COLUMNS

HEADER_ROW: Final = 6
BUS: Final = "Bus"


def build(book: Workbook, sheet: Worksheet, data: PlantData, spare: int | None = None) -> None:
    """Fill the sheet with the schedule of `data`; `spare` as in `drives_sheet.fill`."""
    inputs = input_headings()
    computed = calculated()
    width = len(inputs) + len(computed)
    page.widths(sheet, *drives_sheet.WIDTHS, *[11] * len(computed))
    page.heading(sheet, "Drives", drives_sheet.room_text(HEADER_ROW, computed=True))
    page.study_title(sheet)
    view = plant_names.VIEW_NAME
    page.put(
        sheet, 4, 1, f'="White columns: case in view (chosen on the sheet PCC), "&{view}', style.SUBTITLE
    )
    drives_sheet.fault(sheet, HEADER_ROW - 1)
    drives_sheet.fill(book, sheet, HEADER_ROW, data.drives, inputs, computed, 1, spare)
    with_buses(sheet, HEADER_ROW, inputs, width)
    page.set_up(
        sheet,
        area=names.area(1, 1, HEADER_ROW + drives_sheet.ROOM, width),
        orientation="landscape",
        title_rows=f"{HEADER_ROW}:{HEADER_ROW}",
        protect=False,
    )
    page.print_to(sheet, names.LAST_DRIVE_ROW, width, HEADER_ROW + drives_sheet.ROOM)
    sheet.freeze_panes = f"B{HEADER_ROW + 1}"


def with_buses(sheet: Worksheet, header_row: int, inputs: tuple[str, ...], width: int) -> None:
    """Validate the inputs; the buses are those of the network."""
    fields = tuple(field for field in schedule.shown(PLANT_DRIVES.fields) if label(field.name) != BUS)
    drives_sheet.add_checks(sheet, header_row, inputs, width, fields)
    letter = get_column_letter(inputs.index(BUS) + 1)
    cells = f"{letter}{header_row + 1}:{letter}{header_row + drives_sheet.ROOM}"
    validation.add_list(sheet, cells, plant_names.column("buses", "name"), BUS, "Bus of the sheet Network.")


COUPLED: Final = ("drive_results", "drive_result_tags")
QUICK: Final = ("drive_quick", "drive_quick_tags")


def input_headings() -> tuple[str, ...]:
    """Headings of the inputs, the description after the tag."""
    first, *rest = (label(field.name) for field in shown(PLANT_DRIVES.fields))
    return (first, DESCRIPTION, *rest)


def input_span() -> str:
    """The inputs with their headings and all the room below them, the argument `drives`."""
    return names.DRIVE_INPUTS


def calculated() -> tuple[Calculated, ...]:
    """Computed columns, left to right."""

    def found(column: str, block: tuple[str, str]) -> str:
        """By tag in joined text: LibreOffice finds no text in the array of an add-in."""
        results, tags = block
        number = DRIVE_COLUMNS.index(column) + 1
        place = f'MATCH({cell("Tag")}&"",{tags},0)'
        return f'=IF({cell("Tag")}="","",IF(ISNA({place}),"off",INDEX({results},{place},{number})))'

    return (
        Calculated("Source (%)", found("source %", COUPLED), "0.00", "reactance that the drive sees"),
        Calculated("THD (%)", found("THD %", COUPLED), "0.0", "distortion of the line current, coupled"),
        Calculated("THD alone (%)", found("THD %", QUICK), "0.0", "the same with the drive alone on its bus"),
        Calculated("Fundamental (A)", found("fundamental A", COUPLED), "0.0", "of one drive at its bus"),
        Calculated("RMS (A)", found("rms A", COUPLED), "0.0", "of one drive at its bus"),
    )
