"""The integer programme: least cost over the unknowns, with tangents in the place of the limits.

A mix that meets the limits meets every tangent. Solved with an upper bound of the demand current the
programme is therefore a relaxation, whose cost no mix can beat; solved with a lower bound, a mix that meets
the tangents where it stands meets the limits. The solver is HiGHS.
"""

from __future__ import annotations

import contextlib
import ctypes
import math
import os
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from xlcalc.core.spectrum import FloatArray
from xlcalc.mitigation.milp.limits import PointLimits, ValueLimits, direction, sector
from xlcalc.mitigation.milp.quantities import Quantities
from xlcalc.mitigation.milp.unknowns import Columns

LARGEST_ANGLE = math.radians(60.0)


@dataclass(frozen=True, eq=False)
class Tangent:
    """``value[index] >= gradient @ unknowns + constant``."""

    index: int
    gradient: FloatArray
    constant: float


@dataclass(eq=False)
class TangentPool:
    """Tangents found so far; they hold whatever the limits are."""

    tangents: list[Tangent] = field(default_factory=list)

    def add(self, quantities: Quantities, unknowns: FloatArray, indices: list[int]) -> None:
        phasors, unknown_angle = quantities.state(unknowns)
        for index in indices:
            self.tangents.append(Tangent(index, *quantities.tangent(index, phasors, unknown_angle)))


@dataclass(frozen=True, eq=False)
class DemandBounds:
    """A straight line that bounds a demand current: ``constant + gradient @ unknowns``."""

    constant: float
    gradient: FloatArray


@dataclass(frozen=True, eq=False)
class Solved:
    """An answer of the solver.

    Parameters
    ----------
    unknowns : array or None
        None where there is no answer.
    bound : float
        Least objective that any answer can have; infinite where there is none.
    finished : bool
        False where the time ran out without an answer.
    """

    unknowns: FloatArray | None
    bound: float
    finished: bool = True


class MixedIntegerProgram:
    """Least cost, or least excess over the limits, for given limits.

    Parameters
    ----------
    columns : Columns
        Unknowns, costs and sums.
    limits : ValueLimits
        What must hold.
    inner : array or None
        A mix at whose angle the demand currents are bounded from below; None bounds them from above, for a
        relaxation.
    """

    def __init__(self, columns: Columns, limits: ValueLimits, inner: FloatArray | None = None) -> None:
        self.columns = columns
        self.limits = limits
        self.demands = [self._demand(point, inner) for point in limits.points]
        self._point_of = {int(i): k for k, point in enumerate(limits.points) for i in point.index}
        self._position = {int(i): n for point in limits.points for n, i in enumerate(point.index)}
        self.forbidden: list[FloatArray] = []

    def solve(
        self,
        pool: TangentPool,
        *,
        integer: bool = True,
        gap: float = 1e-6,
        seconds: float = 60.0,
        excess: float | None = None,
    ) -> Solved:
        """Solve with the tangents of the pool.

        Parameters
        ----------
        pool : TangentPool
        integer : bool
            False lets drives be split between options.
        gap : float
            Relative gap between answer and bound at which the solver may stop.
        seconds : float
            At which it must stop.
        excess : float, optional
            None minimises cost within the limits. A negative number minimises the largest excess over the
            limits, relative to them; another one minimises cost within this excess.
        """
        n = self.columns.count
        regime_of, regimes = self._regime_unknowns(n)
        spare = n + regimes
        signs, sign_rows = self._forbidden_rows(spare + 1)
        size = spare + 1 + signs
        objective = np.zeros(size)
        minimise_excess = excess is not None and excess < 0.0
        if minimise_excess:
            objective[spare] = 1.0
        else:
            objective[:n] = self.columns.cost
        upper = np.ones(size)
        upper[:n] = self.columns.upper
        upper[spare] = np.inf if minimise_excess else (excess or 0.0)
        rows: list[tuple[dict[int, float], float, float]] = []
        rows += [(row, total, total) for row, total in self.columns.sums]
        rows += self._regime_rows(regime_of)
        rows += sign_rows
        equations = _matrix(rows, size)
        matrix, right = self._tangent_rows(pool, regime_of, spare, size)
        constraints = [LinearConstraint(equations, [r[1] for r in rows], [r[2] for r in rows])]
        if right.size:
            constraints.append(LinearConstraint(matrix, -np.inf, right))
        integrality = np.full(size, 1 if integer else 0, dtype=np.int64)
        integrality[spare] = 0
        with quiet_native_stdout():  # it prints the name of a function, whatever its options say
            result = milp(
                objective,
                integrality=integrality,
                bounds=Bounds(np.zeros(size), upper),
                constraints=constraints,
                options={"mip_rel_gap": gap, "time_limit": max(seconds, 0.1)},
            )
        if result.status == 2:
            return Solved(None, math.inf)
        bound = result.mip_dual_bound if integer else result.fun
        bound = -math.inf if bound is None else float(bound)
        if result.x is None:
            return Solved(None, bound, False)
        found = np.asarray(result.x[:n], float)
        return Solved(np.round(found) + 0.0 if integer else found, bound, result.status == 0)

    def _demand(self, point: PointLimits, inner: FloatArray | None) -> DemandBounds:
        if point.demand_amps is not None:
            return DemandBounds(point.demand_amps, np.zeros(self.columns.count))
        fundamental = point.fundamental
        if inner is not None:
            at = fundamental.base + inner @ fundamental.parts
            turn = complex(np.conj(at) / abs(at)) if at else 1.0 + 0.0j
            return DemandBounds(float((fundamental.base * turn).real), np.real(fundamental.parts * turn))
        cosine, sine = sector(fundamental, self.columns)
        factor = _secant(cosine, sine)
        if factor is None:
            return DemandBounds(
                math.hypot(max(map(abs, cosine)), max(map(abs, sine))), np.zeros(self.columns.count)
            )
        turn = factor * direction(fundamental, self.columns)
        return DemandBounds(float((fundamental.base * turn).real), np.real(fundamental.parts * turn))

    def _regime_unknowns(self, first: int) -> tuple[dict[tuple[int, int], int], int]:
        """Number of the switch of every regime of a point that has several, and how many there are."""
        numbers: dict[tuple[int, int], int] = {}
        for k, point in enumerate(self.limits.points):
            if len(point.percent) > 1:
                for r in range(len(point.percent)):
                    numbers[k, r] = first + len(numbers)
        return numbers, len(numbers)

    def _regime_rows(
        self, regime_of: dict[tuple[int, int], int]
    ) -> list[tuple[dict[int, float], float, float]]:
        """One regime per point holds, and only with the demand current it is for."""
        rows: list[tuple[dict[int, float], float, float]] = []
        for k, point in enumerate(self.limits.points):
            switches = [regime_of[k, r] for r in range(len(point.percent)) if (k, r) in regime_of]
            if not switches:
                continue
            rows.append((dict.fromkeys(switches, 1.0), 1.0, 1.0))
            demand = self.demands[k]
            factor = 1.0 if point.demand_amps is not None else (self._secant_of(point) or 1.0)
            largest = self._largest(demand.gradient, demand.constant)
            coefficients = {int(i): float(demand.gradient[i]) for i in np.flatnonzero(demand.gradient)}
            for switch, (low, below) in zip(switches, point.ratios, strict=True):
                if low > 0.0:
                    most = factor * point.short_circuit_amps / low * (1.0 + 1e-9)
                    slack = max(largest - most, 0.0)
                    rows.append(({**coefficients, switch: slack}, -np.inf, most + slack - demand.constant))
                if math.isfinite(below):
                    least = point.short_circuit_amps / below * (1.0 - 1e-9)
                    rows.append(({**coefficients, switch: -least}, -demand.constant, np.inf))
        return rows

    def _secant_of(self, point: PointLimits) -> float | None:
        return _secant(*sector(point.fundamental, self.columns))

    def _tangent_rows(
        self, pool: TangentPool, regime_of: dict[tuple[int, int], int], spare: int, size: int
    ) -> tuple[sparse.csr_matrix, FloatArray]:
        rows: list[FloatArray] = []
        right: list[float] = []
        for tangent in pool.tangents:
            factor = self.limits.factor[tangent.index]
            gradient, constant = factor * tangent.gradient, factor * tangent.constant
            k = self._point_of.get(tangent.index)
            if k is None:
                limit = self.limits.fixed[tangent.index]
                if math.isfinite(limit):
                    row = np.zeros(size)
                    row[: gradient.size] = gradient / limit
                    row[spare] = 0.0 if self.limits.hard[tangent.index] else -1.0
                    rows.append(row)
                    right.append(1.0 - constant / limit)
                continue
            point, demand = self.limits.points[k], self.demands[k]
            nominal = max(self._largest(demand.gradient, demand.constant), 1e-9)
            for r, percents in enumerate(point.percent):
                share = percents[self._position[tangent.index]] / 100.0
                if not math.isfinite(share):
                    continue
                scale = share * nominal
                row = np.zeros(size)
                row[: gradient.size] = (gradient - share * demand.gradient) / scale
                row[spare] = -1.0
                limit = (share * demand.constant - constant) / scale
                switch = regime_of.get((k, r))
                if switch is not None:
                    free = max(self._largest(row[: gradient.size], 0.0) - limit, 0.0)
                    row[switch] = free
                    limit += free
                rows.append(row)
                right.append(limit)
        if not rows:
            return sparse.csr_matrix((0, size)), np.zeros(0)
        return sparse.csr_matrix(np.array(rows)), np.array(right)

    def _largest(self, gradient: FloatArray, constant: float) -> float:
        """Largest value of a straight line over all mixes."""
        best: dict[tuple[str, int], float] = {}
        for k, column in enumerate(self.columns.drive_columns):
            key = ("group", column.group)
            best[key] = max(best.get(key, -math.inf), float(gradient[k]) * self.columns.upper[k])
        for k, item in enumerate(self.columns.filter_columns, start=len(self.columns.drive_columns)):
            key = ("place", item.place)
            best[key] = max(best.get(key, -math.inf), float(gradient[k]))
        return constant + sum(best.values())

    def _forbidden_rows(self, first: int) -> tuple[int, list[tuple[dict[int, float], float, float]]]:
        """Rows that exclude mixes one by one: of some option at least one fewer must be taken."""
        rows: list[tuple[dict[int, float], float, float]] = []
        signs = 0
        for mix in self.forbidden:
            fewer: dict[int, float] = {}
            ones = 0.0
            for k in np.flatnonzero(mix > 0.5):
                index = int(k)
                if self.columns.upper[index] == 1.0:
                    fewer[index] = -1.0
                    ones += 1.0
                else:
                    sign = first + signs
                    signs += 1
                    most = float(self.columns.upper[index])
                    rows.append(({index: 1.0, sign: most - float(mix[index]) + 1.0}, -np.inf, most))
                    fewer[sign] = 1.0
            rows.append((fewer, 1.0 - ones, np.inf))
        return signs, rows


def _secant(cosine: tuple[float, float], sine: tuple[float, float]) -> float | None:
    """Largest length over its part along the middle direction; None where the angles spread too far."""
    if cosine[0] <= 0.0:
        return None
    angle = math.atan2(max(map(abs, sine)), cosine[0])
    return None if angle > LARGEST_ANGLE else 1.0 / math.cos(angle)


def _matrix(rows: list[tuple[dict[int, float], float, float]], size: int) -> sparse.csr_matrix:
    i, j, values = [], [], []
    for k, (row, _, _) in enumerate(rows):
        for column, value in row.items():
            i.append(k)
            j.append(column)
            values.append(value)
    return sparse.csr_matrix((values, (i, j)), shape=(len(rows), size))


_one_at_a_time = threading.Lock()


@contextlib.contextmanager
def quiet_native_stdout() -> Iterator[None]:
    """Drop what compiled code prints on standard output; a process without one is left as it is."""
    with _one_at_a_time:
        if sys.stdout is not None:
            with contextlib.suppress(OSError, ValueError):
                sys.stdout.flush()
        try:
            kept = os.dup(1)
        except OSError:
            yield
            return
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, 1)
            yield
        finally:
            _flush()
            os.dup2(kept, 1)
            os.close(kept)
            os.close(nowhere)


def _flush() -> None:
    """Empty the buffers of the runtime library of C while they still lead nowhere."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL("ucrtbase" if sys.platform == "win32" else None).fflush(None)
