"""CEILING, FLOOR and their kin, MROUND, GCD, LCM and the other functions that once came with an add-in."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.values import (
    ErrorShown,
    Uncertain,
    cells_of,
    fail,
    is_error,
    number,
    over_arrays,
    single,
)
from xlcalc.schema.values import ErrorCode

_LARGEST = 2.0**53
_LARGEST_QUOTIENT = 1e12
_NEAR = 1e-12


def add_in_number(raw: Raw) -> float:
    """A number for a function that once came with an add-in: programs differ over logicals."""
    raw = single(raw)
    if isinstance(raw, bool):
        raise Uncertain("a logical where a number is expected")
    return number(raw)


def shown_digits(x: float) -> float:
    """A number to the 15 significant digits that a cell shows; INT, ROUND and their kin round these."""
    return float(f"{x:.15g}")


def _multiple(x: float, step: float, *, up: bool) -> float:
    quotient = shown_digits(x / step)
    return (math.ceil(quotient) if up else math.floor(quotient)) * step


def below(value: Raw = None) -> Raw:
    """INT."""
    return float(math.floor(shown_digits(number(value))))


def to_even(value: Raw = None) -> Raw:
    """EVEN."""
    x = shown_digits(number(value))
    return math.copysign(2.0 * math.ceil(abs(x) / 2), x) + 0.0


def to_odd(value: Raw = None) -> Raw:
    """ODD."""
    x = shown_digits(number(value))
    return math.copysign(2.0 * max(0, math.ceil((abs(x) - 1) / 2)) + 1, x or 1.0)


def ceiling(value: Raw = None, significance: Raw = None) -> Raw:
    """CEILING; with two negative numbers up means away from zero (ECMA-376 18.17.7)."""
    return _by_sign(number(value), number(significance), up=True)


def floor(value: Raw = None, significance: Raw = None) -> Raw:
    """FLOOR; with two negative numbers down means towards zero (ECMA-376 18.17.7)."""
    return _by_sign(number(value), number(significance), up=False)


def _by_sign(x: float, step: float, *, up: bool) -> Raw:
    if x == 0:
        return 0.0
    if step == 0:
        return 0.0 if up else fail(ErrorCode.DIV0)
    return fail(ErrorCode.NUM) if x > 0 > step else _multiple(x, step, up=up)


def ceiling_math(value: Raw = None, significance: Raw = 1.0, mode: Raw = 0.0) -> Raw:
    """CEILING.MATH: up, or away from zero for negative numbers with a mode."""
    x, step, away = number(value), abs(number(significance)), number(mode) != 0
    if step == 0 or x == 0:
        return 0.0
    return _multiple(x, step, up=not (x < 0 and away))


def floor_math(value: Raw = None, significance: Raw = 1.0, mode: Raw = 0.0) -> Raw:
    """FLOOR.MATH: down, or towards zero for negative numbers with a mode."""
    x, step, towards = number(value), abs(number(significance)), number(mode) != 0
    if step == 0 or x == 0:
        return 0.0
    return _multiple(x, step, up=x < 0 and towards)


def ceiling_precise(value: Raw = None, significance: Raw = 1.0) -> Raw:
    """CEILING.PRECISE and ISO.CEILING."""
    return ceiling_math(value, significance)


def floor_precise(value: Raw = None, significance: Raw = 1.0) -> Raw:
    """FLOOR.PRECISE."""
    return floor_math(value, significance)


def rounded_to_multiple(value: Raw = None, multiple: Raw = None) -> Raw:
    """MROUND; refused where a decimal fraction lies half-way."""
    x, step = add_in_number(value), add_in_number(multiple)
    if x == 0 or step == 0:
        return 0.0
    if x * step < 0:
        fail(ErrorCode.NUM)
    quotient = x / step
    binary = (x * 1024).is_integer() and (step * 1024).is_integer()
    if abs(quotient % 1 - 0.5) < 1e-9 and not binary:
        raise Uncertain("MROUND of a number half-way between two multiples")
    return math.floor(quotient + 0.5) * step


def remainder(dividend: Raw, divisor: Raw) -> Raw:
    """MOD; refused where the last digits decide whether the divisor goes in once more."""
    x, y = number(dividend), number(divisor)
    if y == 0:
        fail(ErrorCode.DIV0)
    if x.is_integer() and y.is_integer() and abs(x) < _LARGEST:
        return x % y
    if abs(x / y) >= _LARGEST_QUOTIENT:
        raise Uncertain("MOD of a number that is so much larger than the divisor")
    found = Fraction(x) % Fraction(y)
    times = x / y
    if found and not y.is_integer() and abs(times - round(times)) < _NEAR * max(1.0, abs(times)):
        raise Uncertain("MOD of a number that is nearly a multiple of the divisor; ROUND would decide it")
    return float(found)


def quotient(dividend: Raw = None, divisor: Raw = None) -> Raw:
    """QUOTIENT."""
    x, y = add_in_number(dividend), add_in_number(divisor)
    if y == 0:
        fail(ErrorCode.DIV0)
    times = x / y
    if math.trunc(times) != math.trunc(shown_digits(times)):
        raise Uncertain("QUOTIENT of a number that is nearly a multiple of the divisor")
    return float(math.trunc(times))


def logarithm(value: Raw = None, base: Raw = 10.0) -> Raw:
    """LOG."""
    x, radix = number(value), number(base)
    if x <= 0 or radix <= 0:
        fail(ErrorCode.NUM)
    if radix == 1:
        fail(ErrorCode.DIV0)
    whole = {10.0: math.log10, 2.0: math.log2}.get(radix)
    return whole(x) if whole is not None else math.log(x) / math.log(radix)


def even(value: Raw = None) -> Raw:
    """ISEVEN."""
    return math.trunc(add_in_number(value)) % 2 == 0


def odd(value: Raw = None) -> Raw:
    """ISODD."""
    return math.trunc(add_in_number(value)) % 2 == 1


def _wholes(arguments: tuple[Raw, ...], *, blanks_refused: bool = False) -> list[int]:
    found: list[int] = []
    for argument in arguments:
        several = isinstance(argument, list)
        for cell in cells_of(argument):
            if is_error(cell):
                raise ErrorShown(cell)
            if isinstance(cell, bool) or (several and isinstance(cell, str)):
                raise Uncertain("a logical or a text among the numbers")
            if cell is None:
                if blanks_refused:
                    raise Uncertain("a blank cell among the numbers of LCM")
                continue
            value = number(cell)
            if value < 0 or value >= _LARGEST:
                fail(ErrorCode.NUM)
            found.append(math.trunc(value))
    if not found and not any(isinstance(argument, list) for argument in arguments):
        fail(ErrorCode.VALUE)
    return found


def greatest_common_divisor(*arguments: Raw) -> Raw:
    """GCD."""
    return float(math.gcd(*_wholes(arguments)))


def least_common_multiple(*arguments: Raw) -> Raw:
    """LCM."""
    found = float(math.lcm(*_wholes(arguments, blanks_refused=True)))
    return found if found < _LARGEST else fail(ErrorCode.NUM)


FUNCTIONS: dict[str, Callable[..., Raw]] = over_arrays(
    {
        "INT": below,
        "EVEN": to_even,
        "ODD": to_odd,
        "CEILING": ceiling,
        "FLOOR": floor,
        "CEILING.MATH": ceiling_math,
        "FLOOR.MATH": floor_math,
        "CEILING.PRECISE": ceiling_precise,
        "ISO.CEILING": ceiling_precise,
        "FLOOR.PRECISE": floor_precise,
        "MROUND": rounded_to_multiple,
        "QUOTIENT": quotient,
        "MOD": remainder,
        "LOG": logarithm,
        "ISEVEN": even,
        "ISODD": odd,
    }
) | {"GCD": greatest_common_divisor, "LCM": least_common_multiple}
