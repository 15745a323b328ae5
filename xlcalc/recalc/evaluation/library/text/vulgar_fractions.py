"""Vulgar fractions in number formats, such as ``# ?/?`` and ``0 ?/8``.

Laid out as spreadsheet programs do: the numerator to the right and the denominator to the left of its places,
and blanks in place of a fraction that is zero.
"""

from __future__ import annotations

import re
from fractions import Fraction

from xlcalc.recalc.evaluation.library.values import Uncertain

_PATTERN = re.compile(
    r"(?:(?P<whole>[#0]) )?(?P<top>\?{1,3})/(?:(?P<bottom>\?{1,3})|(?P<given>[1-9]\d{0,2}))\Z"
)
_LARGEST = 1e9


def fraction(size: float, pattern: str) -> str | None:
    """A number that is not negative as the pattern shows it; None for patterns of other kinds.

    Raises
    ------
    Uncertain
        Where two fractions are equally near.

    Examples
    --------
    >>> fraction(1.25, "# ?/?"), fraction(0.3, "0 ?/4"), fraction(5.3, "?/?"), fraction(2.0, "# ?/?")
    ('1 1/4', '0 1/4', '37/7', '2    ')
    """
    match = _PATTERN.match(pattern)
    if match is None:
        return None
    if size >= _LARGEST:
        raise Uncertain("so large a number as a fraction")
    exact = Fraction(f"{size:.15g}")
    whole = int(exact) if match["whole"] else 0
    found = _nearest(exact - whole, match)
    if match["whole"] and found >= 1:
        whole, found = whole + 1, Fraction(0)
    bottom = int(match["given"]) if match["given"] else found.denominator
    top = int(found * bottom)
    below = match["given"] or str(bottom).ljust(len(match["bottom"]))
    part = f"{str(top).rjust(len(match['top']))}/{below}"
    if not match["whole"]:
        return part
    if top == 0 and match["given"]:
        raise Uncertain("how many blanks stand for a fraction that is zero")
    if top == 0:
        return f"{whole} " + " " * len(part)
    return f"{whole if whole or match['whole'] == '0' else ''} {part}"


def _nearest(exact: Fraction, match: re.Match[str]) -> Fraction:
    """The nearest fraction with the denominator that is given, or one of so many digits."""
    if match["given"]:
        scaled = exact * int(match["given"])
        if scaled % 1 == Fraction(1, 2):
            raise Uncertain("a number half-way between two fractions")
        return Fraction(round(scaled), int(match["given"]))
    most = 10 ** len(match["bottom"]) - 1
    found = exact.limit_denominator(most)
    mirrored = 2 * exact - found
    if found != exact and mirrored.denominator <= most:
        raise Uncertain("a number half-way between two fractions")
    return found
