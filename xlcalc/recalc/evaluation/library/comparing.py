"""Comparison of two values as spreadsheet programs do it: numbers at 15 significant digits.

Excel compares numbers rounded to 15 significant digits (project notes; confirmed by 52 cells saved by Excel).
LibreOffice calls two numbers equal that differ by less than 2**-48 of either (``rtl_math_approxEqual``).
Between the two, less than 1E-14 apart, the answer is refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.values import ErrorShown, Uncertain, is_number, lifted, shown
from xlcalc.schema.values import all_numbers

_FAR = 1.2e-14
_CLOSE = 2.0**-48
_ORDERED = re.compile(r"[a-z0-9 ]?\Z")

TESTS: dict[str, Callable[[int], bool]] = {
    "=": lambda order: order == 0,
    "<>": lambda order: order != 0,
    "<": lambda order: order < 0,
    "<=": lambda order: order <= 0,
    ">": lambda order: order > 0,
    ">=": lambda order: order >= 0,
}

NAMES = {"=": "_EQ", "<>": "_NE", "<": "_LT", "<=": "_LE", ">": "_GT", ">=": "_GE"}
"""Comparison operators and the functions that stand for them."""


def number_order(first: float, second: float) -> int:
    """-1, 0 or 1.

    Examples
    --------
    >>> number_order(0.1 + 0.2, 0.3), number_order(1.0, 1.0 + 1e-12)
    (0, -1)
    """
    difference = first - second
    if difference == 0.0:
        return 0
    size = max(abs(first), abs(second))
    if abs(difference) > _FAR * size:
        return 1 if difference > 0 else -1
    rounded = f"{first:.14e}" == f"{second:.14e}"
    if rounded != _approximately_equal(first, second, abs(difference)):
        raise Uncertain(
            f"{first!r} and {second!r} differ in the last digits that programs compare; ROUND would decide it"
        )
    return 0 if rounded else 1 if difference > 0 else -1


def near(first: float, second: float) -> bool:
    """Whether two different numbers are so close that some programs take them for equal."""
    return first != second and abs(first - second) <= _FAR * max(abs(first), abs(second))


def _approximately_equal(first: float, second: float, difference: float) -> bool:
    a, b = abs(first), abs(second)
    if a.is_integer() and b.is_integer() and max(a, b) < 2.0**53:
        return False
    return difference < a * _CLOSE and difference < b * _CLOSE


def text_order(first: str, second: str) -> int:
    """Order of two texts without regard to case; refused where it hangs on marks or accents."""
    if first == second:
        return 0
    a, b = first.lower(), second.lower()
    if a == b:
        return 0
    place = next((i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
    x, y = a[place : place + 1], b[place : place + 1]
    if not (_ORDERED.match(x) and _ORDERED.match(y)):
        raise Uncertain(f"the order of {first!r} and {second!r} depends on the language")
    return -1 if x < y else 1


def same_text(first: str, second: str) -> bool:
    """Whether two texts are equal but for case."""
    return first == second or first.lower() == second.lower()


def order(first: Raw, second: Raw) -> int:
    """Order of two values: numbers before text before logicals; a blank cell is 0, empty text or FALSE."""
    if type(first) is float and type(second) is float:
        return number_order(first, second)
    for raw in (first, second):
        if isinstance(raw, dict):
            raise ErrorShown(raw)
    first, second = _blank_as(first, second), _blank_as(second, first)
    ranks = _rank(first), _rank(second)
    if ranks[0] != ranks[1]:
        return -1 if ranks[0] < ranks[1] else 1
    if isinstance(first, str):
        return text_order(first, second)
    if isinstance(first, bool):
        return int(first) - int(second)
    return number_order(float(first), float(second))


def compare(operator: str) -> Callable[[Raw, Raw], Raw]:
    """The function behind a comparison operator, repeated over arrays."""
    test = TESTS[operator]
    equality = operator in ("=", "<>")

    def single(first: Raw, second: Raw) -> Raw:
        if type(first) is str and type(second) is str and equality:
            return test(0 if same_text(first, second) else 1)
        return test(order(first, second))

    def compared(first: Raw = None, second: Raw = None) -> Raw:
        if isinstance(first, list) or isinstance(second, list):
            quick = _numbers_compared(first, second, test)
            if quick is not None:
                return quick
            if equality and isinstance(first, list) and isinstance(second, str) and second:
                return _text_sought(first, second, test)
            if not isinstance(second, list):
                return [[shown(single, (cell, second)) for cell in row] for row in first]
            if not isinstance(first, list):
                return [[shown(single, (first, cell)) for cell in row] for row in second]
            return lifted(single, (first, second), (0, 1))
        return single(first, second)

    return compared


def _numbers_compared(first: Raw, second: Raw, test: Callable[[int], bool]) -> Raw | None:
    """Arrays of numbers of equal shape, or one with a number; None for others or where digits decide."""
    grids = []
    for raw in (first, second):
        if isinstance(raw, list):
            if not all_numbers(raw):
                return None
            grids.append(np.array(raw, dtype=np.float64))
        elif is_number(raw):
            grids.append(np.array(float(raw)))
        else:
            return None
    a, b = grids
    if a.shape != b.shape and a.ndim and b.ndim:
        return None
    difference = a - b
    size = np.maximum(np.abs(a), np.abs(b))
    if np.any((difference != 0) & (np.abs(difference) <= _FAR * size)):
        return None
    table = {-1: test(-1), 0: test(0), 1: test(1)}
    signs = np.sign(difference)
    result = np.where(signs < 0, table[-1], np.where(signs > 0, table[1], table[0]))
    return result.tolist()


def _text_sought(rows: list[list[Raw]], sought: str, test: Callable[[int], bool]) -> Raw:
    """Which cells of an array hold a text; errors stay."""
    folded, yes, no = sought.lower(), test(0), test(1)
    return [
        [
            (yes if cell == sought or cell.lower() == folded else no)
            if type(cell) is str
            else cell
            if type(cell) is dict
            else no
            for cell in row
        ]
        for row in rows
    ]


def _rank(raw: Raw) -> int:
    return 3 if isinstance(raw, bool) else 2 if isinstance(raw, str) else 1


def _blank_as(raw: Raw, other: Raw) -> Raw:
    if raw is not None:
        return raw
    return "" if isinstance(other, str) else False if isinstance(other, bool) else 0.0
