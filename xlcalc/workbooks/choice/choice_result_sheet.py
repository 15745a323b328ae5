"""Sheet of the chosen mix: verdict, cost, margin and proof, and what every drive gets."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.workbooks.drive.arrays_sheet import FIRST_ROW, HEADER_ROW, Block
from xlcalc.workbooks.kit import marks, page, verdict_cells
from xlcalc.workbooks.plant import plant_drives_sheet as plant_schedule
from xlcalc.worksheet.functions.plant.choice import COLUMNS

SHEET: Final = "Choice"
OPTIONS: Final = "choice_options"
TERMS: Final = "choice_terms"
ROWS: Final = 320
SHOWN: Final = 24
RESULT: Final = Block("choice_result", 1, ROWS, COLUMNS)
FIGURES: Final = (
    ("COST", "Cost", "#,##0", "purchase, and losses over the years of the terms"),
    ("PURCHASE", "Purchase", "#,##0", ""),
    ("LOSSES", "Losses", "#,##0", "value today"),
    ("KWH", "Added losses", "#,##0", "kWh a year"),
    ("AREA", "Added floor area", "0.0", "m2"),
    ("TDD", "Largest TDD", "0.00", "% of the demand current, all PCCs and cases, the study that decides"),
    ("TDD_ALONE", "Largest TDD, drives one by one", "0.00", "% of the demand current, quick estimate"),
    ("MARGIN", "Margin left", "0.0", "% of the binding limit"),
    (
        "GAP",
        "Proof gap",
        "0.00",
        "% of the cost: no passing mix is cheaper by more, in the model of the search",
    ),
    ("BOUND", "No mix below", "#,##0", ""),
)
TEXT_LINES: Final = (
    ("Mix", "MIX", 28),
    ("On buses", "REMEDIES", 16),
    ("Remarks", "REMARKS", 54),
)
LISTED: Final = COLUMNS[:6]
NO_ANSWER: Final = verdict_cells.WITHOUT_REASON
TEXTS: Final = 3
WIDTH: Final = len(LISTED)
TABLE_ROW: Final = 23


def call(name: str, quantity: str = "") -> str:
    """A formula of the choice with the inputs of the workbook."""
    plant = f"{plant_names.NETWORK},{plant_schedule.input_span()}"
    asked = f',"{quantity}"' if quantity else ""
    return f"={name}({plant},{OPTIONS},{TERMS}{asked},{names.SETTINGS})"


def build(book: Workbook, sheet: Worksheet, arrays: Worksheet) -> None:
    """Fill the sheet, and the sheet of arrays that it refers to."""
    _array(book, arrays)
    page.widths(sheet, 30, 16, 34, 16, 16, 18)
    page.heading(sheet, "Choice of mitigation", "The mix of least cost that meets the limits in every case.")
    page.study_title(sheet)
    own = call("HD_CHOICE_VALUE", "VERDICT").removeprefix("=")
    page.put(sheet, 4, 1, f"={verdict_cells.word(own)}", style.VERDICT)
    sheet.row_dimensions[4].height = 28
    marks.formula(sheet, "A4", '$A$4="PASS"', style.GOOD)
    marks.formula(sheet, "A4", '$A$4="NO VERDICT"', style.UNKNOWN)
    marks.formula(sheet, "A4", 'LEFT($A$4,2)="NO"', style.BAD)
    names.define(book, "choice_verdict", sheet, "A4")
    names.define(book, names.STUDY_VERDICT, sheet, "A4")
    prices = call("HD_CHOICE_VALUE", "PRICES").removeprefix("=")
    binding = call("HD_CHOICE_VALUE", "BINDING").removeprefix("=")
    _formula_text(sheet, 4, 2, f'=IF({prices}="","",{prices}&"; ")&{binding}')
    told = call("HD_CHOICE_VALUE", "REASON").removeprefix("=")
    known = f'IFERROR(IF({told}="","{NO_ANSWER}",{told}),"{NO_ANSWER}")'
    why = f'IF($A$4<>"NO VERDICT","",IF({names.INPUT_FAULT}<>"",{names.INPUT_FAULT},{known}))'
    page.put(sheet, 5, 1, f"={why}", style.STRONG)
    marks.formula(sheet, "A5", '$A$5<>""', style.UNKNOWN)
    names.define(book, names.STUDY_REASON, sheet, "A5")
    page.section(sheet, 6, "In figures", WIDTH)
    for row, (quantity, text, number_format, note) in enumerate(FIGURES, start=7):
        page.put(sheet, row, 1, text, style.LABEL)
        page.put(sheet, row, 2, call("HD_CHOICE_VALUE", quantity), style.RESULT, number_format)
        page.put(sheet, row, 3, note, style.HELP)
        sheet.merge_cells(start_row=row, end_row=row, start_column=3, end_column=WIDTH)
        names.define(book, f"choice_{quantity.lower()}", sheet, f"B{row}")
    last = 6 + len(FIGURES)
    marks.errors(sheet, names.area(7, 2, last, 2))
    for row, (text, quantity, height) in enumerate(TEXT_LINES, start=last + 1):
        page.put(sheet, row, 1, text, style.LABEL)
        _text(sheet, row, 2, quantity)
        sheet.row_dimensions[row].height = height
    page.section(sheet, TABLE_ROW - 1, "What every drive gets", WIDTH)
    page.headings(sheet, TABLE_ROW, LISTED)
    sheet.row_dimensions[TABLE_ROW].height = 27
    for number in range(1, ROWS + 1):
        for column in range(1, len(LISTED) + 1):
            source = RESULT.cell(number, column)
            shown = f'=IF(COUNTA({names.TAGS})<{number},"",{source})'
            named = style.LABEL if column <= TEXTS else style.RESULT
            page.put(sheet, TABLE_ROW + number, column, shown, named, "#,##0")
    first, end = TABLE_ROW + 1, TABLE_ROW + ROWS
    page.fold(sheet, first + SHOWN, end)
    page.unshown(sheet, end + 1, names.TAGS, SHOWN, ROWS, "drives")
    marks.errors(sheet, names.area(first, 1, end, len(LISTED)))
    page.set_up(sheet, area=names.area(1, 1, end + 1, WIDTH), title_rows="1:3")


def _array(book: Workbook, sheet: Worksheet) -> None:
    page.heading(
        sheet, names.ARRAYS_SHEET, "Array results that the other sheets refer to. Nothing to enter here."
    )
    page.put_text(sheet, HEADER_ROW - 1, RESULT.first_column, RESULT.name, style.SUBTITLE)
    page.headings(sheet, HEADER_ROW, RESULT.headings, RESULT.first_column)
    for row in sheet[RESULT.cells]:
        for cell in row:
            cell.style = style.ARRAY
    names.define(book, RESULT.name, sheet, RESULT.cells)
    sheet[RESULT.cells.split(":")[0]] = ArrayFormula(RESULT.cells, call("HD_CHOICE"))
    page.widths(sheet, *[14.0] * len(COLUMNS))
    sheet.freeze_panes = f"A{FIRST_ROW}"
    page.set_up(sheet, area="A1:H3")


def _text(sheet: Worksheet, row: int, column: int, quantity: str) -> None:
    _formula_text(sheet, row, column, call("HD_CHOICE_VALUE", quantity))


def _formula_text(sheet: Worksheet, row: int, column: int, formula: str) -> None:
    page.put(sheet, row, column, formula, style.RESULT_TEXT)
    for other in range(column + 1, WIDTH + 1):
        sheet.cell(row, other).style = style.RESULT_TEXT
    sheet.merge_cells(start_row=row, end_row=row, start_column=column, end_column=WIDTH)
    marks.errors(sheet, f"{get_column_letter(column)}{row}")
