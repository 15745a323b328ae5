"""Operating time on the sheet of the cases: distortion over the year, from the share that each case takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import names
from xlcalc.standards.statistics import SHARES_WITHIN
from xlcalc.workbooks.kit import marks, page

COLUMNS: Final = 10
CASE, SHARE, TDD, THDV, TIME_TDD, SORTED_TDD, TIME_THDV, SORTED_THDV = range(1, 9)
HEADINGS: Final = (
    "case",
    "share of the year (%)",
    "TDD (%)",
    "voltage THD (%)",
    "% of time",
    "TDD reached (%)",
    "% of time",
    "voltage THD reached (%)",
    "",
    "",
)
MARKS: Final = (("Not exceeded in 95 % of the time", 95), ("in 99 % of the time", 99), ("at any time", 100))
CHART_ROWS: Final = 13
CURVES: Final = (("TDD", TIME_TDD, "2F4858"), ("voltage THD", TIME_THDV, "B9A06A"))


@dataclass(frozen=True)
class CaseOfYear:
    """One case at one PCC: formulas without equals signs."""

    name: str
    share: str
    tdd: str
    thdv: str


def build(sheet: Worksheet, row: int, pccs: Sequence[Sequence[CaseOfYear]]) -> int:
    """A block per PCC with its duration curves; returns the last row."""
    last = row
    for number, states in enumerate(pccs, start=1):
        last = _pcc(sheet, row, number, states)
        row = last + 2
        if number < len(pccs):
            page.break_before(sheet, row)
    return last


def _pcc(sheet: Worksheet, row: int, number: int, states: Sequence[CaseOfYear]) -> int:
    page.section(sheet, row, f"Point of common coupling {number} over the year", COLUMNS)
    page.headings(sheet, row + 1, HEADINGS)
    sheet.row_dimensions[row + 1].height = 28
    first, last = row + 2, row + 1 + len(states)
    shares = names.area(first, SHARE, last, SHARE)
    for line, state in enumerate(states, start=first):
        there = f"ISNUMBER({state.tdd})"
        page.put(sheet, line, CASE, f"={state.name}", style.LABEL)
        page.put(sheet, line, SHARE, f'=IF(N({state.share})>0,{state.share},"")', style.RESULT, "0.##")
        for column, value in ((TDD, state.tdd), (THDV, state.thdv)):
            shown = f'IF($B{line}="","",IF({there},{value},"no result"))'
            page.put(sheet, line, column, f"={shown}", style.RESULT, "0.00")
        for column, source in ((TIME_TDD, TDD), (TIME_THDV, THDV)):
            values = names.area(first, source, last, source)
            curve = f"HD_DURATION_CURVE({values},{shares})"
            for place, part in ((column, 2), (column + 1, 1)):
                formula = f'=IFERROR(INDEX({curve},{line - first + 1},{part}),"")'
                page.put(sheet, line, place, formula, style.RESULT, "0.##")
    total = f"SUM({shares})"
    whole = f"ABS({total}-100)<={SHARES_WITHIN:g}"
    for line, (text, percent) in enumerate(MARKS, start=last + 1):
        page.put(sheet, line, CASE, text, style.LABEL)
        for column in range(SHARE, COLUMNS + 1):
            page.put(sheet, line, column, None, style.LABEL)
        for column in (TDD, THDV):
            values = names.area(first, column, last, column)
            known = f'{whole},COUNTIF({values},"no result")=0'
            found = f"HD_TIME_PERCENTILE({values},{shares},{percent})"
            page.put(sheet, line, column, f'=IF(AND({known}),{found},"")', style.RESULT, "0.00")
    lacking = f'"The shares add up to "&ROUND({total},2)&" %, not 100 %: no percentile"'
    lack = f'=IF(OR({whole},{total}=0),"",{lacking})'
    note = last + len(MARKS) + 1
    page.put(sheet, note, CASE, lack, style.STRONG)
    marks.formula(sheet, f"A{note}", f'$A${note}<>""', style.UNKNOWN)
    block = charts.ChartRows(sheet, first, last, SHARE)
    points = tuple(
        (block.column(time), block.column(time + 1), name, colour, True) for name, time, colour in CURVES
    )
    chart = charts.scatter(
        points, f"Duration curves of PCC {number}", "% of the time reached or exceeded", "%"
    )
    chart.x_axis.scaling.min, chart.x_axis.scaling.max = 0, 100
    charts.place(sheet, chart, note + 1, CHART_ROWS, COLUMNS)
    return note + CHART_ROWS
