"""Conditional formats: beyond the limit, close to it, no result."""

from __future__ import annotations

from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Font, PatternFill
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.workbooks import style

CLOSE_FRACTION = 0.1


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
    formula(sheet, cells, f"AND({given},{margin}<0)", style.BAD, stop=True)
    formula(sheet, cells, f"AND({given},{margin}<{CLOSE_FRACTION}*{limit})", style.CLOSE)


def verdict(sheet: Worksheet, cell: str) -> None:
    """Colour a verdict by its word."""
    formula(sheet, cell, f'{cell}="PASS"', style.GOOD)
    formula(sheet, cell, f'{cell}="FAIL"', style.BAD)
