"""Native charts: bars per order with their limits, and curves over one cycle."""

from __future__ import annotations

from dataclasses import dataclass

from openpyxl.chart import BarChart, LineChart, Reference, ScatterChart, Series
from openpyxl.chart.axis import ChartLines, NumericAxis
from openpyxl.chart.label import DataLabelList
from openpyxl.chart.legend import Legend
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.chart.text import RichText, Text
from openpyxl.chart.title import Title
from openpyxl.drawing.line import LineProperties
from openpyxl.drawing.spreadsheet_drawing import AnchorMarker, TwoCellAnchor
from openpyxl.drawing.text import (
    CharacterProperties,
    Font,
    Paragraph,
    ParagraphProperties,
    RegularTextRun,
    RichTextProperties,
)
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style

BAR = "4A7C8C"
LIMIT = "A8321E"
CURRENT = "2F4858"
VOLTAGE = "B9A06A"
GRID = "DDE3E6"
TICK_SIZE = 700
UPRIGHT = -5_400_000
"""A quarter of a turn in 60,000ths of a degree."""


@dataclass(frozen=True)
class ChartRows:
    """Rows of a sheet that a chart shows: category or x column, first and last row."""

    sheet: Worksheet
    first_row: int
    last_row: int
    x_column: int

    def column(self, number: int) -> Reference:
        return Reference(self.sheet, min_col=number, min_row=self.first_row, max_row=self.last_row)

    @property
    def x(self) -> Reference:
        return self.column(self.x_column)


def bars(
    block: ChartRows, column: int, name: str, title: str, unit: str, limits: tuple[int, str] | None = None
) -> BarChart:
    """Bars per order; `limits` is the column of the limits and their name, drawn as dashes over the bars."""
    chart = BarChart()
    chart.type = "col"
    chart.gapWidth = 40
    series = Series(block.column(column), title=name)
    series.graphicalProperties = GraphicalProperties(solidFill=BAR)
    series.invertIfNegative = False
    chart.append(series)
    chart.set_categories(block.x)
    if limits:
        chart += _dashes(block, *limits)
    chart.x_axis.tickLblSkip = 1
    chart.x_axis.axPos = "b"
    chart.y_axis.scaling.min = 0
    dress(chart, title, "harmonic order", unit)
    return chart


def ranking(block: ChartRows, column: int, title: str, unit: str) -> BarChart:
    """Horizontal bars, the first row on top; `column` holds their lengths."""
    chart = BarChart()
    chart.type = "bar"
    chart.gapWidth = 40
    series = Series(block.column(column), title=unit)
    series.graphicalProperties = GraphicalProperties(solidFill=BAR)
    series.invertIfNegative = False
    chart.append(series)
    chart.set_categories(block.x)
    dress(chart, title, "", unit)
    chart.legend = None
    chart.x_axis.title = None
    chart.x_axis.scaling.orientation = "maxMin"
    chart.x_axis.tickLblPos = "low"
    chart.y_axis.crosses = "max"
    return chart


@dataclass(frozen=True)
class Axis:
    """Axis across a chart of curves, and the number format of the other one."""

    title: str
    low: float
    high: float
    step: float
    number_format: str = "0.0"


CYCLE = Axis("degrees", 0, 360, 60)
ORDERS = Axis("harmonic order", 0, 50, 5, "General")


def curves(
    block: ChartRows, columns: tuple[tuple[int, str, str], ...], title: str, unit: str, axis: Axis = CYCLE
) -> ScatterChart:
    """Curves over one cycle in degrees, or another axis; `columns` holds column number, name and colour."""
    chart = ScatterChart()
    chart.style = 13
    chart.scatterStyle = "lineMarker"
    for number, name, colour in columns:
        series = Series(block.column(number), block.x, title=name)
        series.marker.symbol = "none"
        series.smooth = False
        series.graphicalProperties = GraphicalProperties(ln=LineProperties(solidFill=colour, w=19050))
        chart.series.append(series)
    across = NumericAxis(axId=10, crossAx=100, majorUnit=axis.step)
    across.axPos = "b"
    across.scaling.min = axis.low
    across.scaling.max = axis.high
    across.tickLblPos = "low"
    chart.x_axis = across
    dress(chart, title, axis.title, unit)
    chart.y_axis.number_format = axis.number_format
    return chart


def grouped(
    block: ChartRows,
    columns: tuple[tuple[int, str, str], ...],
    limit: int,
    title: str,
    unit: str,
    *,
    across: str = "bus",
    limit_name: str = "limit",
) -> BarChart:
    """Bars side by side per row; `columns` holds column number, name and colour, `limit` its column."""
    chart = BarChart()
    chart.type = "col"
    chart.gapWidth = 60
    for number, name, colour in columns:
        series = Series(block.column(number), title=name)
        series.graphicalProperties = GraphicalProperties(solidFill=colour)
        series.invertIfNegative = False
        chart.append(series)
    chart.set_categories(block.x)
    chart += _dashes(block, limit, limit_name)
    chart.x_axis.axPos = "b"
    chart.y_axis.scaling.min = 0
    dress(chart, title, across, unit)
    return chart


Points = tuple[Reference, Reference, str, str, bool]
"""Horizontal and vertical values, name, colour, and whether a line joins them."""


def scatter(series: tuple[Points, ...], title: str, x_title: str, y_title: str) -> ScatterChart:
    """Points; each series is x, y, name, colour, and whether a line joins them."""
    chart = ScatterChart()
    chart.style = 13
    chart.scatterStyle = "lineMarker"
    for x, y, name, colour, joined in series:
        points = Series(y, x, title=name)
        points.smooth = False
        points.marker.symbol = "circle" if joined else "diamond"
        points.marker.size = 6 if joined else 10
        points.marker.graphicalProperties = GraphicalProperties(
            solidFill=colour, ln=LineProperties(solidFill=colour)
        )
        line = LineProperties(solidFill=colour, w=15875) if joined else LineProperties(noFill=True)
        points.graphicalProperties = GraphicalProperties(ln=line)
        chart.series.append(points)
    chart.x_axis.axPos = "b"
    chart.x_axis.scaling.min = 0
    chart.y_axis.scaling.min = 0
    dress(chart, title, x_title, y_title)
    chart.y_axis.number_format = "#,##0"
    return chart


def values_shown(number_format: str) -> DataLabelList:
    """Labels with the values of a series beside its points."""
    labels = DataLabelList()
    labels.showVal = True
    labels.showSerName = labels.showCatName = labels.showLegendKey = labels.showPercent = False
    labels.numFmt = number_format
    labels.position = "t"
    labels.txPr = tick_text(TICK_SIZE)
    return labels


def _dashes(block: ChartRows, column: int, name: str) -> LineChart:
    marks = LineChart()
    limit = Series(block.column(column), title=name)
    limit.graphicalProperties = GraphicalProperties(ln=LineProperties(noFill=True))
    limit.marker.symbol = "dash"
    limit.marker.size = 7
    limit.marker.graphicalProperties = GraphicalProperties(
        solidFill=LIMIT, ln=LineProperties(solidFill=LIMIT)
    )
    limit.smooth = False
    marks.append(limit)
    marks.set_categories(block.x)
    return marks


def place(
    sheet: Worksheet, chart: BarChart | ScatterChart, row: int, rows: int, columns: int, *, first: int = 0
) -> None:
    """Put the chart over whole cells, so that it is as wide as the page in every program.

    It covers the columns after `first` up to `columns`.
    """
    start = AnchorMarker(col=first, row=row - 1)
    end = AnchorMarker(col=columns, row=row - 1 + rows)
    chart.anchor = TwoCellAnchor(editAs="oneCell", _from=start, to=end)  # type: ignore[assignment]
    sheet.add_chart(chart)


def dress(chart: BarChart | ScatterChart, title: str, x_title: str, y_title: str) -> None:
    """Title, legend, axes and grid as in all charts of the templates."""
    chart.title = _title(title, 1000, bold=True)
    chart.legend = _legend()
    chart.graphical_properties = GraphicalProperties(ln=LineProperties(solidFill=style.RULE))
    for axis, text in ((chart.x_axis, x_title), (chart.y_axis, y_title)):
        axis.delete = False
        axis.title = _title(text, 800)
        axis.txPr = tick_text(TICK_SIZE)
        axis.number_format = "General"
        axis.majorTickMark = "out"
        axis.graphicalProperties = GraphicalProperties(ln=LineProperties(solidFill=style.MUTED))
    chart.x_axis.majorGridlines = None
    chart.y_axis.majorGridlines = ChartLines(spPr=GraphicalProperties(ln=LineProperties(solidFill=GRID)))


def _characters(size: int, bold: bool) -> CharacterProperties:
    return CharacterProperties(sz=size, b=bold, solidFill=style.INK, latin=Font(typeface=style.FONT))


def tick_text(size: int, *, upright: bool = False) -> RichText:
    """Text of axis labels, size in hundredths of a point; upright from bottom to top where many are close."""
    characters = _characters(size, bold=False)
    paragraph = Paragraph(pPr=ParagraphProperties(defRPr=characters), endParaRPr=characters)
    return RichText(bodyPr=RichTextProperties(rot=UPRIGHT if upright else 0, vert="horz"), p=[paragraph])


def _title(text: str, size: int, bold: bool = False) -> Title:
    characters = _characters(size, bold)
    run = RegularTextRun(rPr=characters, t=text)
    paragraph = Paragraph(pPr=ParagraphProperties(defRPr=characters), r=[run])
    rich = RichText(bodyPr=RichTextProperties(), p=[paragraph])
    return Title(tx=Text(rich=rich), overlay=False)


def _legend() -> Legend:
    legend = Legend()
    legend.position = "b"
    legend.overlay = False
    legend.txPr = tick_text(800)
    return legend
