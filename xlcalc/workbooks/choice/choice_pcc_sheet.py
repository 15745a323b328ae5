"""Sheet of the points of common coupling of a chosen mix, by order."""

from __future__ import annotations

import math
from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import names
from xlcalc.mitigation.choice import ChosenMix
from xlcalc.studies.pcc import pcc_columns
from xlcalc.workbooks.kit import page

HEADINGS: Final = (
    *("order", "current (A)", "current (% of IL)", "limit (%)", "margin (%)"),
    *("voltage (%)", "limit (%)", "margin (%)"),
)
COLUMNS: Final = (
    *("current_amps", "current_pct", "current_limit_pct", "current_margin"),
    *("voltage_pct", "voltage_limit_pct", "voltage_margin"),
)


def build(book: Workbook, first: Worksheet, choice: ChosenMix, wide: int) -> None:
    """Current and voltage by order at each PCC in its worst case; the binding one is drawn on `first`."""
    sheet = book.create_sheet("PCC")
    page.widths(sheet, *[15.0] * len(HEADINGS))
    page.heading(sheet, "Points of common coupling", "The chosen mix, each PCC in its worst case, by order.")
    ranked = sorted(choice.assessment.points, key=lambda point: -point.ratio)
    row = 4
    for pcc in dict.fromkeys(point.point.pcc for point in ranked):
        worst = next(point for point in ranked if point.point.pcc == pcc)
        if row > 4:
            page.break_before(sheet, row)
        page.section(sheet, row, f"{worst.name} ({worst.state}): {worst.word}", len(HEADINGS))
        page.headings(sheet, row + 1, HEADINGS)
        columns = pcc_columns(worst.result)
        shown = [columns[name] for name in COLUMNS]
        top = row + 2
        for order in range(1, len(shown[0]) + 1):
            page.put(sheet, top + order - 1, 1, order, style.FIGURE, "0")
            for column, values in enumerate(shown, start=2):
                value = values[order - 1]
                known = value if math.isfinite(value) else None
                page.put(sheet, top + order - 1, column, known, style.RESULT, "0.00")
        row = top + len(shown[0])
        if pcc == ranked[0].point.pcc:
            block = charts.ChartRows(sheet, top + 1, row - 1, 1)
            title = f"Harmonic current at {worst.name} against its limits"
            chart = charts.bars(block, 3, "chosen mix", title, "% of demand current", (4, "limit"))
            charts.place(first, chart, first.max_row + 2, 16, wide)
            page.set_up(first, area=names.area(1, 1, first.max_row + 18, wide))
        row += 1
    page.set_up(sheet, area=names.area(1, 1, row, len(HEADINGS)), title_rows="1:2")
