"""Sheet of results at the point of common coupling: verdict, charts, and the table by order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import names
from xlcalc.workbooks.drive import arrays_sheet, schedule
from xlcalc.workbooks.kit import marks, page, verdict_cells

COLUMNS = 8
VERDICT_ROW = 5
COUNT_ROW = 10
KEY_ROW = 13
BESIDE_ROW = 21
CURRENT_CHART_ROW = 26
CHART_ROWS = 8
VOLTAGE_CHART_ROW = CURRENT_CHART_ROW + CHART_ROWS
TABLE_ROW = 44
GAP_HEIGHT = 6
LABELLED = 3
"""Every third order has its number: 2, 5, 8, 11 and so on, with the largest of six pulses among them."""
TABLE_ROW_HEIGHT = 12
ORDERS = 50
FORMATS = ("0_)", "0.000_)", "0.000_)", "0.00_)", "0.000_)", "0.000_)", "0.00_)", "0.000_)")
WITHOUT_LIMIT = (4, 5, 7, 8)


@dataclass(frozen=True)
class Figure:
    """A key figure of the PCC and the quantity of its limit."""

    text: str
    quantity: str
    limit: str
    number_format: str
    unit: str


FIGURES = (
    Figure("Total demand distortion (TDD)", "TDD", "LIMIT_TDD", "0.00", "% of demand current"),
    Figure("Voltage distortion (THD)", "THDV", "LIMIT_THDV", "0.00", "% of nominal voltage"),
    Figure("Short-circuit current Isc", "ISC", "", "#,##0", "A"),
    Figure("Maximum demand current IL", "IL", "", "#,##0.0", "A"),
    Figure("Isc / IL", "ISC_IL", "", "0.0", "picks the row of the limits"),
    Figure("Order with the smallest margin", "WORST_ORDER", "", "0", "harmonic order"),
    Figure("Margin of the binding quantity", "MARGIN", "", "0.0", "% of its limit"),
)

Formula = Callable[[str], str]


def build(book: Workbook, sheet: Worksheet) -> None:
    """Fill the sheet for the simple plant."""
    fill(book, sheet, simple_quantity)
    count(sheet, COUNT_ROW, schedule.RESULT_TAGS)
    names.define(book, names.STUDY_VERDICT, sheet, f"C{VERDICT_ROW}")
    names.define(book, names.STUDY_REASON, sheet, f"C{VERDICT_ROW + 1}")


def fill(book: Workbook, sheet: Worksheet, quantity: Formula) -> None:
    """Everything but what only one template has; `quantity` gives the formula of one figure."""
    page.widths(sheet, *[12.5] * COLUMNS)
    page.heading(
        sheet, "Point of common coupling", "Distortion of all loads together against the published limits."
    )
    page.study_title(sheet)
    _verdict(book, sheet, quantity)
    _key_figures(book, sheet, quantity)
    _beside(sheet, quantity)
    _by_order(sheet)
    _charts(sheet)
    for row in (KEY_ROW - 1, BESIDE_ROW + 4):
        sheet.row_dimensions[row].height = GAP_HEIGHT
    page.break_before(sheet, TABLE_ROW)
    last = TABLE_ROW + 1 + ORDERS + 1
    page.set_up(sheet, area=names.area(1, 1, last, COLUMNS))


def simple_quantity(name: str) -> str:
    """One figure of the plant."""
    return f'HD_PCC_VALUE({schedule.input_span()},{names.SITE},"{name}",{names.CALL_SETTINGS})'


def _verdict(book: Workbook, sheet: Worksheet, quantity: Formula) -> None:
    page.section(sheet, VERDICT_ROW - 1, "Verdict", COLUMNS)
    cell = f"$C${VERDICT_ROW}"
    lines = (
        ("Limits met?", "VERDICT", verdict_cells.word(quantity("VERDICT")), style.VERDICT, 24),
        ("Why no verdict", "REASON", verdict_cells.reason(cell, quantity("REASON")), style.RESULT_TEXT, 26),
        ("Remarks", "REMARKS", verdict_cells.text(quantity("REMARKS")), style.RESULT_TEXT, 68),
        ("Binding quantity", "WORST", verdict_cells.text(quantity("WORST")), style.RESULT_TEXT, 18),
        ("Source of its limit", "SOURCE", verdict_cells.text(quantity("SOURCE")), style.RESULT_TEXT, 18),
    )
    for row, (text, name, formula, look, height) in enumerate(lines, start=VERDICT_ROW):
        wide(sheet, row, text, 4 if name == "VERDICT" else COLUMNS)
        page.put(sheet, row, 3, f"={formula}", look)
        names.define(book, names.pcc(name), sheet, f"C{row}")
        sheet.row_dimensions[row].height = height
    page.put(sheet, VERDICT_ROW, 5, "IEEE 519, edition", style.LABEL)
    sheet.merge_cells(f"E{VERDICT_ROW}:G{VERDICT_ROW}")
    page.put(sheet, VERDICT_ROW, 8, f"={names.EDITION}", style.RESULT, "0")
    marks.verdict(sheet, f"C{VERDICT_ROW}")
    marks.formula(sheet, f"C{VERDICT_ROW + 1}", f'$C${VERDICT_ROW + 1}<>""', style.UNKNOWN)


def wide(sheet: Worksheet, row: int, text: str, last: int = COLUMNS) -> None:
    """A label over two columns, and one cell from the third to the last."""
    for column in range(1, COLUMNS + 1):
        sheet.cell(row, column).style = style.LABEL
    page.put(sheet, row, 1, text, style.LABEL)
    sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=2)
    sheet.merge_cells(start_row=row, end_row=row, start_column=3, end_column=last)


def solved_count(solved: str) -> str:
    """Formula for the number of drives with results; `solved` are their tags.

    The result of a single drive fills every row of its array, as spreadsheets have it: each tag stands once.
    """
    alike = f"AND(LEN(INDEX({solved},1))>0,INDEX({solved},1)=INDEX({solved},2))"
    return f"IF({alike},1,SUMPRODUCT(--(LEN({solved})>0)))"


def count(sheet: Worksheet, row: int, solved: str) -> None:
    """How many rows of drives were typed, and how many of them the study holds; `solved` are their tags."""
    wide(sheet, row, "Rows of drives")
    formula = f'=COUNTA({names.TAGS})&" typed, "&{solved_count(solved)}&" in the study"'
    page.put(sheet, row, 3, formula, style.RESULT_TEXT)


def _beside(sheet: Worksheet, quantity: Formula) -> None:
    """The quick estimate, the typical supply and the plant without mitigation, which do not decide."""
    page.section(sheet, BESIDE_ROW, "Beside the verdict", COLUMNS)
    rows = (
        ("Quick estimate, drives one by one", "QUICK_TDD", "QUICK_THDV", "QUICK_VERDICT"),
        ("Typical supply, where none is stated", "TYPICAL_TDD", "", "TYPICAL_VERDICT"),
        ("Without reactors, chokes and filters", "BARE_TDD", "BARE_THDV", "BARE_VERDICT"),
    )
    for row, (text, tdd, thdv, word) in enumerate(rows, start=BESIDE_ROW + 1):
        for column in range(1, COLUMNS + 1):
            sheet.cell(row, column).style = style.LABEL
        page.put(sheet, row, 1, text, style.LABEL)
        sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=3)
        for column, label, name in ((4, "TDD (%)", tdd), (6, "THDv (%)", thdv)):
            if name:
                page.put(sheet, row, column, label, style.LABEL)
                formula = f"={verdict_cells.text(quantity(name))}"
                page.put(sheet, row, column + 1, formula, style.RESULT, "0.00")
        page.put(sheet, row, 8, f"={verdict_cells.text(quantity(word))}", style.RESULT_TEXT)
        marks.verdict(sheet, f"H{row}")


def _key_figures(book: Workbook, sheet: Worksheet, quantity: Formula) -> None:
    page.headings(sheet, KEY_ROW, ("quantity", "", "", "value", "limit", "margin", "unit", ""))
    for row, figure in enumerate(FIGURES, start=KEY_ROW + 1):
        for column in range(1, COLUMNS + 1):
            sheet.cell(row, column).style = style.LABEL
        page.put(sheet, row, 1, figure.text, style.LABEL)
        value, limit = quantity(figure.quantity), quantity(figure.limit)
        page.put(sheet, row, 4, f"={value}", style.RESULT, figure.number_format)
        page.put(sheet, row, 5, f"={limit}" if figure.limit else None, style.RESULT, figure.number_format)
        margin = f"=E{row}-D{row}" if figure.limit else None
        page.put(sheet, row, 6, margin, style.RESULT, figure.number_format)
        basis = f'="A, "&{verdict_cells.text(quantity("IL_BASIS"))}'
        page.put(sheet, row, 7, basis if figure.quantity == "IL" else figure.unit, style.LABEL)
        names.define(book, names.pcc(figure.quantity), sheet, f"D{row}")
        if figure.limit:
            names.define(book, names.pcc(figure.limit), sheet, f"E{row}")
    for row in range(KEY_ROW, KEY_ROW + len(FIGURES) + 1):
        sheet.row_dimensions[row].height = 13
        sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=3)
        sheet.merge_cells(start_row=row, end_row=row, start_column=7, end_column=8)
    first = KEY_ROW + 1
    cells = f"D{first}:F{first + len(FIGURES) - 1}"
    marks.errors(sheet, cells)
    marks.just_above(sheet, f"D{first}:D{first + 1}", f"$F{first}", f"$E{first}", "0.00")
    marks.margins(sheet, cells, f"$F{first}", f"$E{first}")


def _by_order(sheet: Worksheet) -> None:
    page.section(sheet, TABLE_ROW, "Current and voltage by order", COLUMNS)
    page.headings(sheet, TABLE_ROW + 1, arrays_sheet.PCC.headings)
    sheet.row_dimensions[TABLE_ROW + 1].height = 28
    first = TABLE_ROW + 2
    last = first + ORDERS
    for row in range(first, last + 1):
        sheet.row_dimensions[row].height = TABLE_ROW_HEIGHT
        name = style.TOTAL if row == last else style.FIGURE
        for column, number_format in enumerate(FORMATS, start=1):
            source = arrays_sheet.PCC.cell(row - first + 1, column)
            formula = None if row == first and column in WITHOUT_LIMIT else f"={source}"
            page.put(sheet, row, column, formula, name, number_format)
    marks.errors(sheet, names.area(first, 1, last, COLUMNS))
    marks.just_above(sheet, f"C{first}:C{last}", f"$E{first}", f"$D{first}", FORMATS[2])
    marks.just_above(sheet, f"F{first}:F{last}", f"$H{first}", f"$G{first}", FORMATS[5])
    marks.margins(sheet, f"B{first}:E{last}", f"$E{first}", f"$D{first}")
    marks.margins(sheet, f"F{first}:H{last}", f"$H{first}", f"$G{first}")


def _charts(sheet: Worksheet) -> None:
    second_order = TABLE_ROW + 3
    block = charts.ChartRows(sheet, second_order, TABLE_ROW + 1 + ORDERS, x_column=1)
    current = charts.bars(
        block,
        3,
        "current",
        "Harmonic current at the PCC against its limits",
        "% of demand current",
        (4, "limit"),
    )
    voltage = charts.bars(
        block, 6, "voltage", "Harmonic voltage at the PCC against its limits", "% of nominal", (7, "limit")
    )
    for chart in (current, voltage):
        chart.legend.position = "r"
        chart.x_axis.tickLblSkip = LABELLED
        chart.x_axis.txPr = charts.tick_text(charts.TICK_SIZE, upright=True)
    charts.place(sheet, current, CURRENT_CHART_ROW, CHART_ROWS, COLUMNS)
    charts.place(sheet, voltage, VOLTAGE_CHART_ROW, CHART_ROWS, COLUMNS)
