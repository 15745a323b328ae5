"""Charts of a sweep in its workbook."""

from __future__ import annotations

from typing import Any, Final

from openpyxl import Workbook
from openpyxl.chart import BarChart, Reference, ScatterChart, Series

LEVELS_SHEET, CURVE_SHEET, RANKS_SHEET = "levels", "curve", "inputs that matter"
WIDTH_CM: Final = 18
HEIGHT_CM: Final = 9
COLOURS: Final = ("1F4E79", "C55A11")


def add_charts(book: Workbook, curve_rows: int, inputs: int) -> None:
    """Curve of levels not exceeded, and bars of the rank correlations, on the first sheet."""
    sheet: Any = book[LEVELS_SHEET]
    curve: Any = book[CURVE_SHEET]
    chart = ScatterChart(scatterStyle="lineMarker")
    _dress(chart, "Not exceeded by a share of the combinations", "%", "share of combinations (%)")
    shares = Reference(curve, min_col=1, min_row=2, max_row=curve_rows + 1)
    for number, colour in enumerate(COLOURS, start=2):
        values = Reference(curve, min_col=number, min_row=1, max_row=curve_rows + 1)
        series = Series(values, shares, title_from_data=True)
        series.marker.symbol = "none"
        series.graphicalProperties.line.solidFill = colour
        series.smooth = False
        chart.series.append(series)
    chart.x_axis.scaling.min, chart.x_axis.scaling.max = 0, 100
    sheet.add_chart(chart, "A6")

    ranks: Any = book[RANKS_SHEET]
    bars = BarChart()
    bars.type = "bar"
    _dress(bars, "Rank correlation of the inputs", None, None)
    for number, colour in ((2, COLOURS[0]), (4, COLOURS[1])):
        values = Reference(ranks, min_col=number, min_row=1, max_row=inputs + 1)
        bars.add_data(values, titles_from_data=True)
        bars.series[-1].graphicalProperties.solidFill = colour
    bars.set_categories(Reference(ranks, min_col=1, min_row=2, max_row=inputs + 1))
    bars.x_axis.scaling.orientation = "maxMin"
    bars.x_axis.tickLblPos = "low"
    bars.y_axis.scaling.min, bars.y_axis.scaling.max = -1, 1
    sheet.add_chart(bars, "A26")


def _dress(chart: Any, title: str, y_title: str | None, x_title: str | None) -> None:
    chart.title = title
    chart.width, chart.height = WIDTH_CM, HEIGHT_CM
    chart.x_axis.title, chart.y_axis.title = x_title, y_title
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.legend.position = "b"
