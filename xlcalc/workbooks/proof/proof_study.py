"""The template of a field proof."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook

from xlcalc.workbooks.kit import names, package, result_cells
from xlcalc.workbooks.kit.sheets import checks_sheet, notes_sheet, reference_sheet
from xlcalc.workbooks.proof import (
    beside_sheet,
    percentiles_sheet,
    proof_notes,
    proof_sheet,
    values_sheet,
)
from xlcalc.workbooks.proof import proof_names as here
from xlcalc.workbooks.proof.proof_data import ProofData

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
    percentiles_sheet.build(sheets[here.PERCENTILES], sheets[names.ARRAYS_SHEET])
    beside_sheet.build(sheets[here.BESIDE], data)
    values_sheet.build_map(sheets[here.MAP], data)
    values_sheet.build_trend(sheets[here.TREND], data)
    values_sheet.build_values(book, sheets[here.VALUES], data)
    notes_sheet.build(sheets[names.NOTES_SHEET], proof_notes.TEXTS)
    reference_sheet.build(sheets[names.REFERENCE_SHEET])
    checks_sheet.build(book, sheets[names.CHECKS_SHEET], (here.INPUTS, here.VALUE_INPUTS, here.DAY_INPUTS))
    result_cells.watch(book)
    return book
