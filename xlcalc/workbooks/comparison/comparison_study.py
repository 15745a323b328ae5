"""The template that sets the front ends of one drive side by side."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook

from xlcalc.files.books import comparison_names as here
from xlcalc.files.books import names
from xlcalc.schema.inputs.comparison import BLOCKS
from xlcalc.workbooks.comparison import comparison_arrays as arrays
from xlcalc.workbooks.comparison import comparison_front_ends as front_ends
from xlcalc.workbooks.comparison import comparison_page, comparison_site
from xlcalc.workbooks.comparison import comparison_workings as workings
from xlcalc.workbooks.comparison.comparison_data import ComparisonData
from xlcalc.workbooks.drive.notes_text import CAUTIONS
from xlcalc.workbooks.kit import package, result_cells
from xlcalc.workbooks.kit.sheets import checks_sheet, notes_sheet, reference_sheet

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
    notes_sheet.build(sheets[names.NOTES_SHEET], TEXTS)
    reference_sheet.build(sheets[names.REFERENCE_SHEET])
    blocks = tuple(comparison_site.block_name(key) for key in BLOCKS)
    tables = (here.OWN_LIMITS, here.FRONT_END_INPUTS, here.PRICE_INPUTS, here.RESIDUAL_INPUTS)
    checks_sheet.build(book, sheets[names.CHECKS_SHEET], (*blocks, *tables))
    result_cells.watch(book)
    return book


ASSUMPTIONS: Final = (
    "The first eight front ends are solved as circuits for their periodic steady state: supply, line "
    "reactor, passive filter, transformer leakage, bridges, DC choke, capacitor and a load of constant "
    "power. No table of typical spectra is used for them.",
    "The last one is a residual spectrum that you enter against load, with its basis. Amperes are "
    "interpolated between loads. Its fundamental is taken in phase with the voltage. Its waveform is "
    "the sum of the spectrum with the angles that you enter; blank angles are drawn as zero, so its "
    "shape is one of many. Orders that you do not list are not given and leave it without a verdict, unless "
    "the sheet Residual says that they are zero. It does not follow the unbalance and background of the "
    "sheet Site: on such a supply the comparison flatters it unless your spectrum was measured on one.",
    "The drive stands alone on its supply. Other drives partly cancel or add, and capacitors amplify: "
    "judge the whole plant with the templates drive_study and plant_study.",
    "The limit of IEEE 519 applies to the sum of all loads at the PCC over weeks; here one drive in one "
    "steady state is compared with it, and the PCC is taken at the bus of the drive. Enter the demand "
    "current of the whole PCC where the drive is only a part of it.",
    "Limit used: value over limit of the quantity (total or single order) that comes closest to its "
    "limit. 100 % is at the limit, 200 % twice the limit. Harmonic voltage is not judged.",
    "With unbalance the phase with the largest rms current is shown and judged; another phase may have "
    "the higher percentage.",
    "Cost is that of purchase and of the added losses over the stated years, on top of the plain drive. "
    "It leaves out space, cooling, installation, and the losses that harmonics cause in the supply.",
)

HANDLING: Final = (
    "Enter the site, the drive and the limit on the sheet Site, the front ends on the sheet Front ends, "
    "and your own prices and losses on the sheet Prices. Shipped prices, losses and the residual "
    "spectrum are invented.",
    "A front end without a repeating current shows #NUM! and NO VERDICT; the others keep their figures. "
    "Add resistance of the DC capacitor on the sheet Site, or change the reactor. xlcalc recalc "
    "--reasons lists every reason.",
    "IEC 61000-3-12 covers reference currents above 16 to 75 A only; outside it there is no result.",
    "Where the functions are not installed, the workbook shows the numbers of the last calculation. To "
    "calculate it: xlcalc recalc BOOK.xlsx -o RESULT.xlsx",
    "Colours only repeat what words and numbers say: PASS, FAIL, NO VERDICT.",
)

TEXTS: Final = {"Cautions": CAUTIONS, "Assumptions of the model": ASSUMPTIONS, "Handling": HANDLING}
