"""What all templates have in common before their sheets are filled."""

from __future__ import annotations

from collections.abc import Sequence

from openpyxl import Workbook
from openpyxl.workbook.properties import CalcProperties
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.workbooks import notes_sheet, style


def framed(title: str, sheet_titles: Sequence[str]) -> tuple[Workbook, dict[str, Worksheet]]:
    """A workbook with styles, settings of the calculation and properties, and its empty sheets by title."""
    book = Workbook()
    style.register(book)
    book.remove(book.worksheets[0])
    sheets: dict[str, Worksheet] = {name: book.create_sheet(name) for name in sheet_titles}
    for sheet in sheets.values():
        sheet.sheet_format.defaultRowHeight = 15
        sheet.sheet_format.customHeight = True
    book.calculation = CalcProperties(calcId=191029, fullCalcOnLoad=False)
    book.properties.title = title
    book.properties.creator = "xlcalc"
    book.properties.version = notes_sheet.TEMPLATE_VERSION
    return book, sheets
