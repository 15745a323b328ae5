"""Names that the sheets of the comparison of front ends share."""

from __future__ import annotations

from typing import Final

from openpyxl.utils import get_column_letter, quote_sheetname

FILE_NAME: Final = "front_end_comparison.xlsx"
COMPARISON: Final = "Comparison"
FRONT_ENDS: Final = "Front ends"
PRICES: Final = "Prices"
RESIDUAL: Final = "Residual"
SUPPLY: Final = "Supply settings"
WORKINGS: Final = "Workings"

BRIDGES: Final = 8
"""Front ends that are solved as circuits; the last one is a residual spectrum."""
COLUMNS: Final = BRIDGES + 1

TITLE: Final = "study_title"
OWN_LIMITS: Final = "own_limits"
FRONT_END_INPUTS: Final = "front_end_inputs"
PRICE_INPUTS: Final = "price_inputs"
RESIDUAL_INPUTS: Final = "residual_inputs"


def field(name: str) -> str:
    """Workbook name of an input, from the name of its field.

    Examples
    --------
    >>> field("source x/r"), field("background 5th pct")
    ('in_source_x_r', 'in_background_5th_pct')
    """
    return "in_" + name.replace(" ", "_").replace("/", "_")


def settings(number: int) -> str:
    """Name of the settings of a front end, from 1."""
    return f"settings_{number}"


def cell(sheet: str, row: int, column: int) -> str:
    """Absolute reference to a cell of another sheet."""
    return f"{quote_sheetname(sheet)}!${get_column_letter(column)}${row}"


def cells(sheet: str, first_row: int, first_column: int, last_row: int, last_column: int) -> str:
    """Absolute reference to a block of another sheet."""
    first = f"${get_column_letter(first_column)}${first_row}"
    return f"{quote_sheetname(sheet)}!{first}:${get_column_letter(last_column)}${last_row}"
