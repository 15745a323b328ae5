"""The template of a drive study: one site, its drives, the distortion at the PCC."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.workbook.properties import CalcProperties

from xlcalc.workbooks import (
    arrays_sheet,
    drives_sheet,
    names,
    notes_sheet,
    pcc_sheet,
    reference_sheet,
    site_sheet,
    style,
    view_sheet,
)
from xlcalc.workbooks.study_data import StudyData

FILE_NAME = "drive_study.xlsx"


def build(data: StudyData) -> Workbook:
    """The workbook with the inputs of `data`; its formulas hold no values yet."""
    book = Workbook()
    style.register(book)
    book.remove(book.worksheets[0])
    site, drives, pcc, view, notes, reference, arrays = (
        book.create_sheet(title)
        for title in (
            names.SITE_SHEET,
            names.DRIVES_SHEET,
            names.PCC_SHEET,
            names.VIEW_SHEET,
            names.NOTES_SHEET,
            names.REFERENCE_SHEET,
            names.ARRAYS_SHEET,
        )
    )
    for sheet in book.worksheets:
        sheet.sheet_format.defaultRowHeight = 15
        sheet.sheet_format.customHeight = True
    site_sheet.build(book, site, data)
    drives_sheet.build(book, drives, data)
    pcc_sheet.build(book, pcc)
    view_sheet.build(book, view)
    notes_sheet.build(notes)
    reference_sheet.build(reference)
    arrays_sheet.build(book, arrays, view_sheet.arguments())
    book.calculation = CalcProperties(calcId=191029, fullCalcOnLoad=False)
    book.properties.title = "Drive harmonic study"
    book.properties.creator = "xlcalc"
    book.properties.version = notes_sheet.TEMPLATE_VERSION
    return book
