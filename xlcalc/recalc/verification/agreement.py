"""Whether two programs show the same value, and the differences that have a known reason."""

from __future__ import annotations

import math

from xlcalc.schema.values import CellError, ErrorCode, Scalar

TOLERANCE = 1e-9
"""Relative to the larger of two numbers."""

NOISE = 1e-14
"""Relative to the largest number that a formula uses: what is left when equal numbers are subtracted."""

LOGICALS = "logicals, which LibreOffice keeps as the numbers 1 and 0"
ERRORS = "which error value is shown"
DATES = "days before 1 March 1900, which LibreOffice counts from 1899"
_LAST_SHIFTED = 61
_COUNTING_DAYS = frozenset({"DATE", "DATEVALUE", "EDATE", "EOMONTH", "WORKDAY", "WORKDAY.INTL", "YEAR"})


def same(mine: Scalar, theirs: Scalar, *, scale: float = 0.0) -> bool:
    """Whether two values are equal: numbers within the tolerances, everything else exactly and of one type.

    Parameters
    ----------
    mine, theirs : Scalar
        None is a blank cell and equals 0 and empty text.
    scale : float
        Largest absolute number that the formula uses.
    """
    if mine is None or theirs is None:
        return (mine or None) == (theirs or None)
    if isinstance(mine, bool) or isinstance(theirs, bool):
        return mine is theirs
    if isinstance(mine, float) and isinstance(theirs, float):
        return math.isclose(mine, theirs, rel_tol=TOLERANCE, abs_tol=max(1e-300, NOISE * scale))
    if isinstance(mine, CellError) and isinstance(theirs, CellError):
        return mine.code is theirs.code
    return isinstance(mine, str) and mine == theirs


def explained(mine: Scalar, theirs: Scalar, functions: frozenset[str]) -> str:
    """The known reason of a difference between this program and LibreOffice; empty where there is none.

    Examples
    --------
    >>> explained(True, 1.0, frozenset())
    'logicals, which LibreOffice keeps as the numbers 1 and 0'
    >>> explained(2.0, 1.0, frozenset())
    ''
    """
    numbers = isinstance(mine, float) and isinstance(theirs, float)
    if isinstance(mine, bool) != isinstance(theirs, bool):
        return LOGICALS if not isinstance(mine, str | CellError) and mine == theirs else ""
    if isinstance(mine, CellError) and isinstance(theirs, CellError):
        return "" if ErrorCode.NA in (mine.code, theirs.code) else ERRORS
    if numbers and functions & _COUNTING_DAYS:
        assert isinstance(mine, float)
        assert isinstance(theirs, float)
        return DATES if mine < _LAST_SHIFTED and theirs - mine == 1.0 else ""
    return ""
