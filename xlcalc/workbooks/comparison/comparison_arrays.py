"""Sheet of array results of the comparison: spectra, waveforms and verdicts; other sheets refer to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.core.orders_given import OrdersNotListed
from xlcalc.drawing import style
from xlcalc.files.books import comparison_names as here
from xlcalc.files.books import names
from xlcalc.schema.inputs.comparison import IEC_61000_3_12, IEEE_519
from xlcalc.workbooks.comparison import comparison_front_ends as inputs
from xlcalc.workbooks.kit import page
from xlcalc.worksheet.functions.standards.verdict_rows import VERDICT_COLUMNS

FIRST_ROW: Final = 6
ORDERS: Final = 50
STEPS: Final = 360
SPECTRUM_HEADINGS: Final = ("order", "% of fundamental", "angle (deg)")
WAVEFORM_HEADINGS: Final = ("degrees", "current (pu)", "voltage (pu)")
STRIDE: Final = 8
VERDICTS_FROM: Final = STRIDE * here.COLUMNS + 2


@dataclass(frozen=True)
class ComparisonTable:
    """A table of the sheet: first column, rows and columns."""

    column: int
    rows: int
    width: int

    @property
    def area(self) -> str:
        return names.area(FIRST_ROW, self.column, FIRST_ROW + self.rows - 1, self.column + self.width - 1)

    @property
    def reference(self) -> str:
        last = self.column + self.width - 1
        return here.cells(names.ARRAYS_SHEET, FIRST_ROW, self.column, FIRST_ROW + self.rows - 1, last)

    def part(self, column: int) -> str:
        """Reference to one column, from 1."""
        where = self.column + column - 1
        return here.cells(names.ARRAYS_SHEET, FIRST_ROW, where, FIRST_ROW + self.rows - 1, where)

    def cell(self, row: int, column: int) -> str:
        """Reference to one cell, both numbers from 1."""
        return here.cell(names.ARRAYS_SHEET, FIRST_ROW + row - 1, self.column + column - 1)


def spectrum(number: int) -> ComparisonTable:
    return ComparisonTable(STRIDE * (number - 1) + 1, ORDERS, 3)


def waveform(number: int) -> ComparisonTable:
    return ComparisonTable(STRIDE * (number - 1) + 5, STEPS, 3)


def verdicts(number: int) -> ComparisonTable:
    width = len(VERDICT_COLUMNS)
    return ComparisonTable(VERDICTS_FROM + (width + 1) * (number - 1), ORDERS, width)


def arguments(number: int) -> str:
    """Arguments of the drive functions for a circuit."""
    pulses, reactor, choke = (
        inputs.place(name, number) for name in ("pulses", "line reactor pct", "dc choke pct")
    )
    load = here.field("load pct")
    return f"{pulses},source_pct,{reactor},{choke},{load},{here.settings(number)}"


def build(sheet: Worksheet, phase: tuple[str, ...], amps: tuple[str, ...]) -> None:
    """Fill the sheet.

    Parameters
    ----------
    sheet : Worksheet
        Changed in place.
    phase : tuple of str
        Cell with the phase to show, per circuit.
    amps : tuple of str
        Range of order and amperes, per front end.
    """
    page.heading(sheet, names.ARRAYS_SHEET, "Results that the other sheets refer to. Nothing to enter here.")
    for number in range(1, here.COLUMNS + 1):
        page.put(sheet, 4, spectrum(number).column, f"={inputs.place('name', number)}", style.SUBTITLE)
        page.headings(sheet, FIRST_ROW - 1, SPECTRUM_HEADINGS, spectrum(number).column)
        page.headings(sheet, FIRST_ROW - 1, WAVEFORM_HEADINGS, waveform(number).column)
        page.put(sheet, 4, verdicts(number).column, f"={inputs.place('name', number)}", style.SUBTITLE)
        page.headings(sheet, FIRST_ROW - 1, VERDICT_COLUMNS, verdicts(number).column)
        if number <= here.BRIDGES:
            given = f"{arguments(number)},{phase[number - 1]}"
            _array(sheet, spectrum(number), f"HD_SPECTRUM({given})")
            _array(sheet, waveform(number), f"HD_WAVEFORM({given})")
        else:
            _residual_spectrum(sheet, spectrum(number))
            _residual_waveform(sheet, waveform(number))
        _array(sheet, verdicts(number), _verdict(number, amps[number - 1]))
    sheet.row_dimensions[FIRST_ROW - 1].height = 38
    page.widths(sheet, *[12.0] * (verdicts(here.COLUMNS).column + len(VERDICT_COLUMNS)))
    sheet.freeze_panes = f"A{FIRST_ROW}"
    page.set_up(sheet, area="A1:H3")


def _array(sheet: Worksheet, block: ComparisonTable, formula: str) -> None:
    for row in sheet[block.area]:
        for cell in row:
            cell.style = style.ARRAY
    sheet[block.area.split(":")[0]] = ArrayFormula(block.area, f"={formula}")


def _verdict(number: int, amps: str) -> str:
    """The verdict by the limit that the user picked."""
    limit = here.field("limit")
    volts, edition, table = (here.field(name) for name in ("nominal volts", "edition", "iec table"))
    own = f"{here.OWN_LIMITS},{here.field('own thd pct')},{here.field('own document')}"
    return (
        f'IF({limit}="{IEEE_519}",HD_VERDICT_IEEE519({amps},demand,isc_il,{volts}/1000,{edition}),'
        f'IF({limit}="{IEC_61000_3_12}",HD_VERDICT_IEC61000_3_12({amps},reference,rsce,{table}),'
        f"HD_VERDICT_OWN({spectrum(number).reference},{own})))"
    )


def _residual_spectrum(sheet: Worksheet, block: ComparisonTable) -> None:
    orders, percent, angle = inputs.residual_columns()
    load = here.field("load pct")
    for order in range(1, ORDERS + 1):
        row = FIRST_ROW + order - 1
        page.put(sheet, row, block.column, order, style.ARRAY)
        own = f"SUMIF({orders},{order},{percent})*100/{load}"
        listed = f'SUMPRODUCT(({orders}={order})*({percent}<>""))>0'
        given = f'=IF(OR({inputs.NOT_LISTED}="{OrdersNotListed.ZERO}",{listed}),{own},"")'
        page.put(sheet, row, block.column + 1, 100 if order == 1 else given, style.ARRAY)
        page.put(
            sheet,
            row,
            block.column + 2,
            0 if order == 1 else f"=SUMIF({orders},{order},{angle})",
            style.ARRAY,
        )


def _residual_waveform(sheet: Worksheet, block: ComparisonTable) -> None:
    """The sum of the residual spectrum, drawn with its angles or zero."""
    table = spectrum(here.COLUMNS)
    orders, percent, angle = (table.part(column) for column in (1, 2, 3))
    load = here.field("load pct")
    for step in range(STEPS):
        row = FIRST_ROW + step
        here_degrees = f"{names.area(row, block.column, row, block.column).split(':')[0]}"
        page.put(sheet, row, block.column, step, style.ARRAY)
        wave = f"SUMPRODUCT({percent},COS(RADIANS({orders}*{here_degrees}+{angle})))"
        page.put(sheet, row, block.column + 1, f"={load}/10000*{wave}", style.ARRAY)
