"""Number bases, bits, error and Bessel functions, and CONVERT."""

from __future__ import annotations

import math
from collections.abc import Callable

import scipy

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.rounding import add_in_number
from xlcalc.recalc.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    fail,
    is_error,
    is_number,
    number,
    over_arrays,
    single,
)
from xlcalc.schema.values import ErrorCode

_DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def _to_decimal(raw: Raw, base: int) -> int:
    """A number of up to ten digits, the first of which gives the sign (two's complement)."""
    raw = single(raw)
    if is_error(raw):
        raise ErrorShown(raw)
    if isinstance(raw, bool):
        raise Uncertain("a logical where a number is expected")
    if is_number(raw):
        if not float(raw).is_integer():
            raise Uncertain("a number with a fraction in another base")
        raw = str(int(raw))
    text = raw.upper() if raw else "0"
    if not text or len(text) > 10 or any(mark not in _DIGITS[:base] for mark in text):
        return fail(ErrorCode.NUM)
    value = int(text, base)
    return value - base**10 if value >= base**10 // 2 else value


def _from_decimal(value: int, base: int, places: Raw) -> str:
    if places is None:
        raise Uncertain("a number of places that is blank")
    half = base**10 // 2
    if not -half <= value < half:
        return fail(ErrorCode.NUM)
    text = _digits(value if value >= 0 else value + base**10, base)
    if places is LEFT_OUT:
        return text
    width = math.trunc(add_in_number(places))
    if not 1 <= width <= 10 or (value >= 0 and width < len(text)):
        return fail(ErrorCode.NUM)
    return text if value < 0 else text.rjust(width, "0")


def _digits(value: int, base: int) -> str:
    found = ""
    while value:
        value, rest = divmod(value, base)
        found = _DIGITS[rest] + found
    return found or "0"


def _between(source: int, target: int) -> Callable[..., Raw]:
    def computed(raw: Raw = None, places: Raw = LEFT_OUT) -> Raw:
        value = math.trunc(add_in_number(raw)) if source == 10 else _to_decimal(raw, source)
        return float(value) if target == 10 else _from_decimal(value, target, places)

    return computed


def base_text(value: Raw = None, radix: Raw = None, width: Raw = None) -> Raw:
    """BASE."""
    whole, base = math.trunc(number(value)), math.trunc(number(radix))
    places = 0 if width is None else math.trunc(number(width))
    if not 0 <= whole < 2**53 or not 2 <= base <= 36 or not 0 <= places <= 255:
        fail(ErrorCode.NUM)
    return _digits(whole, base).rjust(places, "0")


def decimal(text: Raw = None, radix: Raw = None) -> Raw:
    """DECIMAL."""
    raw, base = single(text), math.trunc(number(radix))
    if raw is None or isinstance(raw, bool):
        raise Uncertain("a blank or logical as digits")
    if is_error(raw):
        raise ErrorShown(raw)
    if is_number(raw) and float(raw).is_integer():
        raw = str(int(raw))
    if not isinstance(raw, str) or not 2 <= base <= 36:
        return fail(ErrorCode.NUM)
    written = raw.strip().upper()
    if not written or any(mark not in _DIGITS[:base] for mark in written):
        raise Uncertain(f"{raw!r} as a number of base {base}")
    return float(int(written, base))


def _bits(function: Callable[[int, int], int]) -> Callable[..., Raw]:
    def computed(first: Raw = None, second: Raw = None) -> Raw:
        a, b = number(first), number(second)
        if not (a.is_integer() and b.is_integer()) or a < 0 or b < 0 or max(a, b) >= 2**48:
            return fail(ErrorCode.NUM)
        return float(function(int(a), int(b)))

    return computed


def error_function(lower: Raw = None, upper: Raw = LEFT_OUT) -> Raw:
    """ERF."""
    first = math.erf(add_in_number(lower))
    return first if upper is LEFT_OUT else math.erf(add_in_number(upper)) - first


def _bessel(name: str, *, positive: bool) -> Callable[..., Raw]:
    def computed(x: Raw = None, order: Raw = None) -> Raw:
        value, n = add_in_number(x), math.trunc(add_in_number(order))
        if n < 0 or (positive and value <= 0):
            return fail(ErrorCode.NUM)
        return float(getattr(scipy.special, name)(n, value))

    return computed


_SINGLE: dict[str, Callable[..., Raw]] = {
    "BASE": base_text,
    "DECIMAL": decimal,
    "BITAND": _bits(lambda a, b: a & b),
    "BITOR": _bits(lambda a, b: a | b),
    "BITXOR": _bits(lambda a, b: a ^ b),
    "ERF": error_function,
    "ERF.PRECISE": lambda x: math.erf(add_in_number(x)),
    "ERFC": lambda x: math.erfc(add_in_number(x)),
    "ERFC.PRECISE": lambda x: math.erfc(add_in_number(x)),
    "BESSELJ": _bessel("jv", positive=False),
    "BESSELY": _bessel("yv", positive=True),
    "BESSELI": _bessel("iv", positive=False),
}
_BASES: dict[str, Callable[..., Raw]] = {
    f"{source}2{target}": _between(base, other)
    for source, base in (("BIN", 2), ("OCT", 8), ("DEC", 10), ("HEX", 16))
    for target, other in (("BIN", 2), ("OCT", 8), ("DEC", 10), ("HEX", 16))
    if source != target
}

FUNCTIONS: dict[str, Callable[..., Raw]] = over_arrays(_SINGLE | _BASES)
