"""Sheet of the chosen mix under uncertain inputs: every sample, and how the worst value spreads."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
from openpyxl import Workbook
from openpyxl.chart import Reference
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts
from xlcalc.files.books import names
from xlcalc.mitigation.robust import Robustness
from xlcalc.workbooks.kit import page

TableSheet = Callable[[Workbook, str, str, str, pd.DataFrame], Worksheet]
TITLE = "Robustness"
CHART_ROWS = 22


def build(book: Workbook, robust: Robustness, table_sheet: TableSheet) -> None:
    """The sheet: samples by their worst value, and the share of them that has no more."""
    runs = robust.runs.sort_values("margin left %", ascending=False).reset_index(drop=True)
    runs.insert(0, "% of the samples", 100.0 * (runs.index + 1) / len(runs))
    runs.insert(2, "worst value, % of its limit", 100.0 - runs["margin left %"])
    runs["passes"] = runs["passes"].map({True: "yes", False: "no"})
    sheet = table_sheet(book, TITLE, "The mix with uncertain inputs", robust.text, runs)
    first, last = 5, 4 + len(runs)

    def column(number: int) -> Reference:
        return Reference(sheet, min_col=number, min_row=first, max_row=last)

    chart = charts.scatter(
        ((column(3), column(1), "samples", charts.BAR, True),),
        "Worst value of every sample",
        "worst value, % of its limit",
        "% of the samples with no more",
    )
    width = len(runs.columns)
    page.break_before(sheet, last + 2)
    charts.place(sheet, chart, last + 2, CHART_ROWS, width)
    page.set_up(
        sheet,
        area=names.area(1, 1, last + 2 + CHART_ROWS, width),
        orientation="landscape",
        title_rows="4:4",
    )
