"""Complex numbers as text."""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Callable
from functools import reduce

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.rounding import add_in_number
from xlcalc.recalc.evaluation.library.values import (
    ErrorShown,
    Uncertain,
    cells_of,
    fail,
    is_error,
    is_number,
    over_arrays,
    single,
)
from xlcalc.schema.values import ErrorCode

_PART = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_COMPLEX = re.compile(
    rf"(?:({_PART})(?![\d.]*[ij]))?(?:([+-]?(?:(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)?)([ij]))?\Z"
)


def _read(raw: Raw) -> tuple[complex, str]:
    """A complex number and the letter of its imaginary unit, empty where it has none."""
    raw = single(raw)
    if is_error(raw):
        raise ErrorShown(raw)
    if isinstance(raw, bool):
        raise Uncertain("a logical where a complex number is expected")
    if raw is None or raw == "":
        raise Uncertain("a blank where a complex number is expected")
    if is_number(raw):
        return complex(raw), ""
    match = _COMPLEX.match(raw)
    if match is None or not raw:
        return fail(ErrorCode.NUM)
    real = float(match[1]) if match[1] else 0.0
    if match[3] is None:
        return complex(real), ""
    if match[1] and not match[2].startswith(("+", "-")):
        return fail(ErrorCode.NUM)
    imaginary = float(match[2] + "1") if match[2] in ("", "+", "-") else float(match[2])
    return complex(real, imaginary), match[3]


def _written(value: complex, letter: str) -> str:
    """The text of a complex number with 15 digits; refused where a part needs an exponent."""
    letter = letter or "i"
    if not (math.isfinite(value.real) and math.isfinite(value.imag)):
        return fail(ErrorCode.NUM)
    real, imaginary = (f"{part:.15g}" for part in (value.real, value.imag))
    if "e" in real + imaginary:
        raise Uncertain("the text of a complex number with an exponent")
    real, imaginary = ("0" if part == "-0" else part for part in (real, imaginary))
    if imaginary == "0":
        return real
    written = {"1": "", "-1": "-"}.get(imaginary, imaginary)
    if real == "0":
        return written + letter
    return real + ("" if written.startswith("-") else "+") + written + letter


def complex_number(real: Raw = None, imaginary: Raw = None, letter: Raw = "i") -> Raw:
    """COMPLEX."""
    unit = "i" if single(letter) in (None, "") else single(letter)
    if is_error(unit):
        raise ErrorShown(unit)
    if not isinstance(unit, str):
        fail(ErrorCode.VALUE)
    if unit not in ("i", "j"):
        fail(ErrorCode.VALUE)
    return _written(complex(add_in_number(real), add_in_number(imaginary)), unit)


def _of_one(function: Callable[[complex], complex]) -> Callable[..., Raw]:
    def computed(raw: Raw = None) -> Raw:
        value, letter = _read(raw)
        return _written(function(value), letter)

    return computed


def _figure(function: Callable[[complex], float]) -> Callable[..., Raw]:
    return lambda raw=None: function(_read(raw)[0])


def _of_two(function: Callable[[complex, complex], complex]) -> Callable[..., Raw]:
    def computed(first: Raw = None, second: Raw = None) -> Raw:
        (a, letter), (b, other) = _read(first), _read(second)
        if letter and other and letter != other:
            fail(ErrorCode.VALUE)
        return _written(function(a, b), letter or other)

    return computed


def _of_many(function: Callable[[complex, complex], complex]) -> Callable[..., Raw]:
    def computed(*arguments: Raw) -> Raw:
        read = [_read(cell) for argument in arguments for cell in cells_of(argument)]
        letters = {letter for _, letter in read if letter}
        if len(letters) > 1 or not read:
            fail(ErrorCode.VALUE)
        return _written(reduce(function, (value for value, _ in read)), "".join(letters))

    return computed


def _divided(a: complex, b: complex) -> complex:
    return a / b if b else fail(ErrorCode.NUM)


def _argument(value: complex) -> float:
    return cmath.phase(value) if value else fail(ErrorCode.DIV0)


def _logarithm(value: complex) -> complex:
    return cmath.log(value) if value else fail(ErrorCode.NUM)


def complex_power(base: Raw = None, exponent: Raw = None) -> Raw:
    """IMPOWER."""
    (value, letter), power = _read(base), add_in_number(exponent)
    if value == 0:
        return fail(ErrorCode.NUM) if power <= 0 else "0"
    return _written(cmath.rect(abs(value) ** power, cmath.phase(value) * power), letter)


def _logarithm_to(base: float) -> Callable[[complex], complex]:
    return lambda value: _logarithm(value) / math.log(base)


def _reciprocal(function: Callable[[complex], complex]) -> Callable[[complex], complex]:
    def computed(value: complex) -> complex:
        found = function(value)
        return 1 / found if found else fail(ErrorCode.NUM)

    return computed


FUNCTIONS: dict[str, Callable[..., Raw]] = over_arrays(
    {
        "COMPLEX": complex_number,
        "IMABS": _figure(abs),
        "IMREAL": _figure(lambda value: value.real),
        "IMAGINARY": _figure(lambda value: value.imag),
        "IMARGUMENT": _figure(_argument),
        "IMCONJUGATE": _of_one(lambda value: value.conjugate()),
        "IMEXP": _of_one(cmath.exp),
        "IMLN": _of_one(_logarithm),
        "IMSQRT": _of_one(cmath.sqrt),
        "IMSUB": _of_two(lambda a, b: a - b),
        "IMDIV": _of_two(_divided),
        "IMPOWER": complex_power,
        "IMLOG10": _of_one(_logarithm_to(10)),
        "IMLOG2": _of_one(_logarithm_to(2)),
        "IMSIN": _of_one(cmath.sin),
        "IMCOS": _of_one(cmath.cos),
        "IMTAN": _of_one(cmath.tan),
        "IMSINH": _of_one(cmath.sinh),
        "IMCOSH": _of_one(cmath.cosh),
        "IMSEC": _of_one(_reciprocal(cmath.cos)),
        "IMCSC": _of_one(_reciprocal(cmath.sin)),
        "IMCOT": _of_one(_reciprocal(cmath.tan)),
        "IMSECH": _of_one(_reciprocal(cmath.cosh)),
        "IMCSCH": _of_one(_reciprocal(cmath.sinh)),
    }
) | {
    "IMSUM": _of_many(lambda a, b: a + b),
    "IMPRODUCT": _of_many(lambda a, b: a * b),
}
