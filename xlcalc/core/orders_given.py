"""Which orders of a spectrum were given: the others are zero only where the input states it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray, ListedSpectrum, Spectrum

MOST_RUNS = 8


class OrdersNotListed(StrEnum):
    """What an order that was not given stands for."""

    NOT_GIVEN = "not given"
    ZERO = "zero"


def by_order(
    name: str, values: npt.ArrayLike, last: int, orders_not_listed: str = OrdersNotListed.NOT_GIVEN
) -> FloatArray:
    """Magnitudes of orders 1 to `last`; NaN where an order was not given.

    Parameters
    ----------
    name : str
        Name of the values in an error.
    values : array of float, shape (n,)
        Magnitudes of orders 1..n. NaN, and orders above n, were not given; orders above `last` are left out.
    last : int
        Highest order of the result.
    orders_not_listed : str
        "not given" or "zero". The fundamental is never taken as zero.

    Raises
    ------
    InputError
        The values are no row of numbers, one is infinite, or an unknown word.

    Examples
    --------
    >>> by_order("current_pct", [100, 0, np.nan, 0, 20], 7)
    array([100.,   0.,  nan,   0.,  20.,  nan,  nan])
    >>> by_order("current_pct", [100, 0, np.nan, 0, 20], 7, "zero")
    array([100.,   0.,   0.,   0.,  20.,   0.,   0.])
    """
    rule = orders_not_listed_rule(orders_not_listed)
    found = np.abs(np.asarray(values, dtype=float))
    if found.ndim != 1 or np.any(np.isinf(found)):
        raise InputError(
            name, "no row of finite numbers", "one finite number per order, NaN where it was not given"
        )
    result = np.full(last, np.nan)
    result[: found.size] = found[:last]
    if rule is OrdersNotListed.ZERO:
        result[1:] = np.nan_to_num(result[1:], nan=0.0)
    return result


def listed(spectrum: Spectrum, orders_not_listed: str = OrdersNotListed.NOT_GIVEN) -> FloatArray:
    """Magnitudes of a spectrum by order, NaN where an order was not given.

    A plain `Spectrum` states all its orders; a `ListedSpectrum` says which were given.
    """
    if isinstance(spectrum, ListedSpectrum):
        return by_order("spectrum", spectrum.listed_magnitude, spectrum.max_order, orders_not_listed)
    return spectrum.magnitude


def orders_not_listed_rule(word: str) -> OrdersNotListed:
    """The rule that a word stands for.

    Raises
    ------
    InputError
        Another word.
    """
    try:
        return OrdersNotListed(word)
    except ValueError:
        raise InputError("orders_not_listed", word, "one of " + ", ".join(OrdersNotListed)) from None


def root_sum_square(
    values: FloatArray, first: int, last: int, weights: Sequence[float] | FloatArray | None = None
) -> tuple[float, tuple[int, ...]]:
    """Root sum square of the orders that were given, and which ones it lacks.

    Parameters
    ----------
    values : array of float, shape (n,)
        Magnitudes of orders 1..n, NaN where not given; orders above n were not given.
    first, last : int
        Orders of the sum, both included.
    weights : sequence of float, optional
        Factor on each square.

    Returns
    -------
    (float, tuple of int)
        NaN where none of the orders was given.

    Examples
    --------
    >>> root_sum_square(np.array([100.0, 3.0, np.nan, 4.0]), 2, 5)
    (5.0, (3, 5))
    """
    orders = np.arange(first, last + 1)
    part = np.full(orders.size, np.nan)
    listed = np.asarray(values, dtype=float)[first - 1 : last]
    part[: listed.size] = listed
    lacking = tuple(int(h) for h in orders[np.isnan(part)])
    if len(lacking) == orders.size:
        return float("nan"), lacking
    factors = np.ones(orders.size) if weights is None else np.asarray(weights, dtype=float)
    return float(np.sqrt(np.nansum(factors * part**2))), lacking


def gap_text(values: FloatArray, needed: Iterable[int], what: str = "") -> str:
    """A sentence on the needed orders that were not given; empty where none lacks.

    Parameters
    ----------
    values : array of float, shape (n,)
        Magnitudes of orders 1..n, NaN where not given.
    needed : iterable of int
        Orders that the verdict needs.
    what : str
        What the orders are of, for instance "current".

    Returns
    -------
    str
        Without a full stop.

    Examples
    --------
    >>> print(gap_text(np.array([100.0, 0.0, 0.0, 0.0, 20.0]), range(2, 51), "current"))
    current: orders 6 to 50 not given, highest given 5 (orders_not_listed "zero" takes them as zero)
    """
    listed = np.asarray(values, dtype=float)
    given = {int(h) for h in np.flatnonzero(~np.isnan(listed)) + 1}
    lacking = sorted(set(needed) - given)
    if not lacking:
        return ""
    start = f"{what}: " if what else ""
    if lacking == [1]:
        return f"{start}the fundamental not given"
    harmonics = given - {1}
    highest = f"highest given {max(harmonics)}" if harmonics else "no harmonic given"
    word, them = ("order", "it") if len(lacking) == 1 else ("orders", "them")
    return (
        f"{start}{word} {orders_text(lacking)} not given, {highest} "
        f'(orders_not_listed "zero" takes {them} as zero)'
    )


def orders_text(orders: Sequence[int]) -> str:
    """Orders in words, with runs of neighbours, or of even or odd ones, as "a to b".

    Parameters
    ----------
    orders : sequence of int
        Ascending.

    Examples
    --------
    >>> orders_text([2, 3, 4, 6, 8, 9, 10]), orders_text([h for h in range(2, 51) if h not in (5, 7)])
    ('2 to 4, 6, 8 to 10', '2 to 4, 6, 8 to 50')
    >>> orders_text([h for h in range(2, 51) if h % 2 == 0 or h % 3 == 0])
    'even 2 to 50, odd 3, 9, 15, 21, 27, 33, 39, 45'
    """
    plain = _runs(orders, 1)
    if len(plain) <= MOST_RUNS:
        return ", ".join(plain)
    parts = []
    for word, parity in (("even", 0), ("odd", 1)):
        runs = _runs([h for h in orders if h % 2 == parity], 2)
        if runs:
            more = len(runs) - MOST_RUNS
            parts.append(f"{word} " + (", ".join(runs) if more <= 0 else _shortened(orders, parity)))
    return ", ".join(parts)


def _shortened(orders: Sequence[int], parity: int, shown: int = 6) -> str:
    members = [h for h in orders if h % 2 == parity]
    return ", ".join(map(str, members[:shown])) + f" and {len(members) - shown} more"


def _runs(orders: Sequence[int], step: int) -> list[str]:
    runs: list[list[int]] = []
    for order in orders:
        if runs and order == runs[-1][-1] + step:
            runs[-1].append(order)
        else:
            runs.append([order])
    return [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
