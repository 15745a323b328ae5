"""Limits of IEEE 519 as they depend on the choice: the row of the table, and the multiplier of held orders.

Within one regime all current limits are fixed percentages of the demand current. A mix passes when it passes
in one of the regimes that its ratio Isc/IL admits. Near an edge of the table a judge asks for the rows on
both sides of it; the row below, which is nowhere higher, is the one that binds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from xlcalc.core.spectrum import MAX_ORDER, FloatArray
from xlcalc.standards import ieee519
from xlcalc.standards.loader import column_number, rows_of_edition

_NEAR = (1.0 + 1e-9) / (1.0 - ieee519.NEAR_EDGE)
"""Ratio over the edge below it up to which that edge is near."""


@dataclass(frozen=True, eq=False)
class Regime:
    """Limits that hold together.

    Parameters
    ----------
    ratio_from, ratio_below : float
        Isc/IL for which they hold, lower end included.
    orders_pct : array of float, shape (50,)
        By order, percent of the demand current; infinite at order 1.
    tdd_pct : float
        Of the total.
    held_pct : array of float, shape (50,)
        What orders must stay below for the multiplier, whatever the margin; infinite where nothing is asked.
    """

    ratio_from: float
    ratio_below: float
    orders_pct: FloatArray
    tdd_pct: float
    held_pct: FloatArray


def regimes(
    low_ratio: float,
    high_ratio: float,
    kv: float,
    edition: str,
    raise_others: bool,
    row_ratio: float | None = None,
) -> tuple[Regime, ...]:
    """Regimes for ratios from `low_ratio` to `high_ratio`, both above 0.

    With `row_ratio` the row of that ratio counts for all of them.

    Parameters
    ----------
    low_ratio, high_ratio : float
        Isc/IL.
    kv : float
        Nominal voltage of the PCC.
    edition : str
        Of IEEE 519.
    raise_others : bool
        As in `PccOptions`.
    row_ratio : float, optional
    """
    if row_ratio is not None:
        return tuple(_at(row_ratio, 0.0, math.inf, kv, edition, raise_others))
    rows = rows_of_edition("ieee519_current", edition)
    edges = sorted({column_number(row, "isc_il_from") for row in rows} | {0.0, math.inf})
    found: list[Regime] = []
    for start, stop in pairwise(edges):
        first, beyond = start * _NEAR, stop * _NEAR
        if beyond <= low_ratio or first > high_ratio:
            continue
        sample = start if start > 0.0 else 0.5 * stop
        found += _at(sample, first, beyond, kv, edition, raise_others)
    return tuple(_merged(found))


def _at(
    sample: float, start: float, stop: float, kv: float, edition: str, raise_others: bool
) -> list[Regime]:
    orders: FloatArray = np.full(MAX_ORDER, np.inf)
    for h in range(2, MAX_ORDER + 1):
        orders[h - 1] = ieee519.current_limit(h, sample, kv, edition).value
    tdd = ieee519.tdd_limit(sample, kv, edition).value
    free: FloatArray = np.full(MAX_ORDER, np.inf)
    found = [Regime(start, stop, orders, tdd, free)]
    if not raise_others:
        return found
    held = free
    for row in rows_of_edition("ieee519_multiplier", edition):
        members = [int(text) for text in row["held_orders"].split()]
        held = held.copy()
        for h in members:
            held[h - 1] = min(held[h - 1], column_number(row, "held_to_fraction") * orders[h - 1])
        raised = orders.copy()
        for h in range(3, MAX_ORDER + 1, 2):
            if h not in members:
                raised[h - 1] *= column_number(row, "multiplier")
        found.append(Regime(start, stop, raised, tdd, held))
    return found


def _merged(found: list[Regime]) -> list[Regime]:
    """Neighbours with equal limits as one."""
    merged: list[Regime] = []
    for regime in found:
        same = next(
            (
                k
                for k, other in enumerate(merged)
                if other.ratio_below == regime.ratio_from
                and other.tdd_pct == regime.tdd_pct
                and np.array_equal(other.orders_pct, regime.orders_pct)
                and np.array_equal(other.held_pct, regime.held_pct)
            ),
            None,
        )
        if same is None:
            merged.append(regime)
        else:
            other = merged[same]
            merged[same] = Regime(
                other.ratio_from, regime.ratio_below, other.orders_pct, other.tdd_pct, other.held_pct
            )
    return merged
