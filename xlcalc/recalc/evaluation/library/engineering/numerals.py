"""ROMAN and ARABIC.

The forms of ROMAN as in its function description (support.microsoft.com, from memory): each form lets a
numeral stand one step further before a larger one, from 499 = CDXCIX to ID.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    fail,
    is_error,
    over_arrays,
    single,
    whole,
)
from xlcalc.schema.values import ErrorCode

_VALUES = {"M": 1000, "D": 500, "C": 100, "L": 50, "X": 10, "V": 5, "I": 1}
_LETTERS = "".join(_VALUES)
_LARGEST, _MOST_CONCISE = 3999, 4
_CLASSIC = re.compile(r"M{0,3}(CM|CD|D?C{0,3})(XC|XL|L?X{0,3})(IX|IV|V?I{0,3})\Z")


def roman(number: Raw = None, form: Raw = LEFT_OUT) -> Raw:
    """ROMAN."""
    if isinstance(single(form), bool):
        raise Uncertain("a logical as the form of a Roman numeral")
    rest, steps = whole(number), 0 if form is LEFT_OUT else whole(form)
    if not 0 <= rest <= _LARGEST or not 0 <= steps <= _MOST_CONCISE:
        fail(ErrorCode.VALUE)
    found = ""
    for place in range(0, len(_LETTERS), 2):
        digit = rest // _VALUES[_LETTERS[place]]
        if digit in (4, 9):
            larger = _LETTERS[place - (1 if digit == 4 else 2)]
            smaller = _smallest_before(larger, place, rest, steps)
            found += _LETTERS[smaller] + larger
            rest += _VALUES[_LETTERS[smaller]] - _VALUES[larger]
        else:
            found += (_LETTERS[place - 1] if digit > 4 else "") + _LETTERS[place] * (digit % 5)
            rest %= _VALUES[_LETTERS[place]]
    return found


def _smallest_before(larger: str, place: int, rest: int, steps: int) -> int:
    """Place of the smallest numeral that may stand before a larger one, so many steps down at most."""
    for _ in range(steps):
        following = place + 1
        if following >= len(_LETTERS) or _VALUES[larger] - _VALUES[_LETTERS[following]] > rest:
            break
        place = following
    return place


def arabic(text: Raw = None) -> Raw:
    """ARABIC of a numeral in the classic form."""
    raw = single(text)
    if is_error(raw):
        raise ErrorShown(raw)
    if not isinstance(raw, str):
        raise Uncertain("ARABIC of something that is no text")
    written = raw.upper()
    if any(letter not in _LETTERS for letter in written.strip(" -")):
        fail(ErrorCode.VALUE)
    if _CLASSIC.match(written) is None:
        raise Uncertain(f"the Roman numeral {raw!r}, which is not of the classic form")
    values = [_VALUES[letter] for letter in written]
    return float(sum(-a if a < b else a for a, b in pairwise([*values, 0])))


FUNCTIONS: dict[str, Callable[..., Raw]] = over_arrays({"ROMAN": roman, "ARABIC": arabic})
