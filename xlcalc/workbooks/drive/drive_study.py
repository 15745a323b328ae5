"""The template of a drive study: one site, its drives, the distortion at the PCC."""

from __future__ import annotations

from openpyxl import Workbook

from xlcalc.files.books import names
from xlcalc.workbooks.drive import (
    arrays_sheet,
    drives_sheet,
    pcc_sheet,
    phases_sheet,
    site_sheet,
    summary_sheet,
    view_sheet,
)
from xlcalc.workbooks.drive.study_data import StudyData
from xlcalc.workbooks.kit import package, result_cells, verdict_cells
from xlcalc.workbooks.kit.sheets import checks_sheet, notes_sheet, reference_sheet

FILE_NAME = "drive_study.xlsx"
SHEETS = (
    summary_sheet.SHEET,
    names.SITE_SHEET,
    names.DRIVES_SHEET,
    names.PCC_SHEET,
    phases_sheet.SHEET,
    names.VIEW_SHEET,
    names.NOTES_SHEET,
    names.REFERENCE_SHEET,
    names.CHECKS_SHEET,
    names.ARRAYS_SHEET,
)


def build(data: StudyData) -> Workbook:
    """The workbook with the inputs of `data`; its formulas hold no values yet."""
    book, sheets = package.framed("Drive harmonic study", SHEETS)
    summary, site, drives, pcc, phases, view, notes, reference, checks, arrays = sheets.values()
    site_sheet.build(book, site, data)
    drives_sheet.build(book, drives, data)
    pcc_sheet.build(book, pcc)
    phases_sheet.build(
        phases, arrays_sheet.PHASES, f'="PCC: "&IF({names.PCC_SIDE}="","utility side",{names.PCC_SIDE})'
    )
    view_sheet.build(book, view)
    notes_sheet.build(notes)
    reference_sheet.build(reference)
    inputs = (names.STUDY, names.SITE, names.SETTINGS, names.DRIVE_INPUTS)
    checks_sheet.build(book, checks, inputs, verdict_cells.text(pcc_sheet.simple_quantity("ASSUMED")))
    arrays_sheet.build(book, arrays, view_sheet.arguments())
    summary_sheet.build(book, summary)
    result_cells.watch(book)
    return book
