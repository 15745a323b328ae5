"""Two charts over all columns of the comparison: waveforms and spectra, each on one scale by construction."""

from __future__ import annotations

from typing import Final

from openpyxl.chart import BarChart, LineChart, Reference, ScatterChart, Series
from openpyxl.chart.axis import ChartLines, NumericAxis
from openpyxl.chart.layout import Layout, ManualLayout
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.drawing.line import LineProperties
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import comparison_names as here
from xlcalc.workbooks.comparison import comparison_workings as workings

SINE: Final = "C99A2E"
LIMIT_SIZE: Final = 4
UPRIGHT: Final = -5_400_000
SMALL: Final = 600
HIDDEN: Final = ";;;"


def waveforms(data: Worksheet, label_share: float) -> ScatterChart:
    """One cycle of every front end, side by side along one axis; a light line shows the ideal sine."""
    chart = ScatterChart()
    chart.style = 13
    chart.scatterStyle = "lineMarker"
    first, last = workings.FIRST_ROW, workings.FIRST_ROW + workings.POINTS - 1
    for column, name, colour, width in ((2, "ideal", SINE, 12_700), (1, "drawn", charts.CURRENT, 22_225)):
        for number in range(here.COLUMNS):
            start = workings.WAVES_FROM + 3 * number
            x = Reference(data, min_col=start, min_row=first, max_row=last)
            y = Reference(data, min_col=start + column, min_row=first, max_row=last)
            series = Series(y, x, title=f"{name} {number + 1}")
            series.marker.symbol = "none"
            series.smooth = False
            line = LineProperties(solidFill=colour, w=width, prstDash="sysDash" if column == 2 else None)
            series.graphicalProperties = GraphicalProperties(ln=line)
            chart.series.append(series)
    charts.dress(chart, "", "", "line current, A")
    across = chart.x_axis
    assert isinstance(across, NumericAxis)
    across.scaling.min = 0
    across.scaling.max = workings.PANEL_DEGREES * here.COLUMNS
    across.majorUnit = workings.PANEL_DEGREES
    across.majorTickMark = "none"
    across.tickLblPos = "low"
    across.number_format = HIDDEN
    across.majorGridlines = ChartLines(spPr=GraphicalProperties(ln=LineProperties(solidFill=style.RULE)))
    _bare(chart, label_share, 0.04, 0.92)
    return chart


def spectra(data: Worksheet, label_share: float) -> BarChart:
    """Bars by order of every front end side by side, with the limits as dashes."""
    first, last = workings.FIRST_ROW, workings.FIRST_ROW + workings.BARS - 1

    def column(offset: int) -> Reference:
        return Reference(data, min_col=workings.BARS_FROM + offset, min_row=first, max_row=last)

    chart = BarChart()
    chart.type = "col"
    chart.gapWidth = 25
    bars = Series(column(1), title="current")
    bars.graphicalProperties = GraphicalProperties(solidFill=charts.BAR)
    bars.invertIfNegative = False
    chart.append(bars)
    chart.set_categories(column(0))
    limits = LineChart()
    dashes = Series(column(2), title="limit")
    dashes.graphicalProperties = GraphicalProperties(ln=LineProperties(noFill=True))
    dashes.marker.symbol = "dash"
    dashes.marker.size = LIMIT_SIZE
    dashes.marker.graphicalProperties = GraphicalProperties(
        solidFill=charts.LIMIT, ln=LineProperties(solidFill=charts.LIMIT)
    )
    dashes.smooth = False
    limits.append(dashes)
    limits.set_categories(column(0))
    chart += limits
    charts.dress(chart, "", "", "harmonics, %")
    chart.y_axis.scaling.min = 0
    chart.x_axis.axPos = "b"
    chart.x_axis.tickLblSkip = 1
    chart.x_axis.majorTickMark = "none"
    labels = charts.tick_text(SMALL)
    labels.bodyPr.rot = UPRIGHT
    chart.x_axis.txPr = labels
    _bare(chart, label_share, 0.03, 0.82)
    return chart


def _bare(chart: ScatterChart | BarChart, label_share: float, top: float, height: float) -> None:
    """No title and legend; the plot begins where the columns of the sheet begin."""
    chart.title = None
    chart.legend = None
    chart.x_axis.title = None
    inner = ManualLayout(
        layoutTarget="inner",
        xMode="edge",
        yMode="edge",
        x=label_share,
        y=top,
        w=1.0 - label_share,
        h=height,
    )
    chart.layout = Layout(manualLayout=inner)
