"""Numbers as people write them: decimal comma or point, groups of thousands, fractions, a unit behind."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from xlcalc.core.errors import InputError

BLANK_WORDS: Final = frozenset(("", "-", "–", "—", "n/a", "na", "none", "nil"))
COMMON_PARTS: Final = (2, 3, 4, 8, 16)
_GROUP_SPACES: Final = "[\u00a0\u2009\u202f' ]"
_NUMBER: Final = re.compile(
    rf"(?P<sign>[+\-−]?)\s*(?P<digits>\d(?:[\d.,]|{_GROUP_SPACES}(?=\d{{3}}))*|[.,]\d+)(?P<power>[eE][+\-]?\d+)?"
    r"[\s\-]*(?P<unit>[^\d\s.,+\-][^\d]*)?\Z"
)
_FRACTION: Final = re.compile(
    r"(?:(?P<whole>\d+)[\s\-]+)?(?P<over>\d+)/(?P<under>\d+)[\s\-]*(?P<unit>[A-Za-z%]*)\Z"
)
_GROUPS: Final = re.compile(r"\d{1,3}(?:([.,])\d{3})+\Z")


class Decimal(StrEnum):
    """The sign before the decimals."""

    POINT = "point"
    COMMA = "comma"

    @property
    def sign(self) -> str:
        return "." if self is Decimal.POINT else ","


@dataclass(frozen=True)
class Numeral:
    """A number with the unit written behind it, an empty text where there is none."""

    value: float
    unit: str = ""


class AmbiguousError(ValueError):
    """A numeral like 1,200 that is one number with a decimal comma and another with groups of thousands."""


def is_blank(cell: object) -> bool:
    """True for an empty cell and for the words that people write into one: a dash, n/a, none."""
    return cell is None or (isinstance(cell, str) and cell.strip().casefold() in BLANK_WORDS)


def decimal_of(texts: Iterable[str]) -> Decimal | None:
    """The decimal sign that a file uses, from the numerals that can be read in one way only.

    Raises
    ------
    InputError
        The file uses both.

    Examples
    --------
    >>> decimal_of(["1.200,5", "30"]), decimal_of(["1,200", "7"])
    (<Decimal.COMMA: 'comma'>, None)
    """
    found: dict[Decimal, str] = {}
    for text in sorted(set(texts)):
        match = _NUMBER.match(text.strip())
        decimal = _certain(match["digits"]) if match else None
        if decimal is not None:
            found.setdefault(decimal, text.strip())
    if len(found) > 1:
        both = " and ".join(repr(text) for text in found.values())
        raise InputError("decimal sign", both, "one sign in the whole file, or --decimal point or comma")
    return next(iter(found), None)


def read_numeral(text: str, decimal: Decimal | None) -> Numeral | None:
    """The number that a text means; None for a text that is no number.

    Parameters
    ----------
    text : str
        Such as ``75 hp``, ``7-1/2``, ``1.200,5`` or ``18-pulse``.
    decimal : Decimal or None
        The file's decimal sign; None where the file does not tell.

    Raises
    ------
    AmbiguousError
        The number depends on the decimal sign, which is not known.

    Examples
    --------
    >>> read_numeral("7-1/2 hp", None), read_numeral("1.200,5", Decimal.COMMA), read_numeral("AFE", None)
    (Numeral(value=7.5, unit='hp'), Numeral(value=1200.5, unit=''), None)
    """
    stripped = text.strip()
    fraction = _FRACTION.match(stripped)
    if fraction and int(fraction["over"]) < int(fraction["under"]) and int(fraction["under"]) in COMMON_PARTS:
        whole = int(fraction["whole"] or 0)
        return Numeral(whole + int(fraction["over"]) / int(fraction["under"]), fraction["unit"])
    match = _NUMBER.match(stripped)
    if match is None:
        return None
    digits = re.sub(_GROUP_SPACES, "", match["digits"])
    plain = _without_groups(digits, decimal or _certain(digits))
    if plain is None:
        return None
    sign = "-" if match["sign"] in ("-", "−") else ""
    return Numeral(float(sign + plain + (match["power"] or "")), (match["unit"] or "").strip())


def _certain(digits: str) -> Decimal | None:
    """The decimal sign of a numeral that can be read in one way only."""
    last = max(digits.rfind("."), digits.rfind(","))
    if last < 0:
        return None
    sign = digits[last]
    other = "," if sign == "." else "."
    as_decimal = Decimal.POINT if sign == "." else Decimal.COMMA
    if digits.count(sign) > 1:
        return Decimal.COMMA if as_decimal is Decimal.POINT else Decimal.POINT
    if other in digits:
        return as_decimal
    grouped = _GROUPS.match(digits)
    return None if grouped and not digits.startswith("0") else as_decimal


def _without_groups(digits: str, decimal: Decimal | None) -> str | None:
    """Digits with a decimal point; None where they are no number with this decimal sign."""
    if "." not in digits and "," not in digits:
        return digits
    if decimal is None:
        raise AmbiguousError(digits)
    group = "," if decimal is Decimal.POINT else "."
    whole, _, decimals = digits.partition(decimal.sign)
    if group in decimals or decimal.sign in decimals:
        return None
    if group in whole and not _GROUPS.match(whole):
        return None
    return f"{whole.replace(group, '') or '0'}.{decimals or '0'}"
