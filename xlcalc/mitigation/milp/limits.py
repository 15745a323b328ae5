"""Limits on the values, as the verdict applies them, and their linear bounds for the search.

A current limit is p percent of the demand current IL, and p is constant within a row of the limit table, that
is for low <= Isc/IL < high. With IL given or bounded, each row (regime) is one linear constraint
v <= p IL / 100: an upper bound of IL makes it a relaxation, a lower one a constraint that surely suffices.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from xlcalc.core.spectrum import MAX_ORDER, FloatArray
from xlcalc.mitigation.milp.blocks import Fundamental, PointBlocks
from xlcalc.mitigation.milp.isc_il_bands import Regime, regimes
from xlcalc.mitigation.milp.quantities import IntArray, Quantities
from xlcalc.mitigation.milp.unknowns import Columns
from xlcalc.network.short_circuit import short_circuit_amps
from xlcalc.standards import ieee519

TINY = 1e-12
TOLERANCE = 1e-9


@dataclass(frozen=True, eq=False)
class PointLimits:
    """Current limits at one PCC in one case.

    Parameters
    ----------
    name : str
        PCC and case.
    index : array of int, shape (m,)
        Numbers of its current values.
    percent : array of float, shape (regimes, m)
        Limits in percent of the demand current, the margin taken off.
    ratios : array of float, shape (regimes, 2)
        Isc/IL from, and below.
    short_circuit_amps : float
    demand_amps : float or None
        None takes the fundamental.
    fundamental : Fundamental
    """

    name: str
    index: IntArray
    percent: FloatArray
    ratios: FloatArray
    short_circuit_amps: float
    demand_amps: float | None
    fundamental: Fundamental

    def demand(self, unknowns: FloatArray) -> FloatArray:
        """Maximum demand current, A, shape (...)."""
        if self.demand_amps is not None:
            return np.full(unknowns.shape[:-1], self.demand_amps)
        return self.fundamental.amps(unknowns)

    def ratio(self, values: FloatArray, unknowns: FloatArray) -> FloatArray:
        """Values over their limits in the regime that suits best, shape (..., m)."""
        demand = np.maximum(self.demand(unknowns), TINY)
        isc_il = self.short_circuit_amps / demand
        best: FloatArray | None = None
        for percent, (low, below) in zip(self.percent, self.ratios, strict=True):
            over = values[..., self.index] / (percent * demand[..., None] / 100.0)
            outside = (isc_il < low) | (isc_il >= below)
            over = np.where(outside[..., None], np.inf, over)
            if best is None:
                best = over
            else:
                better = over.max(axis=-1) < best.max(axis=-1)
                best = np.where(better[..., None], over, best)
        assert best is not None
        return best


@dataclass(frozen=True, eq=False)
class ValueLimits:
    """All limits.

    Parameters
    ----------
    fixed : array of float, shape (values,)
        Limits that do not depend on the choice, in the unit of the value; infinite elsewhere.
    points : tuple of PointLimits
        Limits that are percentages of a demand current.
    factor : array of float, shape (values,)
        By which values are multiplied before they are compared: what the judge found beyond the model.
    hard : array of bool, shape (values,)
        Ratings of equipment, which not even the nearest mix may exceed.
    """

    fixed: FloatArray
    points: tuple[PointLimits, ...]
    factor: FloatArray
    hard: npt.NDArray[np.bool_]

    def ratios(self, values: FloatArray, unknowns: FloatArray) -> FloatArray:
        """Value over limit of every value, shape (..., values); above 1 a limit is exceeded."""
        corrected = values * self.factor
        over = corrected / self.fixed
        for point in self.points:
            over[..., point.index] = point.ratio(corrected, unknowns)
        return np.asarray(over)

    def exceeded(self, values: FloatArray, unknowns: FloatArray) -> IntArray:
        """Numbers of the values above their limit in any regime, the worst first."""
        corrected = values * self.factor
        over = corrected / self.fixed
        for point in self.points:
            percent = point.percent.min(axis=0)
            over[point.index] = corrected[point.index] / (
                percent * max(float(point.demand(unknowns)), TINY) / 100.0
            )
        worst_first = np.argsort(-over)
        return np.asarray(worst_first[over[worst_first] > 1.0 + TOLERANCE], np.int64)

    def met(self, values: FloatArray, unknowns: FloatArray) -> bool:
        """Whether no limit is exceeded."""
        return bool(self.ratios(values, unknowns).max() <= 1.0 + TOLERANCE)

    def corrected(self, factor: FloatArray) -> ValueLimits:
        return replace(self, factor=factor)


def standard_limits(
    quantities: Quantities,
    blocks: tuple[PointBlocks, ...],
    columns: Columns,
    margin_at: Callable[[str], float],
) -> ValueLimits:
    """Limits of IEEE 519 at every PCC in every case, less its margin, and the ratings of the filters."""
    fixed = _filter_limits(quantities, len(blocks), columns)
    points = []
    for k, block in enumerate(blocks):
        keep = 1.0 - margin_at(block.point.pcc) / 100.0
        volts = block.case.network.volts(block.point.pcc)
        kv = volts / 1000.0
        voltage = np.flatnonzero(quantities.block_of == 2 * k + 1)
        for index in voltage:
            order = int(quantities.order_of[index]) or None
            limit = ieee519.voltage_limit(kv, order, block.point.edition).value
            fixed[index] = keep * limit / 100.0 * volts / math.sqrt(3.0)
        isc = short_circuit_amps(block.case.network.short_circuit_va(block.point.pcc), volts)
        low, high = _demand_range(block, columns)
        found = regimes(
            isc / high,
            isc / low,
            kv,
            block.point.edition,
            block.point.raise_other_limits,
            block.point.row_ratio,
        )
        points.append(_point(quantities, k, block, isc, found, keep))
    return ValueLimits(fixed, tuple(points), np.ones(quantities.count), _ratings(quantities, len(blocks)))


def tdd_limits(
    quantities: Quantities, blocks: tuple[PointBlocks, ...], columns: Columns, tdd_pct: float
) -> ValueLimits:
    """Only the total demand distortion is bounded, and the ratings of the filters."""
    free: FloatArray = np.full(MAX_ORDER, np.inf)
    only = (Regime(0.0, math.inf, free, tdd_pct, free),)
    points = tuple(
        _point(
            quantities,
            k,
            block,
            short_circuit_amps(
                block.case.network.short_circuit_va(block.point.pcc),
                block.case.network.volts(block.point.pcc),
            ),
            only,
            1.0,
        )
        for k, block in enumerate(blocks)
    )
    fixed = _filter_limits(quantities, len(blocks), columns)
    return ValueLimits(fixed, points, np.ones(quantities.count), _ratings(quantities, len(blocks)))


def _ratings(quantities: Quantities, points: int) -> npt.NDArray[np.bool_]:
    return np.asarray(quantities.block_of >= 2 * points)


def _filter_limits(quantities: Quantities, points: int, columns: Columns) -> FloatArray:
    """Ratings of the filters; their blocks follow those of the points, case by case."""
    fixed: FloatArray = np.full(quantities.count, np.inf)
    ratings = [choice.rated_amps for place in columns.places for choice in place.choices]
    for position in range(2 * points, len(quantities.blocks)):
        totals = (quantities.block_of == position) & (quantities.order_of == 0)
        fixed[totals] = ratings[(position - 2 * points) % len(ratings)]
    return fixed


def _point(
    quantities: Quantities, k: int, block: PointBlocks, isc: float, found: tuple[Regime, ...], keep: float
) -> PointLimits:
    index = np.flatnonzero(quantities.block_of == 2 * k)
    orders = quantities.order_of[index]
    percent = [
        np.where(
            orders == 0,
            keep * regime.tdd_pct,
            np.minimum(keep * regime.orders_pct, regime.held_pct)[np.maximum(orders, 1) - 1],
        )
        for regime in found
    ]
    return PointLimits(
        name=f"{block.point.pcc}, {block.case.name}",
        index=index,
        percent=np.array(percent),
        ratios=np.array([(regime.ratio_from, regime.ratio_below) for regime in found]),
        short_circuit_amps=isc,
        demand_amps=block.point.demand_amps,
        fundamental=block.fundamental,
    )


def with_one_demand(blocks: Iterable[PointBlocks], columns: Columns) -> tuple[PointBlocks, ...]:
    """The same blocks, each PCC with the fundamental of the case where it is largest as its demand."""
    every = tuple(blocks)
    largest: dict[str, tuple[float, Fundamental]] = {}
    for block in every:
        low, high = _range(block.fundamental.base, block.fundamental.parts, columns)
        amps = abs(0.5 * (low + high))
        if block.point.pcc not in largest or amps > largest[block.point.pcc][0]:
            largest[block.point.pcc] = amps, block.fundamental
    return tuple(replace(block, fundamental=largest[block.point.pcc][1]) for block in every)


def _demand_range(block: PointBlocks, columns: Columns) -> tuple[float, float]:
    """Least and largest demand current that any mix can have."""
    if block.point.demand_amps is not None:
        return block.point.demand_amps, block.point.demand_amps
    cosine, sine = sector(block.fundamental, columns)
    smallest = math.hypot(max(cosine[0], 0.0), 0.0 if sine[0] <= 0.0 <= sine[1] else min(map(abs, sine)))
    largest = math.hypot(max(map(abs, cosine)), max(map(abs, sine)))
    return max(smallest, TINY), max(largest, TINY)


def sector(fundamental: Fundamental, columns: Columns) -> tuple[tuple[float, float], tuple[float, float]]:
    """Range of the fundamental's parts along its middle direction and across it, over all mixes."""
    low, high = _range(fundamental.base, fundamental.parts, columns)
    middle = 0.5 * (low + high)
    turn = np.conj(middle) / abs(middle) if middle else 1.0
    low, high = _range(fundamental.base * turn, fundamental.parts * turn, columns)
    return (low.real, high.real), (low.imag, high.imag)


def direction(fundamental: Fundamental, columns: Columns) -> complex:
    """Unit phasor by which the middle of all fundamentals is turned onto the real axis."""
    low, high = _range(fundamental.base, fundamental.parts, columns)
    middle = 0.5 * (low + high)
    return complex(np.conj(middle) / abs(middle)) if middle else 1.0 + 0.0j


def _range(base: complex, parts: np.ndarray, columns: Columns) -> tuple[complex, complex]:
    low = high = base
    members: dict[tuple[str, int], list[complex]] = {}
    for k, column in enumerate(columns.drive_columns):
        members.setdefault(("group", column.group), []).append(columns.groups[column.group].count * parts[k])
    for k, item in enumerate(columns.filter_columns, start=len(columns.drive_columns)):
        members.setdefault(("place", item.place), []).append(parts[k])
    for values in members.values():
        low += min(v.real for v in values) + 1j * min(v.imag for v in values)
        high += max(v.real for v in values) + 1j * max(v.imag for v in values)
    return complex(low), complex(high)
