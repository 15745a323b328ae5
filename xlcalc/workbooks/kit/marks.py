"""Conditional formats: beyond the limit, close to it, no result."""

from __future__ import annotations

from openpyxl.formatting.formatting import ConditionalFormattingList
from openpyxl.formatting.rule import FormulaRule, Rule
from openpyxl.styles import Font, PatternFill
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.styles.numbers import NumberFormat
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.workbooks.kit.verdict_cells import TOLERANCE

CLOSE_FRACTION = 0.1
TYPED_OVER = "NO VERDICT: typed over the formula"
TYPED_OVER_FORMAT = 189
IS_FORMULA = "_xlfn.ISFORMULA"
FIRST_OWN_FORMAT = 190
"""Number of the first number format of conditional formats; those of cells are numbered from 164."""


def formula(
    sheet: Worksheet, cells: str, condition: str, colours: tuple[str, str], stop: bool = False
) -> None:
    """Colour `cells` where the condition, written for the first cell, holds."""
    background, ink = colours
    sheet.conditional_formatting.add(
        cells,
        FormulaRule(  # type: ignore[no-untyped-call]
            formula=[condition],
            fill=PatternFill("solid", start_color=background, end_color=background),
            font=Font(color=ink),
            stopIfTrue=stop,
        ),
    )


def errors(sheet: Worksheet, cells: str) -> None:
    """Mark cells without a result."""
    first = cells.split(":")[0].replace("$", "")
    formula(sheet, cells, f"ISERROR({first})", style.UNKNOWN, stop=True)


def margins(sheet: Worksheet, cells: str, margin: str, limit: str) -> None:
    """Mark rows beyond the limit, and those whose margin is under a tenth of it.

    `margin` and `limit` are references written for the first cell.
    """
    given = f"ISNUMBER({margin}),ISNUMBER({limit})"
    formula(sheet, cells, f"AND({given},{margin}<-{TOLERANCE:g}*ABS({limit}))", style.BAD, stop=True)
    formula(sheet, cells, f"AND({given},{margin}<{CLOSE_FRACTION}*{limit})", style.CLOSE)


def just_above(sheet: Worksheet, cells: str, margin: str, limit: str, number_format: str) -> None:
    """Show "above" where a value beyond its limit would be printed with the same digits as the limit."""
    decimals = len(number_format.rstrip("_)").partition(".")[2])
    beyond = f"AND(ISNUMBER({margin}),ISNUMBER({limit}),{margin}<-{TOLERANCE:g}*ABS({limit}),"
    same = f"ROUND({limit}-{margin},{decimals})=ROUND({limit},{decimals}))"
    shown = NumberFormat(numFmtId=FIRST_OWN_FORMAT + decimals, formatCode=f'"above "{number_format}')
    rule = Rule(type="expression", dxf=DifferentialStyle(numFmt=shown), formula=[beyond + same])
    sheet.conditional_formatting.add(cells, rule)


def typed_over(sheet: Worksheet, cells: str) -> None:
    """Show in place of a value that it was typed over a formula, live in every program."""
    first = cells.split(":")[0].replace("$", "")
    background, ink = style.BAD
    shown = ";".join([f'"{TYPED_OVER}"'] * 4)
    mark = DifferentialStyle(
        font=Font(color=ink, bold=True),
        numFmt=NumberFormat(numFmtId=TYPED_OVER_FORMAT, formatCode=shown),
        fill=PatternFill("solid", start_color=background, end_color=background),
    )
    condition = f"AND(NOT(ISBLANK({first})),NOT({IS_FORMULA}({first})))"
    rule = Rule(type="expression", dxf=mark, formula=[condition], stopIfTrue=True)
    sheet.conditional_formatting.add(cells, rule)


def drop_typed_over(sheet: Worksheet) -> None:
    """Take `typed_over` from a sheet that holds values alone."""
    kept = ConditionalFormattingList()
    for area in sheet.conditional_formatting:
        for rule in area.rules:
            if not any(IS_FORMULA in text for text in rule.formula):
                kept.add(str(area.sqref), rule)
    sheet.conditional_formatting = kept


def verdict(sheet: Worksheet, cell: str) -> None:
    """Colour a verdict by its word, and show where one was typed over the formula."""
    typed_over(sheet, cell)
    formula(sheet, cell, f'{cell}="PASS"', style.GOOD)
    formula(sheet, cell, f'{cell}="FAIL"', style.BAD)
    formula(sheet, cell, f'{cell}="NO VERDICT"', style.UNKNOWN)
