"""Sheet of one bus in one case as the point of common coupling: verdict, charts, table by order."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.workbooks.drive import pcc_sheet
from xlcalc.workbooks.kit import marks, page, validation
from xlcalc.workbooks.plant import cases_sheet, plant_arrays
from xlcalc.workbooks.plant.plant_drives_sheet import COUPLED

CHOICE_ROW: Final = 10
LINE_HEIGHT: Final = 15
REMARKS_HEIGHT: Final = 100
"""Room for what a plant with every kind of load has to say."""


def build(book: Workbook, sheet: Worksheet) -> None:
    """Fill the sheet; what is chosen here is the case in view of the whole workbook."""
    pcc_sheet.fill(
        book,
        sheet,
        lambda quantity: plant_arrays.value(plant_names.VIEW_BUS, quantity, plant_names.VIEW_JUDGED),
    )
    page.put(
        sheet,
        2,
        1,
        "One bus in one case, coupled. Choose both below; Drives, Impedance and Equipment follow the case.",
        style.SUBTITLE,
    )
    for column in range(1, pcc_sheet.COLUMNS + 1):
        sheet.cell(CHOICE_ROW, column).style = style.LABEL
    page.put(sheet, CHOICE_ROW, 1, "PCC (bus), case", style.LABEL)
    sheet.merge_cells(start_row=CHOICE_ROW, end_row=CHOICE_ROW, start_column=1, end_column=2)
    buses = plant_names.column("buses", "name")
    page.put(sheet, CHOICE_ROW, 3, f"=INDEX({buses},1)", style.INPUT_TEXT)
    sheet.cell(CHOICE_ROW, 4).style = style.INPUT_TEXT
    sheet.merge_cells(start_row=CHOICE_ROW, end_row=CHOICE_ROW, start_column=3, end_column=4)
    validation.add_list(sheet, f"C{CHOICE_ROW}", buses, "PCC", "Choose a bus of the sheet Network.")
    names.define(book, plant_names.VIEW_BUS, sheet, f"C{CHOICE_ROW}")
    page.put(sheet, CHOICE_ROW, 5, 1, style.INPUT)
    numbers = ",".join(str(number) for number in range(1, plant_names.CASES + 1))
    rule = DataValidation(type="list", formula1=f'"{numbers}"', allow_blank=False)
    rule.promptTitle, rule.prompt = "Case", "Number of a case of the sheet Cases."
    rule.errorTitle, rule.error = "Case", f"Enter one of {numbers}."
    rule.showInputMessage = rule.showErrorMessage = True
    validation.attach(sheet, f"E{CHOICE_ROW}", rule)
    names.define(book, plant_names.VIEW_CASE, sheet, f"E{CHOICE_ROW}")
    shown = ",".join(cases_sheet.name_text(number) for number in range(1, plant_names.CASES + 1))
    page.put(sheet, CHOICE_ROW, 6, f"=CHOOSE({plant_names.VIEW_CASE},{shown})", style.LABEL)
    sheet.merge_cells(start_row=CHOICE_ROW, end_row=CHOICE_ROW, start_column=6, end_column=8)
    names.define(book, plant_names.VIEW_NAME, sheet, f"F{CHOICE_ROW}")
    pcc_sheet.count(sheet, CHOICE_ROW + 1, COUPLED[1])
    pcc_sheet.wide(sheet, CHOICE_ROW + 2, "Worst of all cases", 4)
    page.put(sheet, CHOICE_ROW + 2, 3, f"={names.STUDY_VERDICT}", style.RESULT_TEXT)
    page.put(sheet, CHOICE_ROW + 2, 5, "all PCCs, cases and checks: sheet Verdicts", style.LABEL)
    sheet.merge_cells(start_row=CHOICE_ROW + 2, end_row=CHOICE_ROW + 2, start_column=5, end_column=8)
    sheet.row_dimensions[CHOICE_ROW + 2].height = LINE_HEIGHT
    sheet.row_dimensions[pcc_sheet.VERDICT_ROW + 2].height = REMARKS_HEIGHT
    marks.verdict(sheet, f"C{CHOICE_ROW + 2}")
