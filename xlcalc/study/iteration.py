"""Engine and network, iterated to a state in which both agree."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import count, product

import numpy as np

from xlcalc.errors import NoSolutionError
from xlcalc.network.flow import POSITIVE, Flow
from xlcalc.spectrum import MAX_ORDER, ComplexArray
from xlcalc.study.coupling import CoupledPlant
from xlcalc.study.response import Response

MAX_ITERATIONS = 300
CURRENT_TOLERANCE = 1e-5
VOLTAGE_TOLERANCE = 1e-6
ROUGH_TOLERANCE = 3e-3
"""Change of currents that is good enough on the way to full coupling."""

PATIENCE = 12
"""Iterations without a smaller residual after which the coupling is approached in smaller steps."""

SLOW = 0.3
"""Residual over the best one above which poor predictions are measured again."""

WORSE = 2.0
"""Growth of the residual over the best one after which the iteration goes back there for half the step."""

SMALLEST_DAMPING = 0.1
FIRST_STRENGTH = 0.5
SMALLEST_STRENGTH_STEP = 0.02


@dataclass(frozen=True)
class Convergence:
    """How an iteration ended.

    Parameters
    ----------
    converged : bool
        Currents and voltages both changed by less than their tolerance, and every drive had a solution.
    iterations : int
        Times that all drives were solved.
    current_change : float
        Largest change of any order of any drive in the last step, per unit of its fundamental.
    voltage_change : float
        Largest change of any order at any bus in the last step, per unit of its nominal voltage.
    reason : str
        Why not; empty where it converged.
    """

    converged: bool
    iterations: int
    current_change: float
    voltage_change: float
    reason: str = ""


@dataclass(frozen=True)
class _Step:
    """One evaluation: the currents put in, the EMF of the drives, and the currents that come out."""

    currents: ComplexArray
    emf: ComplexArray
    image: ComplexArray
    size: float
    change: float


def iterate(
    plant: CoupledPlant,
    max_iterations: int = MAX_ITERATIONS,
    progress: Callable[[int], None] | None = None,
) -> tuple[ComplexArray, Flow, Convergence]:
    """Currents and flow of the coupled plant, with a statement on convergence.

    Tried at full coupling first, with each split of the reactances. Where that fails, the part of the bus
    distortion that reaches the drives is raised from nothing to all of it, each state starting the next.
    Without convergence the last state is returned: for diagnosis, not for use. After each solution of all
    drives `progress` is called with their number so far.

    Raises
    ------
    NoSolutionError
        A drive has no solution even on the undistorted bus, or the network cannot supply the loads.
    """
    used = 0
    solved = count(1)

    def tell() -> None:
        if progress is not None:
            progress(next(solved))

    searches: dict[float, _Search] = {}
    approaches = (_Search.at_full_coupling, _Search.raised_coupling)
    for approach, share in product(approaches, plant.shares_of_others):
        plant.split(share)
        plant.strength = 1.0
        if share not in searches:
            searches[share] = _Search(plant, tell)
        search = searches[share]
        before = search.count
        search.limit = before + max_iterations - used
        last = approach(search)
        used += search.count - before
        plant.strength = 1.0
        if search.settled(last, CURRENT_TOLERANCE) or used >= max_iterations - 1:
            break
    converged = search.settled(last, CURRENT_TOLERANCE)
    moved = search.voltage_change(last)
    report = Convergence(converged, used, last.change, moved, search.reason(converged))
    return last.image, plant.flow(last.image), report


class _Search:
    """Newton iteration at the plant's present strength of coupling; counts its evaluations."""

    def __init__(self, plant: CoupledPlant, tell: Callable[[], None]) -> None:
        self.plant = plant
        self.tell = tell
        self.limit = MAX_ITERATIONS
        self.count = 0
        self._failure = ""
        self._response: Response | None = None
        first = self._evaluated(np.zeros((len(plant.groups), 2, MAX_ORDER), np.complex128))
        if first is None:
            raise NoSolutionError(self._failure)
        self.alone = first

    def at_full_coupling(self) -> _Step:
        """Straight from the drives as if alone."""
        self.plant.strength = 1.0
        return self._run(self.alone.image, CURRENT_TOLERANCE)

    def raised_coupling(self) -> _Step:
        """By steps of the strength of coupling, smaller ones where a step fails."""
        start = self.alone
        reached, width = 0.0, FIRST_STRENGTH
        while True:
            target = min(1.0, reached + width)
            self.plant.strength = target
            tolerance = CURRENT_TOLERANCE if target == 1.0 else ROUGH_TOLERANCE
            last = self._run(start.image, tolerance)
            settled = self.settled(last, tolerance)
            if settled and target < 1.0:
                reached, start, width = target, last, 1.5 * width
                continue
            width *= 0.5
            if settled or width < SMALLEST_STRENGTH_STEP or self.count >= self.limit:
                return last

    def _run(self, currents: ComplexArray, tolerance: float) -> _Step:
        """The step with the smallest residual that was found from the given currents."""
        best: _Step | None = None
        damping, since_best = 1.0, 0
        while self.count < self.limit and damping >= SMALLEST_DAMPING and since_best < PATIENCE:
            step = self._evaluated(currents)
            since_best += 1
            if step is not None and self._response is not None:
                slow = best is not None and step.size > SLOW * best.size
                self._response.learn(step.emf, step.image, measure=slow)
            if step is None or (best is not None and step.size > WORSE * best.size):
                damping *= 0.5
                origin = self.alone if best is None else best
                currents = origin.currents + 0.5 * (currents - origin.currents)
                continue
            if best is None or step.size < best.size:
                best, damping, since_best = step, min(1.0, 2.0 * damping), 0
            if self.settled(step, tolerance):
                return step
            if self._response is None or not self._response.fits(step.image):
                self._response = Response(self.plant, self.alone.emf, self.alone.image, step.image)
                self._response.learn(step.emf, step.image, measure=False)
            currents = step.currents + self._response.step(step.currents, step.image)
        return self.alone if best is None else best

    def reason(self, converged: bool) -> str:
        """Why there is no result."""
        if converged:
            return ""
        return self._failure or f"currents and voltages still change after {self.count} iterations"

    def _evaluated(self, currents: ComplexArray) -> _Step | None:
        """None where a drive has no solution on these voltages."""
        plant = self.plant
        self.count += 1
        flow = plant.flow(currents)
        image = plant.image(currents, flow)
        self.tell()
        if plant.failures:
            named = (f"drive {plant.groups[k].tags}: {text}" for k, text in plant.failures.items())
            self._failure = "; ".join(named)
            return None
        residual = image - currents
        change = np.abs(residual).max(axis=(1, 2)) / np.abs(image[:, POSITIVE, 0])
        size = float(np.linalg.norm(residual.ravel() * plant.weights))
        return _Step(currents, plant.emf(currents, flow), image, size, float(change.max()))

    def settled(self, step: _Step, tolerance: float) -> bool:
        """Whether currents and voltages change less than the tolerance allows."""
        share = tolerance / CURRENT_TOLERANCE
        return step.change < tolerance and self.voltage_change(step) < share * VOLTAGE_TOLERANCE

    def voltage_change(self, step: _Step) -> float:
        """Largest change of any order at any bus, per unit of its nominal voltage."""
        plant = self.plant
        moved = np.abs(plant.flow(step.image).volts - plant.flow(step.currents).volts).max(axis=(0, 1))
        nominal = [plant.network.volts(bus) / np.sqrt(3.0) for bus in plant.network.buses]
        return float(np.max(moved / np.array(nominal)))
