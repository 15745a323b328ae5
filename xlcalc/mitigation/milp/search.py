"""The search for the mix of least cost: tangents are added until the limits themselves hold."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

import numpy as np

from xlcalc.core.spectrum import FloatArray
from xlcalc.mitigation.milp.limits import TOLERANCE, ValueLimits
from xlcalc.mitigation.milp.model import Model, rounded
from xlcalc.mitigation.milp.program import MixedIntegerProgram
from xlcalc.mitigation.milp.quantities import IntArray

MOST_TANGENTS = 60
LP_ROUNDS = 60
NEAR = 0.97
"""Part of its limit that a tangent must reach at a relaxed mix to be kept."""

SLOW = 2e-4
"""Relative growth of the bound in a round below which splitting drives further teaches little."""


@dataclass(frozen=True)
class Effort:
    """When the search may stop.

    Parameters
    ----------
    gap_pct : float
        Proof gap in percent of the cost: no mix is cheaper than the answer by more.
    seconds : float
        Time for one search.
    """

    gap_pct: float = 0.5
    seconds: float = 40.0


@dataclass(frozen=True, eq=False)
class Found:
    """The outcome of a search.

    Parameters
    ----------
    unknowns : array or None
        The mix; None where none was found.
    cost : float
        Its cost; infinite without one.
    bound : float
        No mix that meets the limits costs less; infinite where it is proved that none does.
    rounds : int
        Integer programmes solved.
    """

    unknowns: FloatArray | None
    cost: float
    bound: float
    rounds: int

    @property
    def impossible(self) -> bool:
        """Proved that no mix meets the limits."""
        return self.unknowns is None and math.isinf(self.bound)

    @property
    def gap_pct(self) -> float:
        """How much cheaper a mix could still be, percent of the cost."""
        if self.unknowns is None or self.cost <= 0.0:
            return 0.0
        return max(100.0 * (self.cost - self.bound) / self.cost, 0.0)


def least_cost(
    model: Model, limits: ValueLimits, effort: Effort, forbidden: tuple[FloatArray, ...] = ()
) -> Found:
    """The mix of least cost that meets the limits.

    Parameters
    ----------
    model : Model
    limits : ValueLimits
    effort : Effort
    forbidden : tuple of array
        Mixes that do not count.
    """
    return _Search(model, limits, effort, forbidden).run()


class _Search:
    def __init__(
        self, model: Model, limits: ValueLimits, effort: Effort, forbidden: tuple[FloatArray, ...]
    ) -> None:
        self.model, self.limits, self.effort = model, limits, effort
        self.banned = {mix.tobytes() for mix in forbidden}
        self.outer = MixedIntegerProgram(model.columns, limits)
        self.outer.forbidden = list(forbidden)
        self.deadline = time.monotonic() + effort.seconds
        self.best: FloatArray | None = None
        self.best_cost = math.inf
        self.bound = -math.inf
        self.seen: set[bytes] = set()
        self.rounds = 0

    def run(self) -> Found:
        start = self._relaxed()
        if start is None:
            return Found(None, math.inf, math.inf, 0)
        self._offer(repaired(self.model, self.limits, rounded(self.model, start)))
        while not self._near_enough() and time.monotonic() < self.deadline:
            self.rounds += 1
            gap = max(0.3 * self.effort.gap_pct / 100.0, 1e-9)
            solved = self.outer.solve(self.model.pool, gap=gap, seconds=self.deadline - time.monotonic())
            self.bound = max(self.bound, solved.bound)
            if solved.unknowns is None:
                if solved.finished:
                    self.bound = self.best_cost
                break
            self._examine(solved.unknowns)
        cost = self.best_cost + self.model.bank_cost
        bound = min(self.bound, self.best_cost) + self.model.bank_cost
        return Found(self.best, cost, bound, self.rounds)

    def _relaxed(self) -> FloatArray | None:
        """Tangents for drives that may be split; None where not even then the limits can be met."""
        unknowns: FloatArray | None = None
        for _ in range(LP_ROUNDS):
            solved = self.outer.solve(
                self.model.pool, integer=False, seconds=self.deadline - time.monotonic()
            )
            if solved.unknowns is None:
                return unknowns if not solved.finished else None
            unknowns = solved.unknowns
            slow = solved.bound - self.bound < SLOW * abs(solved.bound)
            self.bound = max(self.bound, solved.bound)
            self._drop_far(unknowns)
            if not self._add_tangents(unknowns) or slow or time.monotonic() > self.deadline:
                break
        return unknowns

    def _examine(self, mix: FloatArray) -> None:
        values = self.model.quantities.values(mix)
        if self.limits.met(values, mix):
            self._offer(mix)
            return
        key = mix.tobytes()
        if key in self.seen:
            self._between(mix)
            self.outer.forbidden.append(mix)
            return
        self.seen.add(key)
        self._add_tangents(mix)
        self._offer(repaired(self.model, self.limits, mix))

    def _between(self, mix: FloatArray) -> None:
        """The mix meets the relaxation only: look for one that meets the limits at its demand current."""
        inner = MixedIntegerProgram(self.model.columns, self.limits, mix)
        inner.forbidden = self.outer.forbidden
        for _ in range(10):
            left = self.deadline - time.monotonic()
            if left <= 0.0:
                return
            solved = inner.solve(self.model.pool, gap=0.3 * self.effort.gap_pct / 100.0, seconds=left)
            if solved.unknowns is None:
                return
            if self.limits.met(self.model.quantities.values(solved.unknowns), solved.unknowns):
                self._offer(solved.unknowns)
                return
            if not self._add_tangents(solved.unknowns):
                return

    def _add_tangents(self, unknowns: FloatArray) -> bool:
        values = self.model.quantities.values(unknowns)
        exceeded = self.limits.exceeded(values, unknowns)
        chosen = [int(index) for index in exceeded[:MOST_TANGENTS]]
        self.model.pool.add(self.model.quantities, unknowns, chosen)
        return bool(chosen)

    def _drop_far(self, unknowns: FloatArray) -> None:
        """Forget the tangents that bound nothing at this mix."""
        quantities, pool = self.model.quantities, self.model.pool
        values = quantities.values(unknowns)
        ratios = self.limits.ratios(values, unknowns) / np.maximum(values, 1e-300)
        pool.tangents = [
            t for t in pool.tangents if (t.gradient @ unknowns + t.constant) * ratios[t.index] >= NEAR
        ]

    def _offer(self, mix: FloatArray | None) -> None:
        if mix is None or mix.tobytes() in self.banned:
            return
        cost = float(self.model.columns.cost @ mix)
        if cost < self.best_cost:
            self.best, self.best_cost = np.asarray(mix), cost

    def _near_enough(self) -> bool:
        if self.best is None:
            return False
        return self.best_cost - self.bound <= max(self.effort.gap_pct / 100.0, 1e-9) * max(
            self.best_cost, 1e-9
        )


def nearest(model: Model, limits: ValueLimits, effort: Effort) -> FloatArray | None:
    """The mix whose largest excess over the limits is smallest, and of those about the cheapest.

    None where not even the ratings of required filters can be kept, or the time runs out.

    Parameters
    ----------
    model : Model
    limits : ValueLimits
    effort : Effort
        Gap and seconds.

    Returns
    -------
    array of float, shape (unknowns,), or None
    """
    deadline = time.monotonic() + effort.seconds
    programme = MixedIntegerProgram(model.columns, limits)
    best: FloatArray | None = None
    best_excess = math.inf
    for stage in (-1.0, 0.0):
        for _ in range(LP_ROUNDS):
            left = deadline - time.monotonic()
            if left <= 0.0:
                return best
            excess = stage if stage < 0.0 else best_excess * 1.001 + 1e-6
            solved = programme.solve(model.pool, gap=1e-3, seconds=left, excess=excess)
            mix = solved.unknowns
            if mix is None:
                break
            values = model.quantities.values(mix)
            ratios = limits.ratios(values, mix)
            found = math.inf if (ratios[limits.hard] > 1.0 + 1e-9).any() else float(ratios.max()) - 1.0
            if found < best_excess or (stage == 0.0 and found <= excess):
                best, best_excess = mix, min(found, best_excess)
            allowed = max(solved.bound, 0.0) if stage < 0.0 else excess
            if found <= allowed * 1.001 + 1e-6:
                break
            over = [int(i) for i in np.argsort(-ratios)[:MOST_TANGENTS] if ratios[i] > 1.0 + 0.5 * allowed]
            model.pool.add(model.quantities, mix, over)
    return best


MOST_STEPS = 400


def repaired(model: Model, limits: ValueLimits, unknowns: FloatArray) -> FloatArray | None:
    """A mix that meets the limits, reached from another one; None where single changes lead to none."""
    mix = unknowns.copy()
    for _ in range(MOST_STEPS):
        excess = _excess(limits.ratios(model.quantities.values(mix), mix))
        if excess <= 0.0:
            return _cheapened(model, limits, mix)
        origin, target = _moves(model, mix)
        if origin.size == 0:
            return None
        gained = excess - _excesses(model, limits, mix, origin, target)
        price = model.columns.cost[target] - model.columns.cost[origin]
        worth = np.where(gained > 1e-12, gained / np.maximum(price, 1e-6 * _scale(model)), -np.inf)
        best = int(np.argmax(worth))
        if worth[best] == -np.inf:
            return None
        mix[origin[best]] -= 1.0
        mix[target[best]] += 1.0
    return None


def _cheapened(model: Model, limits: ValueLimits, mix: FloatArray) -> FloatArray:
    for _ in range(MOST_STEPS):
        origin, target = _moves(model, mix)
        saved = model.columns.cost[origin] - model.columns.cost[target]
        cheaper = np.flatnonzero(saved > 1e-9 * _scale(model))
        if cheaper.size == 0:
            return mix
        origin, target, saved = origin[cheaper], target[cheaper], saved[cheaper]
        passing = _excesses(model, limits, mix, origin, target) <= 0.0
        if not passing.any():
            return mix
        best = int(np.argmax(np.where(passing, saved, -np.inf)))
        mix[origin[best]] -= 1.0
        mix[target[best]] += 1.0
    return mix


def _moves(model: Model, mix: FloatArray) -> tuple[IntArray, IntArray]:
    """Every change of one drive to another option under the same filter, as numbers of two unknowns."""
    members: dict[tuple[int, int], list[int]] = {}
    for k, column in enumerate(model.columns.drive_columns):
        members.setdefault((column.group, column.choice), []).append(k)
    pairs = [
        (origin, target)
        for same in members.values()
        for origin in same
        if mix[origin] > 0.5
        for target in same
        if target != origin
    ]
    array = np.array(pairs, dtype=np.int64).reshape(-1, 2)
    return array[:, 0], array[:, 1]


def _excesses(
    model: Model, limits: ValueLimits, mix: FloatArray, origin: IntArray, target: IntArray
) -> FloatArray:
    quantities = model.quantities
    phasors, unknown_angle = quantities.state(mix)
    moved = phasors + quantities.parts[target] - quantities.parts[origin]
    spread = unknown_angle + quantities.unknown_angle[target] - quantities.unknown_angle[origin]
    mixes = np.repeat(mix[None, :], origin.size, axis=0)
    rows = np.arange(origin.size)
    mixes[rows, origin] -= 1.0
    mixes[rows, target] += 1.0
    return _excess(limits.ratios(quantities.values_of(moved, np.maximum(spread, 0.0)), mixes))


def _excess(ratios: FloatArray) -> FloatArray:
    """How far all limits together are exceeded."""
    return np.asarray(np.where(ratios > 1.0 + TOLERANCE, ratios - 1.0, 0.0).sum(axis=-1))


def _scale(model: Model) -> float:
    return max(float(model.columns.cost.max()), 1e-9)
