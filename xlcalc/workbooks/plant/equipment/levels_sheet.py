"""Sheet of the bus in view against every document of limits, not IEEE 519 alone."""

from __future__ import annotations

from typing import Final

from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.workbooks.kit import marks, page
from xlcalc.workbooks.plant import plant_arrays
from xlcalc.worksheet.functions.plant.network_levels import COLUMNS as LEVEL_COLUMNS
from xlcalc.worksheet.functions.plant.network_levels import ROWS

HEADING_ROW: Final = 6


FIRST_ROW: Final = HEADING_ROW + 1


NOTE_ROW: Final = FIRST_ROW + ROWS + 1


WIDTH: Final = len(LEVEL_COLUMNS)


FORMATS: Final = ("", "", "0.00", "0.00", "0", "0.00", "0.00", "", "")


CAUTIONS: Final = (
    "Which document applies is for the study to say: IEC 61000-2-2 and EN 50160 hold for public supplies, "
    "IEC 61000-2-4 inside a plant by its class, IEC TR 61000-3-6 gives planning levels that a network "
    "operator may replace by its own. A document gives no verdict beyond the voltages of its scope.",
    "IEEE 519, multiplier: limits of the other orders raised where the low orders are held to a quarter of "
    "theirs; where that condition fails the row equals the first.",
    "Limits that are not cross-checked, or of a superseded edition (last column), must be compared with a "
    "licensed copy before use.",
)


def build(sheet: Worksheet) -> None:
    """Fill the sheet."""
    page.widths(sheet, 27, 25, *[11.0] * 5, 17, 36)
    page.heading(sheet, "Other limits", "The bus in view against every document of limits; coupled.")
    page.study_title(sheet)
    chosen = (
        f'="Bus and case (chosen on the sheet PCC): "&{plant_names.VIEW_BUS}&", "&{plant_names.VIEW_NAME}'
    )
    page.put(sheet, 4, 1, chosen, style.SUBTITLE)
    page.section(sheet, HEADING_ROW - 1, "Verdicts", WIDTH)
    page.headings(sheet, HEADING_ROW, LEVEL_COLUMNS)
    sheet.row_dimensions[HEADING_ROW].height = 50
    for position in range(1, ROWS + 1):
        row = FIRST_ROW + position - 1
        for column, number_format in enumerate(FORMATS, start=1):
            source = plant_arrays.LEVELS.cell(position, column)
            if number_format:
                shown = f'=IF(ISERROR({source}),{source},IF(ISNUMBER({source}),{source},"-"))'
                page.put(sheet, row, column, shown, style.RESULT, number_format)
            else:
                blank = f'IF({source}&""="","-",{source}&"")'
                formula = f"=IF(ISERROR({source}),{source},{blank})"
                page.put(sheet, row, column, formula, style.RESULT_TEXT)
        sheet.row_dimensions[row].height = 25
        marks.verdict(sheet, f"H{row}")
        for value, limit in (("C", "D"), ("F", "G")):
            marks.margins(sheet, f"{value}{row}", f"({limit}{row}-{value}{row})", f"{limit}{row}")
    marks.errors(sheet, names.area(FIRST_ROW, 1, FIRST_ROW + ROWS - 1, WIDTH))
    page.notes(sheet, NOTE_ROW, CAUTIONS, WIDTH)
    page.set_up(
        sheet,
        area=names.area(1, 1, NOTE_ROW + len(CAUTIONS) - 1, WIDTH),
        orientation="landscape",
        title_rows="1:4",
    )
