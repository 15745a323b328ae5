"""Charts of a sweep on the first sheet of its workbook."""

from __future__ import annotations

from typing import Any, Final

import pandas as pd
from openpyxl import Workbook
from openpyxl.chart import BarChart, Reference, ScatterChart, Series

from xlcalc.drawing import charts
from xlcalc.io.results.outcome_sheet import place_chart
from xlcalc.jobs.sweep.sweep_run import OUTPUTS
from xlcalc.jobs.sweep.sweep_tables import LIMIT

LEVELS_SHEET, CURVE_SHEET, RANKS_SHEET = "levels", "curve", "inputs that matter"
COLOURS: Final = ("1F4E79", "C55A11", "548235", "7F6000", "7030A0", "00808A", "A61C3C", "595959")
LIMIT_COLOUR: Final = "A8321E"
NAMES: Final = {"tdd pct": "TDD (% of the demand current)", "thdv pct": "Voltage THD (% of nominal)"}
MOST_CURVES: Final = len(COLOURS)
MOST_BARS: Final = 12


def add_charts(book: Workbook, sheet: Any, row: int, curve: pd.DataFrame, inputs: int, place: str) -> None:
    """Curves of levels not exceeded with their limit, and bars of the rank correlations.

    Parameters
    ----------
    book : Workbook
    sheet, row
        Where the charts go.
    curve : DataFrame
        As on its sheet.
    inputs : int
        Rows of the first place on the sheet of the rank correlations.
    place : str
        That place; blank where there is one alone.
    """
    for title, columns, limit in _curves(curve):
        row = place_chart(sheet, _curve_chart(book[CURVE_SHEET], len(curve), title, columns, limit), row)
    place_chart(sheet, _rank_chart(book[RANKS_SHEET], inputs, place), row)


def _curves(curve: pd.DataFrame) -> list[tuple[str, list[int], int]]:
    """Title, columns of the curves and column of their limit: one chart per quantity."""
    headings = [str(heading) for heading in curve.columns]
    found = []
    for name in OUTPUTS:
        columns = [n for n, heading in enumerate(headings, start=1) if heading.startswith(name)]
        more = f" (the {MOST_CURVES} places of least margin)" if len(columns) > MOST_CURVES else ""
        title = f"{NAMES[name]} not exceeded by a share of the combinations{more}"
        found.append((title, columns[:MOST_CURVES], headings.index(f"{LIMIT}{name}") + 1))
    return found


def _curve_chart(sheet: Any, rows: int, title: str, columns: list[int], limit: int) -> ScatterChart:
    chart = ScatterChart(scatterStyle="lineMarker")
    _dress(chart, title, "%", "share of combinations (%)", "b" if len(columns) <= len(OUTPUTS) else "r")
    shares = Reference(sheet, min_col=1, min_row=2, max_row=rows + 1)
    for number, colour in (*zip(columns, COLOURS, strict=False), (limit, LIMIT_COLOUR)):
        values = Reference(sheet, min_col=number, min_row=1, max_row=rows + 1)
        series = Series(values, shares, title_from_data=True)
        series.marker.symbol = "none"
        series.graphicalProperties.line.solidFill = colour
        if number == limit:
            series.graphicalProperties.line.dashStyle = "dash"
        series.smooth = False
        chart.series.append(series)
    chart.x_axis.scaling.min, chart.x_axis.scaling.max = 0, 100
    chart.y_axis.scaling.min = 0
    return chart


def _rank_chart(sheet: Any, inputs: int, place: str) -> BarChart:
    bars = BarChart()
    bars.type = "bar"
    most = f"{MOST_BARS} inputs that matter most" if inputs > MOST_BARS else "inputs"
    _dress(bars, f"Rank correlation of the {most}" + (f" at {place}" if place else ""), "", "")
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


def _dress(chart: Any, title: str, y_title: str, x_title: str, legend: str = "b") -> None:
    charts.dress(chart, title, x_title, y_title)
    chart.legend.position = legend
