"""The template of a field proof."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook

from xlcalc.files.books import names
from xlcalc.workbooks.drive.notes_text import CAUTIONS
from xlcalc.workbooks.kit import package, result_cells
from xlcalc.workbooks.kit.sheets import checks_sheet, notes_sheet, reference_sheet
from xlcalc.workbooks.proof import beside_sheet, percentiles_sheet, proof_sheet, values_sheet
from xlcalc.workbooks.proof import proof_names as here
from xlcalc.workbooks.proof.proof_data import ProofData

ASSUMPTIONS: Final = (
    "Currents are harmonic subgroups of IEC 61000-4-7, aggregated over 3 s and 10 minutes as IEC 61000-4-30 "
    "says. Intervals with a dip, swell or interruption are flagged and blank here.",
    "IEEE 519 asks for three statistics: 99 % of the 3 s values of each day within twice the limit, 99 % of "
    "the 10-minute values of a week within 1.5 times, 95 % of them within the limit itself (editions 2014 "
    "and 2022). A blank counts as missing: PASS and FAIL stand only where they would whatever it is.",
    "28800 values of 3 s a day do not fit a sheet: the command xlcalc measure reduces them to one line a day "
    "and phase, on the sheet Proof.",
    "The prediction is that of a study at the measured load. Its band adds, as roots of squares, what the "
    "uncertainty of each input does: short-circuit level 20 %, transformer impedance 10 %, reactors and "
    "chokes 10 %, DC capacitance 20 %, and a typical distortion of the supply where the study gives none.",
    "A measured order lies outside where it leaves the band by more than the accuracy of an instrument of "
    "class I (IEC 61000-4-7, from memory).",
)
HANDLING: Final = (
    "To fill the workbook: xlcalc measure RECORD --demand-amps A --isc-il R --kv KV --study STUDY.xlsx "
    "-o PROOF.xlsx. Values may also be typed or pasted into the sand-coloured cells.",
    "The charts follow the rows that the workbook was made with.",
    "Colours only repeat what words and numbers say: PASS, FAIL, NO VERDICT.",
)
TEXTS: Final = {"Cautions": CAUTIONS, "How the figures are made": ASSUMPTIONS, "Handling": HANDLING}


FILE_NAME: Final = here.FILE_NAME
SHEETS: Final = (
    here.PROOF,
    here.PERCENTILES,
    here.BESIDE,
    here.MAP,
    here.TREND,
    here.VALUES,
    names.NOTES_SHEET,
    names.REFERENCE_SHEET,
    names.CHECKS_SHEET,
    names.ARRAYS_SHEET,
)


def build(data: ProofData) -> Workbook:
    """The workbook with what was recorded; its formulas hold no values yet."""
    book, sheets = package.framed("Field proof", SHEETS)
    proof_sheet.build(book, sheets[here.PROOF], data)
    percentiles_sheet.build(book, sheets[here.PERCENTILES], sheets[names.ARRAYS_SHEET])
    beside_sheet.build(sheets[here.BESIDE], data)
    values_sheet.build_map(sheets[here.MAP], data)
    values_sheet.build_trend(sheets[here.TREND], data)
    values_sheet.build_values(book, sheets[here.VALUES], data)
    notes_sheet.build(sheets[names.NOTES_SHEET], TEXTS)
    reference_sheet.build(sheets[names.REFERENCE_SHEET])
    checks_sheet.build(book, sheets[names.CHECKS_SHEET], (here.INPUTS, here.VALUE_INPUTS, here.DAY_INPUTS))
    result_cells.watch(book)
    return book
