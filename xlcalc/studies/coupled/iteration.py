"""Engine and network, iterated to a state in which both agree.

Unknown are the currents I of all drives, every order and sequence. The network gives the EMF of each drive,
E = E0 - Z I with Z the impedance that all share less what stands in the drive's own circuit
(`coupling.ImpedanceSplit`); the engine gives the currents D(E) of drives on these EMF. Sought is

    I = D(E0 - Z I).

With R = dD/dE (`response.Response`, a real matrix, since a rectifier answers a rotated voltage otherwise)
Newton's step solves (1 + R Z) dI = D(E) - I. All drives of a bus follow its voltage, so it is solved in the
bus voltages: their number, not that of drives, sets the cost. A step is taken in part (`damping`) until the
distance to the solution, as the present response measures it in bus voltages, has fallen.

D has kinks, where a drive begins to draw another pulse; R jumps there, and the search may cross one only if
the response beyond leads nearer. D also has no value where a drive has no steady state on a distorted EMF.
What stands in the drive's circuit is free, so the search goes through easier splits: all drives in step,
nearly on the bus voltages, or with the distortion raised from nothing (`_Search._ways`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from xlcalc.core.errors import NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray
from xlcalc.network.flow import POSITIVE, Flow
from xlcalc.studies.coupled.coupling import IN_STEP, MANY, NEAR_BUS, NEARER_BUS, CoupledPlant, ImpedanceSplit
from xlcalc.studies.coupled.response import Response

MAX_ITERATIONS = 300
CURRENT_TOLERANCE = 1e-5
VOLTAGE_TOLERANCE = 1e-6
ROUGH_TOLERANCE = 3e-3
"""Change of currents that is good enough on the way to full coupling."""

SLOW = 0.2
"""Part of the distance to the solution that may be left after a step before poor predictions are measured."""

SMALLEST_DAMPING = 1.0 / 32.0
SHORT_SEARCH_DAMPING = 0.5
SHORT_SEARCH, FULL_SEARCH = 12, 60
"""Largest numbers of evaluations of a search that is one of several, and of one that is the last resort."""

PROGRESS, STALL = 0.7, 15
"""A search is given up where the change of currents has not fallen to this part in so many evaluations."""

NEARLY_THERE = 0.01
"""Change of currents below which a short search may take as many evaluations as a full one."""

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
    changes: FloatArray

    @cached_property
    def change(self) -> float:
        """The largest of all groups, per unit of the fundamental."""
        return float(self.changes.max())


def iterate(
    plant: CoupledPlant,
    max_iterations: int = MAX_ITERATIONS,
    progress: Callable[[int], None] | None = None,
    near: ComplexArray | None = None,
) -> tuple[ComplexArray, Flow, Convergence]:
    """Currents and flow of the coupled plant, with a statement on convergence.

    From the currents of a similar plant where they are given and lead there. Else straight from drives
    alone, which suffices for most plants. Where it does not, few drives are solved in
    step; then all on nearly the bus voltages themselves, from the nearest state so far. Their state starts
    each split. At last the part of the bus distortion that reaches the drives is raised step by step.
    Without convergence the last state is returned: for diagnosis, not for use. After each
    solution of all drives `progress` is called with their number so far.

    Parameters
    ----------
    plant : CoupledPlant
    max_iterations : int
        Solutions of all drives, at most.
    progress : callable, optional

    Returns
    -------
    currents : array of complex, shape (groups, 2, 50)
        Both sequences of one unit of each group, A rms.
    flow : Flow
        Of the network with these currents.
    convergence : Convergence

    Raises
    ------
    NoSolutionError
        A drive has no solution even on the undistorted bus, or the network cannot supply the loads.
    """
    search = _Search(plant, max_iterations, progress)
    last = search.result(near)
    converged = search.settled(last, CURRENT_TOLERANCE)
    moved = search.voltage_change(last)
    report = Convergence(converged, search.count, last.change, moved, search.reason(converged))
    return last.image, plant.flow(last.image), report


def _lagging(here: _Step, there: _Step | None) -> list[int]:
    """Groups whose currents hardly come nearer by a step near the solution, though it was well predicted.

    Where currents nearly fit whatever the voltage, a small error of the response is as large as what is left.
    """
    if there is None or not PROGRESS * here.change < there.change < here.change < NEARLY_THERE:
        return []
    return [int(k) for k in np.flatnonzero(there.changes > 0.5 * there.change)]


class _Search:
    """Damped Newton iteration at the plant's present split and strength of coupling.

    A step counts as good where it brings the solution nearer as the present response measures it, in bus
    voltages (natural monotonicity: P. Deuflhard, Newton Methods for Nonlinear Problems, Springer 2011; from
    memory). Residuals of currents mislead: those of small bare drives are large where the voltages are near.
    """

    def __init__(self, plant: CoupledPlant, limit: int, progress: Callable[[int], None] | None) -> None:
        self.plant = plant
        self.limit = limit
        self.progress = progress
        self.count = 0
        self._failure = ""
        self._response: Response | None = None

    @cached_property
    def alone(self) -> _Step:
        """All drives as if each were alone.

        Raises
        ------
        NoSolutionError
            A drive has no solution even so.
        """
        for split in (IN_STEP, self.plant.splits[0]):
            self._use(split)
            first = self._evaluated(self._nothing())
            if first is not None:
                return first
        raise NoSolutionError(self._failure)

    def result(self, near: ComplexArray | None) -> _Step:
        """The converged state, or the last one that was found on the way to it."""
        first, second = self.plant.splits
        if near is not None:
            self._use(first)
            start = self._evaluated(near)
            found = start and self._run(start, CURRENT_TOLERANCE, short=True)
            if found and self.settled(found, CURRENT_TOLERANCE):
                return found
        last = nearest = self._with(first, self.alone, CURRENT_TOLERANCE, short=True)
        for search in self._ways(first, second):
            if self.settled(last, CURRENT_TOLERANCE) or self.count >= self.limit:
                break
            nearest = min(nearest, last, self.alone, key=lambda step: step.change)
            last = search(nearest)
        return last

    def _ways(self, first: ImpedanceSplit, second: ImpedanceSplit) -> tuple[Callable[[_Step], _Step], ...]:
        """Searches from the nearest state so far, in the order in which they are tried."""

        def close(start: _Step) -> _Step:
            return self._by(NEAR_BUS, self.alone)

        def raised(split: ImpedanceSplit, least: float = SMALLEST_STRENGTH_STEP) -> Callable[[_Step], _Step]:
            return lambda start: self._raised(split, least)

        closer = tuple(partial(self._by, split) for split in NEARER_BUS)
        if len(self.plant.groups) < MANY:
            quickly = () if self.plant.has_bare_drives else (raised(first, FIRST_STRENGTH),)
            return (partial(self._by, IN_STEP), *quickly, *closer, raised(first), close, raised(second))
        return (close, *closer, raised(first), raised(second))

    def _use(self, split: ImpedanceSplit) -> None:
        self.plant.split(split)
        self.plant.strength = 1.0
        self._response = None

    def _nothing(self) -> ComplexArray:
        return np.zeros((len(self.plant.groups), 2, MAX_ORDER), np.complex128)

    def _with(self, split: ImpedanceSplit, start: _Step, tolerance: float, short: bool = False) -> _Step:
        self._use(split)
        return self._run(start, tolerance, short)

    def _by(self, way: ImpedanceSplit, start: _Step) -> _Step:
        """From the state of drives in step, or on nearly the bus voltages, to the one of each split.

        Such a state is a way only: beyond the highest order a drive sees the reactance of its split.
        """
        near = last = self._with(way, start, ROUGH_TOLERANCE, short=way is IN_STEP)
        if self.settled(near, ROUGH_TOLERANCE):
            for split in (*self.plant.splits, NEAR_BUS):
                last = self._with(split, near, CURRENT_TOLERANCE)
                if self.settled(last, CURRENT_TOLERANCE):
                    break
        return last

    def _raised(self, split: ImpedanceSplit, least: float) -> _Step:
        """By steps of the strength of coupling, smaller ones down to `least` where a step fails."""
        self._use(split)
        start = self._evaluated(self._nothing()) or self.alone
        reached, width = 0.0, FIRST_STRENGTH
        while True:
            target = min(1.0, reached + width)
            self.plant.strength = target
            tolerance = CURRENT_TOLERANCE if target == 1.0 else ROUGH_TOLERANCE
            last = self._run(start, tolerance, short=least > SMALLEST_STRENGTH_STEP)
            settled = self.settled(last, tolerance)
            if settled and target < 1.0:
                reached, start, width = target, last, 1.5 * width
                continue
            width = 0.5 * (target - reached)
            if settled or width < least or self.count >= self.limit:
                self.plant.strength = 1.0
                return last

    def _run(self, start: _Step, tolerance: float, short: bool = False) -> _Step:
        """The state that was reached from another one."""
        begun = progressed = self.count
        here = self._evaluated(start.image)
        if here is None:
            return start
        response = self._response_at(here)
        damping, best = 1.0, here.change
        measured: set[int] = set()
        while not self.settled(here, tolerance):
            full = not short or here.change < NEARLY_THERE
            least, most = (SMALLEST_DAMPING, FULL_SEARCH) if full else (SHORT_SEARCH_DAMPING, SHORT_SEARCH)
            if here.change < PROGRESS * best:
                best, progressed = here.change, self.count
            stalled = self.count - progressed >= STALL
            if damping < least or stalled or self.count >= min(self.limit, begun + most):
                break
            change, distance = response.correction(here.image - here.currents)
            there = self._evaluated(here.currents + damping * change)
            left = np.inf if there is None else response.correction(there.image - there.currents)[1]
            if there is None or left > (1.0 - 0.25 * damping) * distance:
                poorly_predicted = [] if there is None else response.poorly_predicted(there.emf, there.image)
                poor = {*poorly_predicted, *_lagging(here, there)} - measured
                if poor:
                    response.measure(sorted(poor), here.emf)
                    measured |= poor
                elif (
                    there is not None
                    and poorly_predicted
                    and here.change < NEARLY_THERE
                    and self._beyond(response, poorly_predicted, there, distance)
                ):
                    here, damping, measured = there, 1.0, set(poorly_predicted)
                else:
                    damping *= 0.5
                continue
            poor = set(response.poorly_predicted(there.emf, there.image)) if left > SLOW * distance else set()
            poor.update(_lagging(here, there))
            here = there
            damping = min(1.0, 2.0 * damping)
            if response.fits(here.image):
                response.learn(here.emf, here.image)
                response.measure(sorted(poor), here.emf)
                measured = poor
            else:
                response, measured = self._response_at(here), set()
        return here

    def _beyond(self, response: Response, groups: list[int], there: _Step, distance: float) -> bool:
        """Whether a step across a kink of some drives leads nearer, by their response beyond it."""
        kept = response.matrix[groups].copy()
        response.measure(groups, there.emf)
        if response.correction(there.image - there.currents)[1] < distance:
            response.move(there.emf, there.image)
            return True
        response.put_back(groups, kept)
        return False

    def _response_at(self, here: _Step) -> Response:
        if self._response is None or not self._response.fits(here.image):
            alone = self.__dict__.get("alone", here)
            self._response = Response(self.plant, alone.emf, here.emf, here.image)
        else:
            self._response.learn(here.emf, here.image)
        return self._response

    def reason(self, converged: bool) -> str:
        """Why there is no result."""
        if converged:
            return ""
        return self._failure or f"currents and voltages still change after {self.count} iterations"

    def _evaluated(self, currents: ComplexArray) -> _Step | None:
        """None where a drive has no solution on these voltages, or the network none for these currents."""
        plant = self.plant
        self.count += 1
        try:
            flow = plant.flow(currents)
        except NoSolutionError as problem:
            self._failure = str(problem)
            return None
        image = plant.image(currents, flow)
        if self.progress is not None:
            self.progress(self.count)
        if plant.failures:
            named = (f"drive {plant.groups[k].tags}: {text}" for k, text in plant.failures.items())
            self._failure = "; ".join(named)
            return None
        self._failure = ""
        change = np.abs(image - currents).max(axis=(1, 2)) / np.abs(image[:, POSITIVE, 0])
        return _Step(currents, plant.emf(currents, flow), image, change)

    def settled(self, step: _Step, tolerance: float) -> bool:
        """Whether currents and voltages change less than the tolerance allows."""
        share = tolerance / CURRENT_TOLERANCE
        return step.change < tolerance and self.voltage_change(step) < share * VOLTAGE_TOLERANCE

    def voltage_change(self, step: _Step) -> float:
        """Largest change of any order at any bus, per unit of its nominal voltage."""
        plant = self.plant
        try:
            moved = np.abs(plant.flow(step.image).volts - plant.flow(step.currents).volts).max(axis=(0, 1))
        except NoSolutionError:
            return float("inf")
        nominal = [plant.network.volts(bus) / np.sqrt(3.0) for bus in plant.network.buses]
        return float(np.max(moved / np.array(nominal)))
