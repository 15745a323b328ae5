"""The first sheet of a plant study: the worst of all PCCs, cases and checks, and what causes it."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.workbooks.drive import summary_sheet
from xlcalc.workbooks.kit import names
from xlcalc.workbooks.plant import cases_sheet, plant_arrays, plant_names, plant_schedule


def build(book: Workbook, sheet: Worksheet) -> None:
    """Fill the sheet; figures are those of the PCC and case with the smallest margin."""
    bus, case = plant_arrays.deciding_bus(), plant_names.DECIDING_CASE
    shown = ",".join(cases_sheet.name_text(number) for number in range(1, plant_names.CASES + 1))
    place = f'{bus}&", "&CHOOSE({case},{shown})&": the smallest margin of all PCCs and cases"'
    count = (
        f'COUNTA({names.TAGS})&" rows of drives typed, "&SUMPRODUCT(--(LEN({plant_schedule.COUPLED[1]})>0))'
    )
    summary_sheet.fill(
        book,
        sheet,
        summary_sheet.Judged(names.STUDY_VERDICT, plant_names.SENTENCE, place),
        lambda quantity: plant_arrays.value(bus, quantity, plant_names.DECIDING),
        f'{count}&" run in the case in view"',
        plant_arrays.CONTRIBUTIONS,
    )
