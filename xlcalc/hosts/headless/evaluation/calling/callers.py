"""How a formula tells the callbacks which formula it is: by its number, or by sheet, column and own row."""

from __future__ import annotations

from xlcalc.hosts.headless.cellnames import MAX_COL, MAX_ROW

_FIRST_PLACE = 1 << 32
"""Above the number of any formula."""

_ROWS, _COLUMNS = MAX_ROW + 1, MAX_COL + 1


def caller_text(sheet: int, col: int) -> str:
    """An expression for a column of a sheet, the same in all its rows.

    Examples
    --------
    >>> caller_text(0, 2)
    'ROW()+4297064450'
    """
    return f"ROW()+{_FIRST_PLACE + (sheet * _COLUMNS + col) * _ROWS}"


def caller_place(number: float) -> tuple[int, int, int] | None:
    """Sheet, row and column behind the value of such an expression; None for the number of a formula.

    Examples
    --------
    >>> caller_place(4297064450 + 7), caller_place(7.0)
    ((0, 7, 2), None)
    """
    if number < _FIRST_PLACE:
        return None
    column, row = divmod(int(number) - _FIRST_PLACE, _ROWS)
    sheet, col = divmod(column, _COLUMNS)
    return sheet, row, col
