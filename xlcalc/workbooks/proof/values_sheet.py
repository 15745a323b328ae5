"""Sheets of what was recorded: currents by interval, phase and order; the trend; the map of orders."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from openpyxl import Workbook
from openpyxl.formatting.rule import ColorScaleRule
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, outside
from xlcalc.workbooks.kit import page
from xlcalc.workbooks.proof import proof_names as here
from xlcalc.workbooks.proof.proof_data import ORDERS, PHASES, WEEK, ProofData

FIRST_ROW: Final = 6
TOTAL: Final = 3
FIRST_ORDER: Final = 4
"""Columns of TDD and of order 1."""
MAP_ORDERS: Final = 25
MAP_ROW: Final = 5
MAP_COLOURS: Final = ("FFFFFF", "F2C879", "A8321E")


def rows_of(phase: int) -> tuple[int, int]:
    """First and last row of the room of a phase, from 0."""
    first = FIRST_ROW + phase * WEEK
    return first, first + WEEK - 1


def column_of(order: int) -> int:
    """Column of an order; 0 is TDD."""
    return TOTAL if order == 0 else FIRST_ORDER + order - 1


def reference(phase: int, order: int) -> str:
    """The room of one phase and order."""
    first, last = rows_of(phase)
    column = column_of(order)
    return names.reference(here.VALUES, names.area(first, column, last, column))


def build_values(book: Workbook, sheet: Worksheet, data: ProofData) -> None:
    """Fill the sheet of intervals."""
    page.widths(sheet, 10, 8, 9, *[7.5] * ORDERS)
    page.heading(
        sheet,
        here.VALUES,
        "Currents of 10 minutes, percent of the base: up to a week for each phase; blank where missing or "
        "flagged.",
    )
    page.headings(sheet, FIRST_ROW - 1, ("hours", "phase", "TDD", *(f"h{h}" for h in range(1, ORDERS + 1))))
    total = data.total
    for phase, name in enumerate(data.phases[:PHASES]):
        first, last = rows_of(phase)
        for row in range(first, last + 1):
            k = row - first
            if k >= data.hours.size:
                break
            page.put(sheet, row, 1, round(float(data.hours[k]), 6), style.INPUT, "0.00")
            page.put(sheet, row, 2, name, style.INPUT_TEXT)
            page.put(sheet, row, TOTAL, _shown(total[phase, k]), style.INPUT, "0.00")
            look: Any = sheet.cell(row, TOTAL)
            for order, value in enumerate(data.percent[phase, k].tolist(), start=1):
                cell: Any = sheet.cell(row, column_of(order), _shown(value))
                cell._style = look._style  # a style by its name takes most of the time of a whole week
    last = rows_of(PHASES - 1)[1]
    outside.frame(book, sheet, "proof values", bottom=last, width=FIRST_ORDER + ORDERS - 1)
    names.define(book, here.VALUE_INPUTS, sheet, names.area(FIRST_ROW - 1, 1, last, FIRST_ORDER + ORDERS - 1))
    sheet.freeze_panes = "D6"
    shown = min(rows_of(0)[0] + max(data.hours.size, 1) - 1, last)
    page.set_up(sheet, area=names.area(1, 1, shown, 20), orientation="landscape", title_rows="1:5")


def _shown(value: float) -> float | None:
    return round(float(value), 6) if np.isfinite(value) else None


def build_trend(sheet: Worksheet, data: ProofData) -> None:
    """Fill the sheet of the trend, and of the load by duration."""
    page.widths(sheet, 10, 14, 12, 11, 9, 4, 12, 16)
    page.heading(sheet, here.TREND, "Windows or intervals one after the other; load by duration beside them.")
    page.headings(sheet, FIRST_ROW - 1, ("hours", "fundamental (A)", "THD (%)", "Hz", "flagged"))
    for row, values in enumerate(data.trend.tolist(), start=FIRST_ROW):
        for column, value in enumerate(values, start=1):
            shown = round(value, 6) if np.isfinite(value) else None
            page.put(
                sheet, row, column, shown, style.INPUT, ("0.000", "0.0", "0.00", "0.000", "0")[column - 1]
            )
    page.headings(sheet, FIRST_ROW - 1, ("% of the time", "fundamental (A)"), first_column=7)
    loads = names.area(FIRST_ROW, 2, trend_end(data), 2)
    first, last = loads.split(":")
    block = f"${first[0]}${first[1:]}:${last[0]}${last[1:]}"
    for row in range(101):
        page.put(sheet, FIRST_ROW + row, 7, row, style.RESULT, "0")
        rank = f"1+ROUND(G{FIRST_ROW + row}/100*(COUNT({block})-1),0)"
        page.put(
            sheet, FIRST_ROW + row, 8, f'=IF(COUNT({block})=0,"",LARGE({block},{rank}))', style.RESULT, "0.0"
        )
    page.set_up(sheet, area=names.area(1, 1, max(trend_end(data), FIRST_ROW + 100), 8), title_rows="1:5")
    sheet.freeze_panes = "A6"


def trend_end(data: ProofData) -> int:
    """Last row of the trend."""
    return FIRST_ROW + max(1, len(data.trend)) - 1


def build_map(sheet: Worksheet, data: ProofData) -> None:
    """Fill the heat map."""
    page.widths(sheet, 9, *[5.2] * (MAP_ORDERS - 1))
    page.heading(
        sheet,
        here.MAP,
        "Currents of orders 2 to 25, percent of the base, of the phase that has most: the darker, the more.",
    )
    page.headings(sheet, MAP_ROW - 1, ("hours", *(f"{h}" for h in range(2, MAP_ORDERS + 1))))
    hours, rows = data.stripes
    for row, (hour, values) in enumerate(zip(hours.tolist(), rows.tolist(), strict=True), start=MAP_ROW):
        page.put(sheet, row, 1, round(hour, 4), style.FIGURE, "0.00")
        for order in range(2, MAP_ORDERS + 1):
            value = values[order - 1]
            number = round(value, 4) if np.isfinite(value) else None
            page.put(sheet, row, order, number, style.ARRAY, "0.0")
        sheet.row_dimensions[row].height = 9
    last = MAP_ROW + max(1, hours.size) - 1
    cells = names.area(MAP_ROW, 2, last, MAP_ORDERS)
    low, middle, high = MAP_COLOURS
    rule = ColorScaleRule(
        start_type="num",
        start_value=0,
        start_color=low,
        mid_type="percentile",
        mid_value=80,
        mid_color=middle,
        end_type="max",
        end_color=high,
    )  # type: ignore[no-untyped-call]
    sheet.conditional_formatting.add(cells, rule)
    sheet.freeze_panes = "B5"
    page.set_up(sheet, area=names.area(1, 1, last, MAP_ORDERS), title_rows="1:4")
