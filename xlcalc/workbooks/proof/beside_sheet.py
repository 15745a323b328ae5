"""Sheet of the measured spectrum and waveform over the predicted ones, with the band of the prediction."""

from __future__ import annotations

from typing import Final

import numpy as np
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import names
from xlcalc.workbooks.kit import marks, page
from xlcalc.workbooks.proof import proof_names as here
from xlcalc.workbooks.proof.proof_data import ORDERS, ProofData

FIRST_ROW: Final = 6
COLUMNS: Final = 7
WAVE_COLUMN: Final = 9
CHARTED: Final = 25
CHART_ROW: Final = FIRST_ROW + ORDERS + 2
CHART_ROWS: Final = 17
ROW_HEIGHT: Final = 12


def build(sheet: Worksheet, data: ProofData) -> None:
    """Fill the sheet; blank where nothing was predicted."""
    page.widths(sheet, 9, *[12.5] * (COLUMNS - 1), 3, 10, 12, 12)
    page.heading(
        sheet,
        here.BESIDE,
        "Currents by order at the measured load, A rms: the phase that has most, and what the study allows.",
    )
    page.headings(
        sheet,
        FIRST_ROW - 1,
        ("order", "measured", "predicted", "lowest possible", "highest possible", "difference", "outside by"),
    )
    for number in range(ORDERS):
        row = FIRST_ROW + number
        page.put(sheet, row, 1, number + 1, style.LABEL)
        measured, predicted, low, high, outside = (_number(v) for v in data.spectrum[number])
        for column, value in ((2, measured), (3, predicted), (4, low), (5, high)):
            page.put(sheet, row, column, value, style.INPUT, "0.000")
        both = f"AND(ISNUMBER(B{row}),ISNUMBER(C{row}))"
        page.put(sheet, row, 6, f'=IF({both},B{row}-C{row},"")', style.RESULT, "0.000")
        page.put(sheet, row, 7, outside, style.INPUT, "0.000")
        sheet.row_dimensions[row].height = ROW_HEIGHT
    cells = names.area(FIRST_ROW, 7, FIRST_ROW + ORDERS - 1, 7)
    marks.formula(sheet, cells, f"AND(ISNUMBER($G{FIRST_ROW}),$G{FIRST_ROW}<>0)", style.BAD)
    page.headings(sheet, FIRST_ROW - 1, ("degrees", "measured", "predicted"), first_column=WAVE_COLUMN)
    for row, values in enumerate(data.wave.tolist(), start=FIRST_ROW):
        for column, value in enumerate(values, start=WAVE_COLUMN):
            page.put(sheet, row, column, _number(value), style.INPUT, "0.0")
    block = charts.ChartRows(sheet, FIRST_ROW + 1, FIRST_ROW + CHARTED - 1, 1)
    spectrum = charts.grouped(
        block,
        ((2, "measured", charts.BAR), (3, "predicted", charts.VOLTAGE)),
        5,
        "Spectrum over the predicted one",
        "A",
        across="harmonic order",
        limit_name="highest possible",
    )
    charts.place(sheet, spectrum, CHART_ROW, CHART_ROWS, COLUMNS)
    last = FIRST_ROW + max(1, data.wave.shape[0]) - 1
    wave = charts.ChartRows(sheet, FIRST_ROW, last, WAVE_COLUMN)
    curves = (
        (WAVE_COLUMN + 1, "measured", charts.CURRENT),
        (WAVE_COLUMN + 2, "predicted", charts.VOLTAGE),
    )
    charts.place(
        sheet,
        charts.curves(wave, curves, "Waveform over the predicted one, phase a", "A"),
        CHART_ROW + CHART_ROWS + 1,
        CHART_ROWS,
        COLUMNS,
    )
    page.break_before(sheet, CHART_ROW)
    page.set_up(sheet, area=names.area(1, 1, CHART_ROW + 2 * CHART_ROWS + 1, COLUMNS), title_rows="1:4")
    sheet.freeze_panes = "B6"


def _number(value: float) -> float | None:
    return round(float(value), 6) if np.isfinite(value) else None
