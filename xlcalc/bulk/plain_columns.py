"""Columns of a DataFrame as plain Python values, as files hold them."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from xlcalc.bulk.convert import shown_raw
from xlcalc.bulk.numerals import Numeral

Plain = str | float | int | bool | None

_PLAIN: Final = {str, int, bool, type(None)}


def plain_columns(table: pd.DataFrame) -> list[list[Plain]]:
    """Values column by column; missing and infinite numbers are None."""
    return [plain_column(table[name]) for name in table.columns]


def plain_column(column: pd.Series[Any]) -> list[Plain]:
    """Values of one column; missing and infinite numbers are None."""
    if isinstance(column.dtype, np.dtype) and column.dtype.kind == "f":
        numbers = column.to_numpy()
        values: list[Plain] = numbers.tolist()
        for place in np.flatnonzero(~np.isfinite(numbers)).tolist():
            values[place] = None
        return values
    cells: list[Plain] = column.tolist()
    return cells if set(map(type, cells)) <= _PLAIN else [_plain(cell) for cell in cells]


def _plain(value: object) -> Plain:
    if isinstance(value, str):
        return value
    if isinstance(value, float):
        return float(value) if np.isfinite(value) else None
    if isinstance(value, Numeral):
        return shown_raw(value)
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, np.bool_ | np.integer):
        return value.item()
    return value if isinstance(value, int) else str(value)
