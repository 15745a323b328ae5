"""IEEE 519: verdicts for a current and for a voltage spectrum at the point of common coupling."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy.typing as npt

from xlcalc.core.orders_given import OrdersNotListed, by_order, gap_text, root_sum_square
from xlcalc.core.spectrum import MAX_ORDER, FloatArray
from xlcalc.standards import ieee519
from xlcalc.standards.ieee519_multiplier import held_orders_multiplier
from xlcalc.standards.loader import Limit, weakest
from xlcalc.standards.verdict import Judgement, Verdict

CURRENT = "current harmonic"
TDD = "TDD"
VOLTAGE = "voltage harmonic"
VOLTAGE_THD = "voltage THD"


def judge_current(
    current_pct: npt.ArrayLike,
    isc_il: float,
    kv: float,
    edition: str = ieee519.DEFAULT_EDITION,
    *,
    raise_other_limits: bool = False,
    orders_not_listed: str = OrdersNotListed.NOT_GIVEN,
) -> Judgement:
    """TDD and every order of a current against IEEE 519.

    Parameters
    ----------
    current_pct : array of float, shape (n,)
        Orders 1..n in percent of the maximum demand current; orders above 50 are ignored. NaN, and orders
        above n, were not given: they are judged neither PASS nor FAIL, and a TDD that lacks orders may fail
        but not pass.
    isc_il, kv, edition
        As in `xlcalc.standards.ieee519.current_limit`.
    raise_other_limits : bool
        Apply the multiplier for held-down low orders where its condition holds; the limit of the TDD stays.
    orders_not_listed : str
        "not given", or "zero" where all orders that were not given are known to be zero.

    Returns
    -------
    Judgement
        TDD first, then orders 2 to 50.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    Isc/IL below 20: 5 % of order 11 against 2 %, by edition 2014

    >>> import numpy as np
    >>> percent = np.zeros(50)
    >>> percent[10] = 5.0
    >>> judge_current(percent, 15, 0.48, "2014").binding.name
    'current harmonic, order 11'
    >>> print(judge_current(np.zeros(25), 15, 0.48).reason)
    current: orders 26 to 50 not given, highest given 25 (orders_not_listed "zero" takes them as zero)
    """
    values = by_order("current_pct", current_pct, MAX_ORDER, orders_not_listed)
    held = None
    if raise_other_limits:
        given = {h: float(values[h - 1]) for h in range(2, MAX_ORDER + 1) if not math.isnan(values[h - 1])}
        held = held_orders_multiplier(given, isc_il, kv, edition)

    def limit(order: int) -> Limit:
        own = ieee519.current_limit(order, isc_il, kv, edition)
        if held is None or held.on(order) == 1.0:
            return own
        return Limit(held.on(order) * own.value, weakest(own.origin, [held.origin]))

    return _judged(values, (TDD, ieee519.tdd_limit(isc_il, kv, edition)), (CURRENT, limit), "current")


def judge_voltage(
    voltage_pct: npt.ArrayLike,
    kv: float,
    edition: str = ieee519.DEFAULT_EDITION,
    *,
    orders_not_listed: str = OrdersNotListed.NOT_GIVEN,
    cause: str = ieee519.ANY_CAUSE,
) -> Judgement:
    """THD and every order of a voltage against IEEE 519.

    Parameters
    ----------
    voltage_pct : array of float, shape (n,)
        Orders 1..n in percent of the nominal voltage; orders above 50 are ignored. NaN, and orders above n,
        were not given.
    kv, edition, cause
        As in `xlcalc.standards.ieee519.voltage_limit`.
    orders_not_listed : str
        As in `judge_current`.

    Returns
    -------
    Judgement
        THD first, then orders 2 to 50.

    Raises
    ------
    InputError
        An argument is outside its range.
    """
    values = by_order("voltage_pct", voltage_pct, MAX_ORDER, orders_not_listed)
    return _judged(
        values,
        (VOLTAGE_THD, ieee519.voltage_limit(kv, edition=edition, cause=cause)),
        (VOLTAGE, lambda order: ieee519.voltage_limit(kv, order, edition, cause)),
        "voltage",
    )


def _judged(
    values: FloatArray, total: tuple[str, Limit], orders: tuple[str, Callable[[int], Limit]], what: str
) -> Judgement:
    """The total and each order; `orders` has the name of an order's quantity and its limit."""
    rss, lacking = root_sum_square(values, 2, MAX_ORDER)
    verdicts = [Verdict.against(total[0], None, rss, total[1], at_least=bool(lacking))]
    quantity, limit = orders
    verdicts += [Verdict.against(quantity, h, values[h - 1], limit(h)) for h in range(2, MAX_ORDER + 1)]
    gap = gap_text(values, range(2, MAX_ORDER + 1), what)
    return Judgement(tuple(verdicts), gaps=(gap,) if gap else ())
