"""Annuities and internal rates of return."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import scipy

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.calendar import day_number
from xlcalc.recalc.evaluation.library.rounding import add_in_number
from xlcalc.recalc.evaluation.library.values import (
    ErrorShown,
    Uncertain,
    cells_of,
    fail,
    is_error,
    is_number,
    number,
    numbers_of,
    over_arrays,
)
from xlcalc.schema.values import ErrorCode

_TOP_RATE = 1e6


def _growth(rate: float, periods: float) -> float:
    """(1 + rate) ** periods - 1, exact for small rates."""
    if not -1 < rate < 1:
        raise Uncertain("a rate of 100 % or more a period, or of -100 % or less")
    return math.expm1(periods * math.log1p(rate))


def _due(raw: Raw) -> float:
    return 1.0 if number(raw) != 0 else 0.0


def _payment(rate: float, periods: float, present: float, future: float, due: float) -> float:
    if periods == 0:
        fail(ErrorCode.NUM)
    if rate == 0:
        return -(present + future) / periods
    growth = _growth(rate, periods)
    return -(present * (growth + 1) + future) * rate / (growth * (1 + rate * due))


def _future(rate: float, periods: float, payment: float, present: float, due: float) -> float:
    if rate == 0:
        return -(present + payment * periods)
    growth = _growth(rate, periods)
    return -(present * (growth + 1) + payment * (1 + rate * due) * growth / rate)


def payment(
    rate: Raw = None, periods: Raw = None, present: Raw = None, future: Raw = 0.0, due: Raw = 0.0
) -> Raw:
    """PMT."""
    return _payment(number(rate), number(periods), number(present), number(future), _due(due))


def future_value(
    rate: Raw = None, periods: Raw = None, paid: Raw = None, present: Raw = 0.0, due: Raw = 0.0
) -> Raw:
    """FV."""
    return _future(number(rate), number(periods), number(paid), number(present), _due(due))


def present_value(
    rate: Raw = None, periods: Raw = None, paid: Raw = None, future: Raw = 0.0, due: Raw = 0.0
) -> Raw:
    """PV."""
    r, n, p, f, d = number(rate), number(periods), number(paid), number(future), _due(due)
    if r == 0:
        return -(f + p * n)
    growth = _growth(r, n)
    return -(f + p * (1 + r * d) * growth / r) / (growth + 1)


def periods_needed(
    rate: Raw = None, paid: Raw = None, present: Raw = None, future: Raw = 0.0, due: Raw = 0.0
) -> Raw:
    """NPER."""
    r, p, v, f, d = number(rate), number(paid), number(present), number(future), _due(due)
    if r == 0:
        return -(v + f) / p
    if r <= -1:
        raise Uncertain("a rate of -100 % or less")
    above, below = p * (1 + r * d) - f * r, p * (1 + r * d) + v * r
    if below == 0 or above / below <= 0:
        fail(ErrorCode.NUM)
    return math.log(above / below) / math.log1p(r)


def _interest(rate: float, period: float, periods: float, present: float, future: float, due: float) -> float:
    if math.trunc(period) <= periods < period:
        raise Uncertain("a part of a period after the last one")
    if period < 1 or period > periods:
        fail(ErrorCode.NUM)
    paid = _payment(rate, periods, present, future, due)
    if period == 1:
        owed = 0.0 if due else -present
    elif due:
        owed = _future(rate, period - 2, paid, present, due) - paid
    else:
        owed = _future(rate, period - 1, paid, present, due)
    return owed * rate


def interest(
    rate: Raw = None,
    period: Raw = None,
    periods: Raw = None,
    present: Raw = None,
    future: Raw = 0.0,
    due: Raw = 0.0,
) -> Raw:
    """IPMT."""
    given = (number(rate), number(period), number(periods), number(present), number(future), _due(due))
    return _interest(*given)


def principal(
    rate: Raw = None,
    period: Raw = None,
    periods: Raw = None,
    present: Raw = None,
    future: Raw = 0.0,
    due: Raw = 0.0,
) -> Raw:
    """PPMT."""
    r, k, n, v, f, d = (*map(number, (rate, period, periods, present, future)), _due(due))
    return _payment(r, n, v, f, d) - _interest(r, k, n, v, f, d)


def _accumulated(part: Callable[..., Raw], arguments: Sequence[Raw]) -> Raw:
    rate, periods, present = (add_in_number(raw) for raw in arguments[:3])
    if not all(add_in_number(raw).is_integer() for raw in arguments[3:6]):
        raise Uncertain("a part of a period")
    first, last, due = (math.trunc(add_in_number(raw)) for raw in arguments[3:6])
    if rate <= 0 or periods <= 0 or present <= 0 or not 1 <= first <= last <= periods or due not in (0, 1):
        fail(ErrorCode.NUM)
    return math.fsum(part(rate, float(k), periods, present, 0.0, float(due)) for k in range(first, last + 1))


def accumulated_interest(*arguments: Raw) -> Raw:
    """CUMIPMT."""
    return _accumulated(interest, arguments)


def accumulated_principal(*arguments: Raw) -> Raw:
    """CUMPRINC."""
    return _accumulated(principal, arguments)


def effective_rate(nominal: Raw = None, periods: Raw = None) -> Raw:
    """EFFECT."""
    rate, count = add_in_number(nominal), math.trunc(add_in_number(periods))
    return _growth(rate / count, count) if rate > 0 and count >= 1 else fail(ErrorCode.NUM)


def nominal_rate(effective: Raw = None, periods: Raw = None) -> Raw:
    """NOMINAL."""
    rate, count = add_in_number(effective), math.trunc(add_in_number(periods))
    return _growth(rate, 1 / count) * count if rate > 0 and count >= 1 else fail(ErrorCode.NUM)


def internal_rate(values: Raw = None, guess: Raw = 0.1) -> Raw:
    """IRR: the only rate at which the payments are worth nothing; refused where there are several.

    Text, logicals and blank cells of a range do not count.
    """
    _check_guess(number(guess))
    flows = numbers_of(values)
    return _only_rate(lambda rate: math.fsum(v / (1 + rate) ** k for k, v in enumerate(flows)), flows)


def _check_guess(guess: float) -> None:
    if not -0.9 < guess <= 1:
        raise Uncertain("a guess from which programs may not find the rate")


def _only_rate(worth: Callable[[float], float], flows: Sequence[float]) -> float:
    signs = [math.copysign(1, value) for value in flows if value]
    if len(set(signs)) < 2:
        fail(ErrorCode.NUM)
    if sum(a != b for a, b in pairwise(signs)) > 1:
        running = np.cumsum(flows)
        changes = np.count_nonzero(np.diff(np.sign(running[running != 0])))
        if changes != 1 or running[0] == 0:
            raise Uncertain("payments that change their sign more than once may have several rates")
    low, high = -0.5, 1.0
    while worth(low) * worth(high) > 0:
        low, high = (low - 1) / 2, high * 4
        if high > _TOP_RATE:
            raise Uncertain("no rate between -99.9 % and 1E6")
    return float(scipy.optimize.brentq(worth, low, high, xtol=1e-15, rtol=8.9e-16, maxiter=500))


def _dated(values: Raw, dates: Raw) -> list[tuple[float, int]]:
    amounts, days = list(cells_of(values)), list(cells_of(dates))
    for cell in (*amounts, *days):
        if is_error(cell):
            raise ErrorShown(cell)
        if not is_number(cell):
            raise Uncertain("payments or dates with blank cells, text or logicals")
    if len(amounts) != len(days):
        fail(ErrorCode.NUM)
    found = [(float(amount), day_number(day)) for amount, day in zip(amounts, days, strict=True)]
    if any(day < found[0][1] for _, day in found):
        fail(ErrorCode.NUM)
    return found


def dated_value(rate: Raw = None, values: Raw = None, dates: Raw = None) -> Raw:
    """XNPV."""
    discount = add_in_number(rate)
    if discount <= 0:
        raise Uncertain("XNPV at a rate that is not positive")
    flows = _dated(values, dates)
    start = flows[0][1]
    return math.fsum(value / (1 + discount) ** ((day - start) / 365) for value, day in flows)


def dated_rate(values: Raw = None, dates: Raw = None, guess: Raw = 0.1) -> Raw:
    """XIRR; refused where several rates are possible."""
    _check_guess(add_in_number(guess))
    flows = _dated(values, dates)
    start = flows[0][1]
    in_order = [value for value, _ in sorted(flows, key=lambda flow: flow[1])]
    return _only_rate(
        lambda rate: math.fsum(value / (1 + rate) ** ((day - start) / 365) for value, day in flows), in_order
    )


def modified_rate(values: Raw = None, borrowed: Raw = None, invested: Raw = None) -> Raw:
    """MIRR."""
    flows, finance, reinvest = numbers_of(values), number(borrowed), number(invested)
    if finance <= -1 or reinvest <= -1:
        raise Uncertain("MIRR with a rate of -100 % or less")
    last = len(flows) - 1
    gains = math.fsum(max(v, 0) / (1 + reinvest) ** k for k, v in enumerate(flows))
    losses = math.fsum(min(v, 0) / (1 + finance) ** k for k, v in enumerate(flows))
    if gains == 0 and losses:
        raise Uncertain("MIRR of losses only")
    if gains == 0 or losses == 0 or last < 1:
        fail(ErrorCode.DIV0)
    return (-gains * (1 + reinvest) ** last / losses) ** (1 / last) - 1


FUNCTIONS: dict[str, Callable[..., Raw]] = over_arrays(
    {
        "PMT": payment,
        "FV": future_value,
        "PV": present_value,
        "NPER": periods_needed,
        "IPMT": interest,
        "PPMT": principal,
        "CUMIPMT": accumulated_interest,
        "CUMPRINC": accumulated_principal,
        "EFFECT": effective_rate,
        "NOMINAL": nominal_rate,
    }
) | {
    "IRR": internal_rate,
    "MIRR": modified_rate,
    "XNPV": dated_value,
    "XIRR": dated_rate,
}
