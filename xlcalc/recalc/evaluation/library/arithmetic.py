"""Arithmetic between two arrays: a place that one of them lacks is #N/A."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.values import (
    ErrorShown,
    Uncertain,
    error,
    fail,
    lifted,
    number,
    rows_of,
)
from xlcalc.schema.values import ErrorCode

OPERATORS = {"+": "_ADD", "-": "_SUBTRACT", "*": "_MULTIPLY", "/": "_DIVIDE", "^": "_POWER", "&": "_JOIN"}
"""Operators and the functions that stand for them between arrays."""

LAST = {"+": "_LAST_ADD", "-": "_LAST_SUBTRACT"}
"""Addition and subtraction as the last operation of a formula."""

CANCELLED = 2.0**-47
"""Operands that are nearer to each other than this share of one of them may count as equal."""

_CANCELLED_BITS = 50
_WHOLE: dict[str, Callable[..., np.ndarray]] = {
    "+": np.add,
    "-": np.subtract,
    "*": np.multiply,
    "/": np.divide,
}
_DIV0 = error(ErrorCode.DIV0)


def _one(operator: str, first: Raw, second: Raw) -> Raw:
    if operator == "&":
        return _text(first) + _text(second)
    a, b = number(first), number(second)
    if operator == "+":
        return _finite(a + b)
    if operator == "-":
        return _finite(a - b)
    if operator == "*":
        return _finite(a * b)
    if operator == "/":
        return _finite(a / b) if b else fail(ErrorCode.DIV0)
    return power(a, b)


def power(base: float, exponent: float) -> float:
    """A power; 0 to the power of 0 is #NUM! as in Excel (its documented behaviour)."""
    if base == 0 and exponent == 0:
        fail(ErrorCode.NUM)
    if base == 0 and exponent < 0:
        fail(ErrorCode.DIV0)
    if base < 0 and not exponent.is_integer():
        if (1 / exponent).is_integer() and (1 / exponent) % 2:
            raise Uncertain("an odd root of a negative number")
        fail(ErrorCode.NUM)
    return _finite(base**exponent)


def _finite(value: float) -> float:
    return value if math.isfinite(value) else fail(ErrorCode.NUM)


def last(operator: str) -> Callable[..., Raw]:
    """The last addition or subtraction of a formula: 0 where its operands are all but equal.

    Spreadsheet programs so hide what binary fractions leave of 0.5-0.4-0.1. By examples that users of Excel
    published (`excelbanter.com`, "heuristic", thread 816967), the result is 0 where its exponent of two lies
    50 or more below that of the operands; within a function or within brackets it stays.
    """

    def computed(first: Raw = None, second: Raw = None) -> Raw:
        a, b = number(first), number(second)
        found = _finite(a + b if operator == "+" else a - b)
        largest = max(abs(a), abs(b))
        if found == 0 or abs(found) > largest * CANCELLED:
            return found
        exponents = math.frexp(a)[1], math.frexp(b)[1]
        lost = [exponent - math.frexp(found)[1] >= _CANCELLED_BITS for exponent in exponents]
        if lost[0] != lost[1]:
            raise Uncertain("a difference that is nearly 0; ROUND would decide it")
        return 0.0 if lost[0] else found

    return computed


def _text(raw: Raw) -> str:
    if isinstance(raw, dict):
        raise ErrorShown(raw)
    if raw is None:
        return ""
    if isinstance(raw, bool):
        return "TRUE" if raw else "FALSE"
    return str(raw)


def _numeric(raw: Raw) -> np.ndarray | None:
    """A value or an array as numbers; None where any cell is neither a number nor a logical."""
    rows = rows_of(raw)
    if {type(cell) for row in rows for cell in row} <= {float, bool}:
        return np.array(rows, dtype=float)
    return None


def _whole(operator: str, first: Raw, second: Raw) -> Raw:
    """Arrays of numbers at once, one value or equal shapes; None for everything else."""
    a, b = _numeric(first), _numeric(second)
    if a is None or b is None or not (a.size == 1 or b.size == 1 or a.shape == b.shape):
        return None
    with np.errstate(all="ignore"):
        found = _WHOLE[operator](a, b)
    divided = np.broadcast_to(b == 0, found.shape) if operator == "/" else np.zeros(found.shape, np.bool_)
    if not np.isfinite(found[~divided]).all():
        return None
    rows: list[list[Raw]] = found.tolist()
    if not divided.any():
        return rows
    return [
        [_DIV0 if failed else value for value, failed in zip(row, marks, strict=True)]
        for row, marks in zip(rows, divided.tolist(), strict=True)
    ]


def between(operator: str) -> Callable[[Raw, Raw], Raw]:
    """The function behind an operator."""

    def computed(first: Raw = None, second: Raw = None) -> Raw:
        if operator in _WHOLE and (isinstance(first, list) or isinstance(second, list)):
            found = _whole(operator, first, second)
            if found is not None:
                return found
        return lifted(lambda a, b: _one(operator, a, b), (first, second), (0, 1))

    return computed
