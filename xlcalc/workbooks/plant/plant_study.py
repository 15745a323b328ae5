"""The template of a plant study: a network of buses, its drives, operating cases, any bus as the PCC."""

from __future__ import annotations

from openpyxl import Workbook

from xlcalc.files.books import names, plant_names
from xlcalc.workbooks.drive import phases_sheet, summary_sheet
from xlcalc.workbooks.kit import package, result_cells, verdict_cells
from xlcalc.workbooks.kit.sheets import checks_sheet, notes_sheet, reference_sheet
from xlcalc.workbooks.plant import (
    case_blocks,
    cases_sheet,
    network_sheet,
    plant_arrays,
    plant_drives_sheet,
    plant_notes,
    plant_pcc_sheet,
    study_sheet,
    verdicts_sheet,
)
from xlcalc.workbooks.plant.equipment import (
    equipment_data,
    equipment_data_sheet,
    equipment_sheet,
    impedance_sheet,
    levels_sheet,
    power_sheet,
    spectra_sheet,
    transformer_sheet,
)
from xlcalc.workbooks.plant.plant_data import PlantData

FILE_NAME = "plant_study.xlsx"
SOURCES = (
    *notes_sheet.LIMIT_TABLES,
    "iec61000_2_2",
    "iec61000_2_4",
    "iec61000_3_6",
    "en50160",
    "capacitors",
    "ieee519_notch",
)
SHEETS = (
    summary_sheet.SHEET,
    plant_names.STUDY_SHEET,
    plant_names.NETWORK_SHEET,
    names.DRIVES_SHEET,
    plant_names.CASES_SHEET,
    plant_names.DATA_SHEET,
    names.PCC_SHEET,
    phases_sheet.SHEET,
    verdicts_sheet.SHEET,
    plant_names.LEVELS_SHEET,
    plant_names.IMPEDANCE_SHEET,
    plant_names.TRANSFORMER_SHEET,
    plant_names.EQUIPMENT_SHEET,
    plant_names.POWER_SHEET,
    names.NOTES_SHEET,
    names.REFERENCE_SHEET,
    names.CHECKS_SHEET,
    names.CASE_SETTINGS_SHEET,
    names.ARRAYS_SHEET,
    names.SPECTRA_SHEET,
)


def build(data: PlantData, spare: int | None = None) -> Workbook:
    """The workbook with the inputs of `data`; its formulas hold no values yet.

    The sheet of drives is prepared for `spare` more rows, by default as many as it can be.
    """
    book, sheets = package.framed("Plant harmonic study", SHEETS)
    study_sheet.build(book, sheets[plant_names.STUDY_SHEET], data)
    network_sheet.build(book, sheets[plant_names.NETWORK_SHEET], data)
    plant_drives_sheet.build(book, sheets[names.DRIVES_SHEET], data, spare)
    cases_sheet.build(book, sheets[plant_names.CASES_SHEET], data)
    equipment_data_sheet.build(book, sheets[plant_names.DATA_SHEET], data)
    plant_pcc_sheet.build(book, sheets[names.PCC_SHEET])
    phases_sheet.build(
        sheets[phases_sheet.SHEET],
        plant_arrays.PHASES,
        f'="Bus and case (chosen on the sheet PCC): "&{plant_names.VIEW_BUS}&", "&{plant_names.VIEW_NAME}',
        phases_sheet.Buses(
            plant_arrays.BUS_PHASES,
            plant_names.column("buses", "name"),
            network_sheet.HELD["buses"],
            network_sheet.shown("buses", data),
        ),
    )
    levels_sheet.build(sheets[plant_names.LEVELS_SHEET])
    impedance_sheet.build(book, sheets[plant_names.IMPEDANCE_SHEET])
    checks = (
        *transformer_sheet.build(book, sheets[plant_names.TRANSFORMER_SHEET], data),
        *equipment_sheet.build(book, sheets[plant_names.EQUIPMENT_SHEET], data),
    )
    verdicts_sheet.build(book, sheets[verdicts_sheet.SHEET], checks)
    power_sheet.build(sheets[plant_names.POWER_SHEET])
    notes_sheet.build(sheets[names.NOTES_SHEET], plant_notes.PLANT_STUDY, SOURCES)
    reference_sheet.build(sheets[names.REFERENCE_SHEET])
    inputs = (
        *(names.STUDY, names.SETTINGS, plant_names.NETWORK, names.DRIVE_INPUTS),
        *(plant_names.case_inputs(number) for number in range(1, plant_names.CASES + 1)),
        *(equipment_data_sheet.area_name(table) for table in equipment_data.TABLES),
    )
    blank = plant_arrays.value(plant_names.VIEW_BUS, "ASSUMED", plant_names.VIEW_JUDGED)
    checks_sheet.build(book, sheets[names.CHECKS_SHEET], inputs, verdict_cells.text(blank))
    case_blocks.build(book, sheets[names.CASE_SETTINGS_SHEET])
    plant_arrays.build(book, sheets[names.ARRAYS_SHEET])
    verdicts_sheet.build_summary(book, sheets[summary_sheet.SHEET])
    spectra_sheet.build(book, sheets[names.SPECTRA_SHEET])
    result_cells.watch(book)
    return book
