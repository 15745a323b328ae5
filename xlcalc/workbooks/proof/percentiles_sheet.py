"""Sheet of percentiles against the limits of IEEE 519, by order, and the array results they rest on."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import names
from xlcalc.standards.verdict import FAIL, NO_VERDICT, PASS
from xlcalc.workbooks.kit import marks, page
from xlcalc.workbooks.proof import doubts, values_sheet
from xlcalc.workbooks.proof import proof_names as here
from xlcalc.workbooks.proof.proof_data import ORDERS, PHASES

RULES: Final = ("current 95 % week", "current 99 % week")
FIRST_ROW: Final = 6
COLUMNS: Final = 8
WIDTH: Final = 6
CHART_ROW: Final = FIRST_ROW + ORDERS + 2
CHART_ROWS: Final = 18
ROW_HEIGHT: Final = 12
LAST_ROW: Final = FIRST_ROW + ORDERS - 1


def build(book: Workbook, sheet: Worksheet, arrays: Worksheet) -> None:
    """Fill the sheet: the first row is TDD, then orders 2 to 50."""
    _arrays(arrays)
    _doubts(book, arrays)
    page.widths(sheet, 9, *[12.5] * (COLUMNS - 2), 17)
    page.heading(
        sheet,
        here.PERCENTILES,
        "Values of 10 minutes of a week, the phase that has most, percent of the demand current.",
    )
    page.headings(
        sheet,
        FIRST_ROW - 1,
        ("order", "95 % of the week", "limit", "margin", "99 % of the week", "limit", "margin", "verdict"),
    )
    for number in range(ORDERS):
        row = FIRST_ROW + number
        page.put(sheet, row, 1, number + 1 if number else "TDD", style.LABEL)
        for rule in range(len(RULES)):
            column = 2 + 3 * rule
            largest = ",".join(_cell(number, rule, phase, 1) for phase in range(PHASES))
            shown = f'IF(COUNT({largest})=0,"",MAX({largest})*{here.SCALE})'
            page.put(sheet, row, column, f'=IFERROR({shown},"")', style.RESULT, "0.00")
            limit = f"{_cell(number, rule, 0, 2)}*{here.SCALE}"
            page.put(sheet, row, column + 1, f'=IFERROR({limit},"")', style.RESULT, "0.00")
            value, most = (f"{letter}{row}" for letter in ("BC", "EF")[rule])
            margin = f'=IF(AND(ISNUMBER({value}),ISNUMBER({most})),{most}-{value},"")'
            page.put(sheet, row, column + 2, margin, style.RESULT, "0.00")
        words = [_cell(number, rule, phase, 3) for rule in range(len(RULES)) for phase in range(PHASES)]
        failed = ",".join(f'{word}="{FAIL}"' for word in words)
        passed = ",".join(f'{word}="{PASS}"' for word in words)
        word = f'IF(OR({failed}),"{FAIL}",IF(AND({passed}),"{PASS}","{NO_VERDICT}"))'
        page.put(
            sheet,
            row,
            COLUMNS,
            f'=IF({names.INPUT_FAULT}<>"","{NO_VERDICT}",IFERROR({word},"{NO_VERDICT}"))',
            style.RESULT_TEXT,
        )
        for value, margin, limit in (("B", "D", "C"), ("E", "G", "F")):
            marks.margins(sheet, f"{value}{row}:{margin}{row}", f"${margin}{row}", f"${limit}{row}")
        marks.verdict(sheet, f"H{row}")
        sheet.row_dimensions[row].height = ROW_HEIGHT
    block = charts.ChartRows(sheet, FIRST_ROW, FIRST_ROW + 25, 1)
    chart = charts.bars(block, 5, "99 % of the week", "Percentile against limit", "% of IL", (6, "limit"))
    charts.place(sheet, chart, CHART_ROW, CHART_ROWS, COLUMNS)
    page.break_before(sheet, CHART_ROW)
    page.set_up(sheet, area=names.area(1, 1, CHART_ROW + CHART_ROWS, COLUMNS), title_rows="1:5")
    sheet.freeze_panes = "B6"


def words() -> str:
    """The verdicts of all orders."""
    return names.reference(here.PERCENTILES, f"H{FIRST_ROW}:H{LAST_ROW}")


def first_reason() -> str:
    """Reason of the first phase's TDD, for where there is no verdict."""
    return _cell(0, 0, 0, WIDTH)


def _arrays(sheet: Worksheet) -> None:
    page.heading(sheet, names.ARRAYS_SHEET, "Results of HD_PERCENTILE_VERDICT; other sheets refer to them.")
    for number in range(ORDERS):
        row = FIRST_ROW + number
        page.put(sheet, row, 1, number + 1 if number else 0, style.ARRAY, "0")
        limit = (
            f"HD_LIMIT_CURRENT($A{row},{here.ISC_IL},{here.KV},{here.EDITION})"
            if number
            else f"HD_LIMIT_TDD({here.ISC_IL},{here.KV},{here.EDITION})"
        )
        page.put(sheet, row, 2, f"={limit}/{here.SCALE}", style.ARRAY)
        for rule, text in enumerate(RULES):
            for phase in range(PHASES):
                column = _column(rule, phase)
                area = names.area(row, column, row, column + WIDTH - 1)
                values = values_sheet.reference(phase, number + 1 if number else 0)
                cell = sheet.cell(row, column)
                cell.value = ArrayFormula(area, f'=HD_PERCENTILE_VERDICT({values},$B{row},"{text}")')
                cell.style = style.ARRAY
    page.set_up(sheet, area="A1:B2")


def _doubts(book: Workbook, sheet: Worksheet) -> None:
    """Why there is no verdict on the values or on the days."""
    lines = ((here.VALUE_DOUBT, doubts.of_values()), (here.DAY_DOUBT, doubts.of_days()))
    for row, (name, formula) in enumerate(lines, start=3):
        page.put(sheet, row, 2, f"={formula}", style.ARRAY)
        names.define(book, name, sheet, f"B{row}")


def _column(rule: int, phase: int) -> int:
    return 3 + WIDTH * (PHASES * rule + phase)


def _cell(number: int, rule: int, phase: int, part: int) -> str:
    """One cell of an array: 1 percentile, 2 limit, 3 verdict, 6 reason."""
    column = _column(rule, phase) + part - 1
    return names.reference(
        names.ARRAYS_SHEET, names.area(FIRST_ROW + number, column, FIRST_ROW + number, column).split(":")[0]
    )
