"""The first sheet of a study: the verdict in a sentence, what it rests on and what causes it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import names
from xlcalc.standards.verdict import FAIL, PASS
from xlcalc.workbooks.drive import arrays_sheet, pcc_sheet, schedule
from xlcalc.workbooks.kit import marks, page, verdict_cells

SHEET: Final = "Summary"
COLUMNS: Final = 8
VERDICT_ROW: Final = 5
FACT_ROW: Final = 9
RANK_ROW: Final = 20
CHART_ROWS: Final = 11
TABLE_ROW: Final = RANK_ROW + CHART_ROWS + 1
SHOWN: Final = arrays_sheet.RANKED
ASSUMED_HEIGHT, REMARKS_HEIGHT, TWO_LINES = 132.0, 96.0, 27.0
"""Room for what a plant with every kind of load has to say: formulas cannot set the height of their row."""
SMALL_MARGIN: Final = 10
"""Margin in percent of the limit below which the inputs are to be confirmed; common practice, no source."""

NEXT: Final = "What to do next"
VERIFY: Final = "Verify by measurement when the plant runs."
CHANGE: Final = (
    "Begin with the drives at the top of the ranking below: a line reactor or DC choke, a higher pulse "
    "number or a filter."
)
MEND: Final = "Mend what stands in the line above, then calculate the workbook again."
MAKE_PAGES: Final = "Make the pages with xlcalc submittal. "
COMPARE: Final = (
    " The template front_end_comparison compares front ends for one drive; xlcalc choose finds the cheapest "
    "mix."
)
"""What only the person who types needs to read."""

Formula = Callable[[str], str]


@dataclass(frozen=True)
class JudgedSentence:
    """What the sheet opens with, formulas without equals signs.

    Parameters
    ----------
    verdict : str
        The word on the whole study.
    sentence : str
        What decides it: the failing value and its limit, the smallest margin, or why there is no verdict.
    place : str
        PCC and operating case of the figures.
    """

    verdict: str
    sentence: str
    place: str


def build(book: Workbook, sheet: Worksheet) -> None:
    """The summary of a drive study."""
    quantity = pcc_sheet.simple_quantity
    finding = verdict_cells.text(quantity("FINDING"))
    sentence = f'IF({names.STUDY_REASON}<>"",{names.STUDY_REASON},{finding})'
    place = f'IF({names.PCC_SIDE}="","utility side",{names.PCC_SIDE})&" of the supply transformer"'
    count = f'COUNTA({names.TAGS})&" rows of drives typed, "&{pcc_sheet.solved_count(schedule.RESULT_TAGS)}'
    fill(
        book,
        sheet,
        JudgedSentence(names.STUDY_VERDICT, sentence, place),
        quantity,
        f'{count}&" in the study"',
        arrays_sheet.CONTRIBUTIONS,
    )


def fill(
    book: Workbook,
    sheet: Worksheet,
    opening: JudgedSentence,
    quantity: Formula,
    drives: str,
    block: arrays_sheet.Block,
) -> None:
    """Fill the sheet; `quantity` gives the formula of one figure of the PCC, `block` holds what causes it."""
    page.widths(sheet, *[12.5] * COLUMNS)
    page.heading(sheet, SHEET, "What the study found and what it rests on. Nothing to enter here.")
    page.study_title(sheet)
    _verdict(book, sheet, opening)
    _facts(sheet, opening, quantity, drives)
    _ranking(book, sheet, block)
    last = TABLE_ROW + SHOWN + 1
    page.set_up(sheet, area=names.area(1, 1, last, COLUMNS))
    sheet.page_setup.fitToHeight = 1


def _verdict(book: Workbook, sheet: Worksheet, opening: JudgedSentence) -> None:
    page.section(sheet, VERDICT_ROW - 1, "Outcome", COLUMNS)
    cell = f"$A${VERDICT_ROW}"
    page.put(sheet, VERDICT_ROW, 1, f"={opening.verdict}", style.VERDICT)
    _merge(sheet, VERDICT_ROW, 1, 2, style.VERDICT)
    page.put(sheet, VERDICT_ROW, 3, f"={opening.sentence}", style.RESULT_TEXT)
    names.define(book, names.pcc("FINDING"), sheet, f"C{VERDICT_ROW}")
    _merge(sheet, VERDICT_ROW, 3, COLUMNS, style.RESULT_TEXT)
    sheet.row_dimensions[VERDICT_ROW].height = 46
    marks.verdict(sheet, f"A{VERDICT_ROW}")
    page.put(sheet, VERDICT_ROW + 1, 1, NEXT, style.LABEL)
    _merge(sheet, VERDICT_ROW + 1, 1, 2, style.LABEL)
    page.put(sheet, VERDICT_ROW + 1, 3, f"={_next(cell, f'$C${FACT_ROW + 1}')}", style.RESULT_TEXT)
    _merge(sheet, VERDICT_ROW + 1, 3, COLUMNS, style.RESULT_TEXT)
    sheet.row_dimensions[VERDICT_ROW + 1].height = 38


def _next(verdict: str, margin: str) -> str:
    """What to do, by the verdict."""
    small = (
        f'IF(N({margin})<{SMALL_MARGIN},"The margin is small: confirm supply, demand current and drives with '
        'their sources first. ","")'
    )
    return (
        f'IF({verdict}="{PASS}",{small}&"{MAKE_PAGES}{VERIFY}",IF({verdict}="{FAIL}","{CHANGE}{COMPARE}",'
        f'"{MEND}"))'
    )


def _facts(sheet: Worksheet, opening: JudgedSentence, quantity: Formula, drives: str) -> None:
    """Figures with what they are measured by, then what is assumed."""
    page.section(sheet, FACT_ROW - 1, "What it rests on", COLUMNS)

    def given(name: str) -> str:
        return verdict_cells.text(quantity(name))

    il_basis = given("IL_BASIS")
    basis = (
        f'IF({il_basis}="typed","maximum demand current as typed",IF({il_basis}="estimated",'
        '"estimated as the fundamental of all loads; the standard asks for the demand of 12 months",""))'
    )
    figures = (
        ("PCC and case", "", "General", opening.place),
        (
            "Margin (%)",
            "MARGIN",
            "0.0",
            '"of the limit of the binding quantity; negative where it is exceeded"',
        ),
        ("TDD (%)", "TDD", "0.00", f'"limit "&{given("LIMIT_TDD")}&" % of the demand current"'),
        ("Voltage THD (%)", "THDV", "0.00", f'"limit "&{given("LIMIT_THDV")}&" % of nominal voltage"'),
        ("Demand current IL (A)", "IL", "#,##0.0", basis),
        ("Isc / IL", "ISC_IL", "0.0", f'"Isc "&TEXT({given("ISC")},"#,##0")&" A at the PCC"'),
        ("IEEE 519, edition", "", "General", f'{names.EDITION}&"; "&{given("SOURCE")}'),
        ("Drives", "", "General", drives),
    )
    for row, (text, name, number_format, beside) in enumerate(figures, start=FACT_ROW):
        page.put(sheet, row, 1, text, style.LABEL)
        _merge(sheet, row, 1, 2, style.LABEL)
        first = 4 if name else 3
        if name:
            page.put(sheet, row, 3, f"={given(name)}", style.RESULT, number_format)
        page.put(sheet, row, first, f'=IFERROR({beside},"")', style.RESULT_TEXT)
        _merge(sheet, row, first, COLUMNS, style.RESULT_TEXT)
        if name == "IL":
            sheet.row_dimensions[row].height = TWO_LINES
    row = FACT_ROW + len(figures)
    for text, formula, height in (
        ("Assumed or blank", names.ASSUMED_TEXT, ASSUMED_HEIGHT),
        ("Remarks", given("REMARKS"), REMARKS_HEIGHT),
    ):
        page.put(sheet, row, 1, text, style.LABEL)
        _merge(sheet, row, 1, 2, style.LABEL)
        page.put(sheet, row, 3, f'=IF({formula}="","none",{formula})', style.RESULT_TEXT)
        _merge(sheet, row, 3, COLUMNS, style.RESULT_TEXT)
        sheet.row_dimensions[row].height = height
        row += 1


def _ranking(book: Workbook, sheet: Worksheet, block: arrays_sheet.Block) -> None:
    """The drives that cause the order with the smallest margin: a chart and its table."""
    page.section(sheet, RANK_ROW, "", COLUMNS)
    order = block.cell(1, 1)
    title = f'=IFERROR("What causes the order with the smallest margin: order "&{order},"What causes it")'
    sheet.cell(RANK_ROW, 1).value = title
    headings = ("rank", "drives of the row", "", "units", "A at the PCC", "share (%)", "sum so far (%)", "")
    page.headings(sheet, TABLE_ROW, headings)
    _merge(sheet, TABLE_ROW, 2, 3, style.HEADING)
    _merge(sheet, TABLE_ROW, 7, 8, style.HEADING)
    first = TABLE_ROW + 1
    for number in range(1, SHOWN + 1):
        row = TABLE_ROW + number
        there = f"ISNUMBER({block.cell(number, 5)})"
        cells = (
            (1, f'IF({there},{number},"")', "0"),
            (2, f'IF({there},{block.cell(number, 2)}&"","")', "General"),
            (4, f'IF({there},{block.cell(number, 3)},"")', "0"),
            (5, f'IF({there},{block.cell(number, 4)},"")', "0.00"),
            (6, f'IF({there},{block.cell(number, 5)},"")', "0.0"),
            (7, f'IF({there},SUM($F${first}:F{row}),"")', "0.0"),
        )
        for column, formula, number_format in cells:
            look = style.RESULT_TEXT if column == 2 else style.FIGURE
            page.put(sheet, row, column, f"={formula}", look, number_format)
        _merge(sheet, row, 2, 3, style.RESULT_TEXT)
        _merge(sheet, row, 7, 8, style.FIGURE)
        sheet.row_dimensions[row].height = 13
    chart = charts.ranking(
        charts.ChartRows(sheet, first, TABLE_ROW + SHOWN, x_column=2),
        6,
        "Share of the drives in that order at the PCC",
        "% of the sum of all drives",
    )
    charts.place(sheet, chart, RANK_ROW + 1, CHART_ROWS, COLUMNS)
    note = TABLE_ROW + SHOWN + 1
    text = "The rows with the largest shares, ten at most. All shares add up to 100 %."
    page.put_text(sheet, note, 1, text, style.SUBTITLE)
    names.define(book, names.RANKING, sheet, names.area(first, 1, TABLE_ROW + SHOWN, 7))


def _merge(sheet: Worksheet, row: int, first: int, last: int, look: str) -> None:
    for column in range(first + 1, last + 1):
        sheet.cell(row, column).style = look
    sheet.merge_cells(start_row=row, end_row=row, start_column=first, end_column=last)
