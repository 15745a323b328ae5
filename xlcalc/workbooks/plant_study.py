"""The template of a plant study: a network of buses, its drives, operating cases, any bus as the PCC."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.workbook.properties import CalcProperties

from xlcalc.workbooks import (
    case_blocks,
    cases_sheet,
    equipment_sheet,
    impedance_sheet,
    names,
    network_sheet,
    notes_sheet,
    plant_arrays,
    plant_drives_sheet,
    plant_names,
    plant_notes,
    plant_pcc_sheet,
    reference_sheet,
    study_sheet,
    style,
)
from xlcalc.workbooks.plant_data import PlantData

FILE_NAME = "plant_study.xlsx"


def build(data: PlantData) -> Workbook:
    """The workbook with the inputs of `data`; its formulas hold no values yet."""
    book = Workbook()
    style.register(book)
    book.remove(book.worksheets[0])
    study, network, drives, cases, pcc, impedance, equipment, notes, reference, settings, arrays = (
        book.create_sheet(title)
        for title in (
            plant_names.STUDY_SHEET,
            plant_names.NETWORK_SHEET,
            names.DRIVES_SHEET,
            plant_names.CASES_SHEET,
            names.PCC_SHEET,
            plant_names.IMPEDANCE_SHEET,
            plant_names.EQUIPMENT_SHEET,
            names.NOTES_SHEET,
            names.REFERENCE_SHEET,
            plant_names.CASE_SETTINGS_SHEET,
            names.ARRAYS_SHEET,
        )
    )
    for sheet in book.worksheets:
        sheet.sheet_format.defaultRowHeight = 15
        sheet.sheet_format.customHeight = True
    study_sheet.build(book, study, data)
    network_sheet.build(book, network, data)
    plant_drives_sheet.build(book, drives, data)
    cases_sheet.build(book, cases, data)
    plant_pcc_sheet.build(book, pcc)
    impedance_sheet.build(book, impedance)
    equipment_sheet.build(book, equipment)
    notes_sheet.build(notes, plant_notes.PLANT_STUDY)
    reference_sheet.build(reference)
    case_blocks.build(book, settings)
    plant_arrays.build(book, arrays)
    book.calculation = CalcProperties(calcId=191029, fullCalcOnLoad=False)
    book.properties.title = "Plant harmonic study"
    book.properties.creator = "xlcalc"
    book.properties.version = notes_sheet.TEMPLATE_VERSION
    return book
