"""Charts of a sweep in its workbook."""

from __future__ import annotations

from typing import Any, Final

import pandas as pd
from openpyxl import Workbook
from openpyxl.chart import BarChart, Reference, ScatterChart, Series
from openpyxl.worksheet.pagebreak import Break

from xlcalc.bulk.sweep.sweep_run import OUTPUTS

LEVELS_SHEET, CURVE_SHEET, RANKS_SHEET = "levels", "curve", "inputs that matter"
WIDTH_CM: Final = 24
HEIGHT_CM: Final = 9
ROWS_OF_A_CHART: Final = 20
COLOURS: Final = ("1F4E79", "C55A11", "548235", "7F6000", "7030A0", "00808A", "A61C3C", "595959")
MOST_CURVES: Final = len(COLOURS)
MOST_BARS: Final = 12


def add_charts(book: Workbook, levels: pd.DataFrame, curve: pd.DataFrame, inputs: int, place: str) -> None:
    """Curves of levels not exceeded, and bars of the rank correlations, below the table on the first sheet.

    Parameters
    ----------
    book : Workbook
    levels, curve : DataFrame
        As on their sheets.
    inputs : int
        Rows of the first place on the sheet of the rank correlations.
    place : str
        That place; blank where there is one alone.
    """
    sheet: Any = book[LEVELS_SHEET]
    row = len(levels) + 4
    for title, columns in _curves(curve):
        sheet.add_chart(_curve_chart(book[CURVE_SHEET], len(curve), title, columns), f"A{row}")
        row += ROWS_OF_A_CHART
        if place:
            sheet.row_breaks.append(Break(row - 2))
    sheet.add_chart(_rank_chart(book[RANKS_SHEET], inputs, place), f"A{row}")


def _curves(curve: pd.DataFrame) -> list[tuple[str, list[int]]]:
    """Titles and columns of the curves: one chart for a place alone, else one per quantity."""
    title = "Not exceeded by a share of the combinations"
    if all(name in curve for name in OUTPUTS):
        return [(title, [2, 3])]
    charts = []
    for name in OUTPUTS:
        columns = [n for n, heading in enumerate(curve.columns, start=1) if str(heading).startswith(name)]
        more = f" (the {MOST_CURVES} places of least margin)" if len(columns) > MOST_CURVES else ""
        charts.append((f"{title}: {name}{more}", columns[:MOST_CURVES]))
    return charts


def _curve_chart(sheet: Any, rows: int, title: str, columns: list[int]) -> ScatterChart:
    chart = ScatterChart(scatterStyle="lineMarker")
    _dress(chart, title, "%", "share of combinations (%)", "b" if len(columns) <= len(OUTPUTS) else "r")
    shares = Reference(sheet, min_col=1, min_row=2, max_row=rows + 1)
    for number, colour in zip(columns, COLOURS, strict=False):
        values = Reference(sheet, min_col=number, min_row=1, max_row=rows + 1)
        series = Series(values, shares, title_from_data=True)
        series.marker.symbol = "none"
        series.graphicalProperties.line.solidFill = colour
        series.smooth = False
        chart.series.append(series)
    chart.x_axis.scaling.min, chart.x_axis.scaling.max = 0, 100
    return chart


def _rank_chart(sheet: Any, inputs: int, place: str) -> BarChart:
    bars = BarChart()
    bars.type = "bar"
    most = f"{MOST_BARS} inputs that matter most" if inputs > MOST_BARS else "inputs"
    _dress(bars, f"Rank correlation of the {most}" + (f" at {place}" if place else ""), None, None)
    inputs = min(inputs, MOST_BARS)
    for number, colour in ((2, COLOURS[0]), (4, COLOURS[1])):
        values = Reference(sheet, min_col=number, min_row=1, max_row=inputs + 1)
        bars.add_data(values, titles_from_data=True)
        bars.series[-1].graphicalProperties.solidFill = colour
    bars.set_categories(Reference(sheet, min_col=1, min_row=2, max_row=inputs + 1))
    bars.x_axis.scaling.orientation = "maxMin"
    bars.x_axis.tickLblPos = "low"
    bars.y_axis.scaling.min, bars.y_axis.scaling.max = -1, 1
    return bars


def _dress(chart: Any, title: str, y_title: str | None, x_title: str | None, legend: str = "b") -> None:
    chart.title = title
    chart.width, chart.height = WIDTH_CM, HEIGHT_CM
    chart.x_axis.title, chart.y_axis.title = x_title, y_title
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.y_axis.number_format = "General"
    chart.y_axis.numFmt.sourceLinked = False
    chart.legend.position = legend
