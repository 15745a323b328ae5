"""Depreciation, and single amounts that grow.

Formulas as in the function descriptions of Excel (support.microsoft.com, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable

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
)
from xlcalc.schema.values import ErrorCode

_LONGEST = 1000


def _asset(cost: Raw, salvage: Raw, life: Raw) -> tuple[float, float, float]:
    paid, rest, years = number(cost), number(salvage), number(life)
    if paid < 0 or rest < 0 or years <= 0:
        fail(ErrorCode.NUM)
    if rest > paid or paid == 0:
        raise Uncertain("an asset that costs nothing, or is worth more after its life")
    return paid, rest, years


def sum_of_years(cost: Raw, salvage: Raw, life: Raw, period: Raw) -> Raw:
    """SYD."""
    paid, rest, years = number(cost), number(salvage), number(life)
    year = number(period)
    if years > 0 and 0 < year < 1:
        raise Uncertain("SYD of a part of the first period")
    if years <= 0 or not 1 <= year <= years:
        fail(ErrorCode.NUM)
    if rest < 0:
        raise Uncertain("an asset that is worth less than nothing after its life")
    return (paid - rest) * (years - year + 1) * 2 / (years * (years + 1))


def declining(cost: Raw, salvage: Raw, life: Raw, period: Raw, factor: Raw = 2.0) -> Raw:
    """DDB."""
    paid, rest, years = _asset(cost, salvage, life)
    year, speed = number(period), number(factor)
    if not 0 < year <= years or speed <= 0:
        fail(ErrorCode.NUM)
    if not year.is_integer():
        raise Uncertain("a period that is no whole number")
    rate = min(speed / years, 1.0)
    before = paid * (1 - rate) ** (year - 1)
    after = paid * (1 - rate) ** year
    return max(max(before, rest) - max(after, rest), 0.0)


def fixed_declining(cost: Raw, salvage: Raw, life: Raw, period: Raw, month: Raw = 12.0) -> Raw:
    """DB: the rate is rounded to three places."""
    paid, rest, years = _asset(cost, salvage, life)
    year, months = number(period), number(month)
    if not (years.is_integer() and year.is_integer() and months.is_integer()):
        raise Uncertain("a life, period or month that is no whole number")
    if not 1 <= months <= 12 or not 1 <= year <= years + (months < 12):
        fail(ErrorCode.NUM)
    if years > _LONGEST:
        raise Uncertain(f"a life of more than {_LONGEST} periods")
    rate = round(1 - (rest / paid) ** (1 / years), 3)
    first = paid * rate * months / 12
    left, amount = paid - first, first
    for _ in range(int(year) - 1):
        amount = left * rate
        left -= amount
    return (left + amount) * rate * (12 - months) / 12 if year > years else amount


def variable_declining(
    cost: Raw, salvage: Raw, life: Raw, start: Raw, end: Raw, factor: Raw = 2.0, plain: Raw = False
) -> Raw:
    """VDB over whole periods: declining until the straight line is more, unless that is not wanted."""
    paid, rest, years = _asset(cost, salvage, life)
    first, last, speed = number(start), number(end), number(factor)
    if first < 0 or not first <= last <= years or speed <= 0:
        fail(ErrorCode.NUM)
    if not (first.is_integer() and last.is_integer() and years.is_integer()):
        raise Uncertain("VDB over a part of a period")
    rate, switching = min(speed / years, 1.0), number(plain) == 0
    left, total = paid, 0.0
    for year in range(int(last)):
        amount = min(left * rate, left - rest)
        if switching:
            amount = max(amount, (left - rest) / (years - year))
        left -= amount
        total += amount if year >= first else 0.0
    return total


def interest_of_even_payments(rate: Raw, period: Raw, periods: Raw, present: Raw) -> Raw:
    """ISPMT."""
    count = number(periods)
    return number(present) * number(rate) * (number(period) / count - 1) if count else fail(ErrorCode.DIV0)


def equivalent_rate(periods: Raw, present: Raw, future: Raw) -> Raw:
    """RRI."""
    count, first, last = number(periods), number(present), number(future)
    if count <= 0 or first == 0 or last / first < 0:
        fail(ErrorCode.NUM)
    return (last / first) ** (1 / count) - 1


def duration(rate: Raw, present: Raw, future: Raw) -> Raw:
    """PDURATION."""
    speed, first, last = number(rate), number(present), number(future)
    if speed <= 0 or first <= 0 or last <= 0:
        fail(ErrorCode.NUM)
    return math.log(last / first) / math.log1p(speed)


def scheduled_growth(principal: Raw, rates: Raw) -> Raw:
    """FVSCHEDULE."""
    value = add_in_number(principal)
    for cell in cells_of(rates):
        if is_error(cell):
            raise ErrorShown(cell)
        if cell is None:
            continue
        if not is_number(cell):
            raise Uncertain("a rate that is text or a logical")
        value *= 1 + cell
    return value


def _fraction(raw: Raw) -> int:
    found = math.trunc(add_in_number(raw))
    if found < 0:
        fail(ErrorCode.NUM)
    return found or fail(ErrorCode.DIV0)


def from_fraction(price: Raw, fraction: Raw) -> Raw:
    """DOLLARDE."""
    value, parts = add_in_number(price), _fraction(fraction)
    rest, full = math.modf(value)
    return full + rest * 10 ** math.ceil(math.log10(parts)) / parts


def to_fraction(price: Raw, fraction: Raw) -> Raw:
    """DOLLARFR."""
    value, parts = add_in_number(price), _fraction(fraction)
    rest, full = math.modf(value)
    return full + rest * parts / 10 ** math.ceil(math.log10(parts))


FUNCTIONS: dict[str, Callable[..., Raw]] = over_arrays(
    {
        "SYD": sum_of_years,
        "DDB": declining,
        "DB": fixed_declining,
        "VDB": variable_declining,
        "ISPMT": interest_of_even_payments,
        "RRI": equivalent_rate,
        "PDURATION": duration,
        "DOLLARDE": from_fraction,
        "DOLLARFR": to_fraction,
    }
) | {"FVSCHEDULE": scheduled_growth}
