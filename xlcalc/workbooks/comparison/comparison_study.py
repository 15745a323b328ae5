"""The template that sets the front ends of one drive side by side."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook

from xlcalc.schema.inputs.comparison import BLOCKS
from xlcalc.workbooks.comparison import comparison_arrays as arrays
from xlcalc.workbooks.comparison import comparison_front_ends as front_ends
from xlcalc.workbooks.comparison import comparison_names as here
from xlcalc.workbooks.comparison import comparison_notes, comparison_page, comparison_site
from xlcalc.workbooks.comparison import comparison_workings as workings
from xlcalc.workbooks.comparison.comparison_data import ComparisonData
from xlcalc.workbooks.kit import checks_sheet, names, notes_sheet, package, reference_sheet, result_cells

FILE_NAME: Final = here.FILE_NAME
SHEETS: Final = (
    here.COMPARISON,
    names.SITE_SHEET,
    here.FRONT_ENDS,
    here.PRICES,
    here.RESIDUAL,
    names.NOTES_SHEET,
    names.REFERENCE_SHEET,
    names.CHECKS_SHEET,
    here.SUPPLY,
    here.WORKINGS,
    names.ARRAYS_SHEET,
)


def build(data: ComparisonData) -> Workbook:
    """The workbook with the inputs of `data`; its formulas hold no values yet."""
    book, sheets = package.framed("Front ends side by side", SHEETS)
    comparison_site.build(book, sheets[names.SITE_SHEET], data)
    front_ends.build_front_ends(book, sheets[here.FRONT_ENDS], data)
    front_ends.build_prices(book, sheets[here.PRICES], data)
    front_ends.build_residual(book, sheets[here.RESIDUAL], data)
    front_ends.build_settings(book, sheets[here.SUPPLY])
    numbers = range(1, here.COLUMNS + 1)
    arrays.build(
        sheets[names.ARRAYS_SHEET],
        tuple(workings.figure("phase", number) for number in numbers),
        tuple(workings.amps(number) for number in numbers),
    )
    workings.build(sheets[here.WORKINGS], data)
    comparison_page.build(sheets[here.COMPARISON], sheets[here.WORKINGS], data)
    notes_sheet.build(sheets[names.NOTES_SHEET], comparison_notes.TEXTS)
    reference_sheet.build(sheets[names.REFERENCE_SHEET])
    blocks = tuple(comparison_site.block_name(key) for key in BLOCKS)
    tables = (here.OWN_LIMITS, here.FRONT_END_INPUTS, here.PRICE_INPUTS, here.RESIDUAL_INPUTS)
    checks_sheet.build(book, sheets[names.CHECKS_SHEET], (*blocks, *tables))
    result_cells.watch(book)
    return book
