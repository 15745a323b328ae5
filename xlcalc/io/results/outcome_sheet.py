"""The first sheet of a book of results: the outcome in sentences, and charts against the limits."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any, Final

import pandas as pd
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.properties import PageSetupProperties

from xlcalc.drawing import charts, style
from xlcalc.files.celltext import storable
from xlcalc.standards.verdict import FAIL, PASS

SHEET: Final = "outcome"
ORDERS_SHEET: Final = "orders"
YEAR_SHEET: Final = "year"
WIDTH: Final = 75
"""Of the one column: LibreOffice does not shrink a page to a column that is wider."""
CHART_ROWS: Final = 16
LINE_HEIGHT: Final = 13.0
SIGNS: Final = 1.13
"""Signs of a line per unit of width."""
PAGE_ROWS: Final = 45
MOST_CHARTS: Final = 6
"""PCCs with a chart, those that fail first."""
CURVES: Final = (style.SLATE, charts.LIMIT, "B9A06A")
COLOURS: Final = {f"Verdict: {FAIL}": style.BAD, f"Verdict: {PASS}": style.GOOD}


def add_outcome(
    book: Workbook, title: str, lines: Iterable[str], orders: pd.DataFrame, year: pd.DataFrame
) -> None:
    """Put the sheet of a schedule before the others.

    Parameters
    ----------
    book : Workbook
        Write-only, with sheets `orders` and `year` whose rows are those of the tables.
    title : str
    lines : iterable of str
        The outcome, one sentence each.
    orders : DataFrame
        Current and voltage at each PCC by order with their limits.
    year : DataFrame
        Duration curves of each PCC; may be empty.
    """
    sheet, row = outcome_sheet(book, title, lines)
    for place, first, last in _places(orders):
        block = charts.ChartRows(book[ORDERS_SHEET], first, last, _column(orders, "order"))
        chart = charts.bars(
            block,
            _column(orders, "current pct"),
            "current",
            f"Harmonic current against its limits: {place}",
            "% of demand current",
            (_column(orders, "current limit pct"), "limit"),
        )
        row = place_chart(sheet, chart, row)
    for place, curves in _durations(book, year):
        curve = charts.scatter(curves, f"Over the year: {place}", "% of the time", "%")
        curve.x_axis.scaling.min, curve.x_axis.scaling.max = 0, 100
        row = place_chart(sheet, curve, row)


def _durations(book: Workbook, year: pd.DataFrame) -> Iterator[tuple[str, tuple[charts.Points, ...]]]:
    """Name of each PCC, and its duration curves: percent against the share of the time that reaches it."""
    for keys, rows in year.groupby(["site", "pcc"], sort=False):
        curves = []
        for (quantity, states), colour in zip(rows.groupby("quantity", sort=False), CURVES, strict=False):
            block = charts.ChartRows(
                book[YEAR_SHEET],
                int(states.index[0]) + 2,
                int(states.index[-1]) + 2,
                _column(year, "reached pct of time"),
            )
            curves.append((block.x, block.column(_column(year, "value pct")), str(quantity), colour, True))
        yield ", ".join(map(str, keys)), tuple(curves)


def outcome_sheet(book: Workbook, title: str, lines: Iterable[str]) -> tuple[Any, int]:
    """A first sheet with a title and sentences; returns it and the row at which charts may begin."""
    sheet: Any = book.create_sheet(SHEET, 0)
    book.active = 0
    sheet.column_dimensions["A"].width = WIDTH
    sheet.page_margins.left = sheet.page_margins.right = 0.5
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.append([_cell(sheet, title, Font(name=style.FONT, size=16, bold=True, color=style.SLATE))])
    sheet.append([])
    count = 2
    for line in lines:
        cell = _cell(sheet, line, Font(name=style.FONT, size=10, bold=not line.startswith(" ")))
        colours = next((c for text, c in COLOURS.items() if line.strip().startswith(text)), None)
        if colours is not None:
            cell.fill = PatternFill("solid", start_color=colours[0], end_color=colours[0])
        count += 1
        lines_of = math.ceil(len(line) / (SIGNS * WIDTH))
        if lines_of > 1:
            sheet.row_dimensions[count].height = LINE_HEIGHT * lines_of + 3.0
        sheet.append([cell])
    return sheet, count + 3


def place_chart(sheet: Any, chart: Any, row: int) -> int:
    """Put a chart on the sheet, on the next page where this one has no room; returns the row after it."""
    used = row - (sheet.row_breaks.brk[-1].id if sheet.row_breaks.brk else 0)
    if used + CHART_ROWS > PAGE_ROWS:
        sheet.row_breaks.append(Break(row - 1))
    charts.place(sheet, chart, row, CHART_ROWS, 1)
    return row + CHART_ROWS + 1


def _places(orders: pd.DataFrame) -> list[tuple[str, int, int]]:
    """Name of each PCC, and the rows of its orders 2 to 50 on the sheet; the worst first."""
    keys = [name for name in ("site", "case", "pcc") if name in orders]
    if not keys or "current pct" not in orders:
        return []
    found = []
    for _, group in orders[orders["order"] >= 2].groupby(keys, sort=False):
        share = (group["current pct"] / group["current limit pct"]).max()
        names = [str(group[key].iloc[0]) for key in keys]
        found.append((float(share), ", ".join(filter(None, names)), group.index[0] + 2, group.index[-1] + 2))
    ranked = sorted(found, key=lambda item: -item[0])
    return [(name, int(first), int(last)) for _, name, first, last in ranked[:MOST_CHARTS]]


def _column(orders: pd.DataFrame, name: str) -> int:
    return list(orders.columns).index(name) + 1


def _cell(sheet: Any, text: str, font: Font) -> Any:
    cell = WriteOnlyCell(sheet, storable(text))
    cell.data_type = "s"
    cell.font = font
    cell.alignment = Alignment(wrap_text=True, vertical="top", indent=(len(text) - len(text.lstrip())) // 2)
    return cell
