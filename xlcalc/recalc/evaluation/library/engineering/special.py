"""Counting, special functions, reciprocal trigonometry and other functions of one or two numbers."""

from __future__ import annotations

import math
from collections.abc import Callable

import scipy

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.rounding import add_in_number
from xlcalc.recalc.evaluation.library.values import (
    ErrorShown,
    Uncertain,
    cells_of,
    fail,
    is_error,
    is_number,
    number,
    over_arrays,
    whole,
)
from xlcalc.schema.values import ErrorCode

_LARGEST_ANGLE = 2.0**27
_LARGEST_COUNT = 2**31
_LARGEST_FACTORIAL = 170


def _counts(*raws: Raw) -> list[int]:
    if any(-1 < number(raw) < 0 for raw in raws):
        raise Uncertain("a count between -1 and 0")
    found = [whole(raw) for raw in raws]
    if any(not 0 <= value < _LARGEST_COUNT for value in found):
        fail(ErrorCode.NUM)
    return found


def _exact(value: int) -> float:
    return float(value) if value < 1 << 1023 else fail(ErrorCode.NUM)


def _moderate(chosen: int) -> None:
    if chosen > 100_000:
        raise Uncertain("a count of arrangements of so many things")


def permutations(total: Raw, chosen: Raw) -> Raw:
    """PERMUT."""
    n, k = _counts(total, chosen)
    if k > n:
        fail(ErrorCode.NUM)
    _moderate(k)
    return _exact(math.perm(n, k))


def permutations_repeated(total: Raw, chosen: Raw) -> Raw:
    """PERMUTATIONA."""
    n, k = _counts(total, chosen)
    if n == 0 and k == 0:
        raise Uncertain("arrangements of nothing")
    return float(n) ** k


def combinations_repeated(total: Raw, chosen: Raw) -> Raw:
    """COMBINA."""
    n, k = _counts(total, chosen)
    if n == 0 or k > n:
        raise Uncertain("combinations of nothing, or of more things than there are")
    _moderate(k)
    return _exact(math.comb(n + k - 1, k))


def factorial(raw: Raw) -> Raw:
    """FACT; a negative number, however small, has none."""
    value = number(raw)
    if not 0 <= value < _LARGEST_FACTORIAL + 1:
        fail(ErrorCode.NUM)
    return float(math.factorial(math.trunc(value)))


def double_factorial(raw: Raw) -> Raw:
    """FACTDOUBLE."""
    value = math.trunc(add_in_number(raw))
    if value < 0:
        raise Uncertain("the double factorial of a negative number")
    if value > 300:
        fail(ErrorCode.NUM)
    return float(math.prod(range(value, 0, -2)))


def multinomial(*arguments: Raw) -> Raw:
    """MULTINOMIAL."""
    found = []
    for argument in arguments:
        for cell in cells_of(argument):
            if is_error(cell):
                raise ErrorShown(cell)
            if not is_number(cell):
                raise Uncertain("a blank, text or logical among counts")
            found.append(math.trunc(cell))
    if any(value < 0 for value in found):
        fail(ErrorCode.NUM)
    _moderate(sum(found))
    result, total = 1, 0
    for value in found:
        total += value
        result *= math.comb(total, value)
    return _exact(result)


def power_series(x: Raw, first: Raw, step: Raw, coefficients: Raw) -> Raw:
    """SERIESSUM."""
    base, start, more = (add_in_number(raw) for raw in (x, first, step))
    terms = []
    for index, cell in enumerate(cells_of(coefficients)):
        if is_error(cell):
            raise ErrorShown(cell)
        if not is_number(cell):
            raise Uncertain("a coefficient that is blank, text or a logical")
        exponent = start + index * more
        if base == 0 and exponent <= 0:
            raise Uncertain("0 to the power of 0 or less")
        if base < 0 and not exponent.is_integer():
            fail(ErrorCode.NUM)
        terms.append(cell * base**exponent)
    return math.fsum(terms)


def equal(first: Raw, second: Raw = 0.0) -> Raw:
    """DELTA."""
    return 1.0 if add_in_number(first) == add_in_number(second) else 0.0


def at_least(value: Raw, step: Raw = 0.0) -> Raw:
    """GESTEP."""
    return 1.0 if add_in_number(value) >= add_in_number(step) else 0.0


def bessel_k(x: Raw, order: Raw) -> Raw:
    """BESSELK."""
    value, n = add_in_number(x), math.trunc(add_in_number(order))
    return float(scipy.special.kn(n, value)) if value > 0 and n >= 0 else fail(ErrorCode.NUM)


def _shifted(value: Raw, places: Raw, direction: int) -> float:
    base, by = number(value), math.trunc(number(places)) * direction
    if not base.is_integer() or not 0 <= base < 2**48 or abs(by) > 53:
        fail(ErrorCode.NUM)
    found = int(base) << by if by >= 0 else int(base) >> -by
    return float(found) if found < 2**48 else fail(ErrorCode.NUM)


def _of_angle(function: Callable[[float], float]) -> Callable[..., Raw]:
    def computed(raw: Raw) -> Raw:
        angle = number(raw)
        return function(angle) if abs(angle) < _LARGEST_ANGLE else fail(ErrorCode.NUM)

    return computed


def _reciprocal(function: Callable[[float], float]) -> Callable[..., Raw]:
    """One over a hyperbolic function; 0 where that is beyond the largest number."""

    def computed(raw: Raw) -> Raw:
        try:
            return 1 / function(number(raw))
        except OverflowError:
            return 0.0

    return computed


def arc_cotangent(raw: Raw) -> Raw:
    """ACOT, from 0 to pi."""
    return math.atan2(1, number(raw))


def arc_hyperbolic_cotangent(raw: Raw) -> Raw:
    """ACOTH."""
    value = number(raw)
    return math.atanh(1 / value) if abs(value) > 1 else fail(ErrorCode.NUM)


FUNCTIONS: dict[str, Callable[..., Raw]] = over_arrays(
    {
        "PERMUT": permutations,
        "PERMUTATIONA": permutations_repeated,
        "COMBINA": combinations_repeated,
        "FACT": factorial,
        "FACTDOUBLE": double_factorial,
        "DELTA": equal,
        "GESTEP": at_least,
        "BESSELK": bessel_k,
        "BITLSHIFT": lambda value, places: _shifted(value, places, 1),
        "BITRSHIFT": lambda value, places: _shifted(value, places, -1),
        "COT": _of_angle(lambda angle: 1 / math.tan(angle)),
        "SEC": _of_angle(lambda angle: 1 / math.cos(angle)),
        "CSC": _of_angle(lambda angle: 1 / math.sin(angle)),
        "COTH": lambda raw: 1 / math.tanh(number(raw)),
        "SECH": _reciprocal(math.cosh),
        "CSCH": _reciprocal(math.sinh),
        "ACOT": arc_cotangent,
        "ACOTH": arc_hyperbolic_cotangent,
    }
) | {"MULTINOMIAL": multinomial, "SERIESSUM": power_series}
