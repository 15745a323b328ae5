"""Engine and network, iterated to a state in which both agree."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from xlcalc.errors import NoSolutionError
from xlcalc.network.flow import POSITIVE, Flow
from xlcalc.spectrum import MAX_ORDER, ComplexArray
from xlcalc.study.coupling import CoupledPlant
from xlcalc.study.response import Response

MAX_ITERATIONS = 60
CURRENT_TOLERANCE = 1e-5
VOLTAGE_TOLERANCE = 1e-6
WORSE = 2.0
"""Growth of the residual over the best one after which the iteration goes back there for half the step."""

SMALLEST_DAMPING = 0.01


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
    plant: CoupledPlant, max_iterations: int = MAX_ITERATIONS
) -> tuple[ComplexArray, Flow, Convergence]:
    """Currents and flow of the coupled plant, with a statement on convergence.

    Without convergence the state with the smallest residual is returned: for diagnosis, not for use.

    Raises
    ------
    NoSolutionError
        A drive has no solution even on the undistorted bus, or the network cannot supply the loads.
    """
    first = _evaluated(plant, np.zeros((len(plant.groups), 2, MAX_ORDER), np.complex128))
    if first is None:
        raise NoSolutionError(_failures(plant))
    best = first
    currents = first.image
    response: Response | None = None
    damping = 1.0
    reason = f"currents and voltages still change after {max_iterations} iterations"
    count = 1
    while count < max_iterations and damping >= SMALLEST_DAMPING:
        count += 1
        step = _evaluated(plant, currents)
        if step is not None and response is not None:
            response.learn(step.emf, step.image)
        if step is None or (response is not None and step.size > WORSE * best.size):
            reason = _failures(plant) if step is None else reason
            damping *= 0.5
            currents = best.currents + 0.5 * (currents - best.currents)
            continue
        if step.size < best.size or response is None:
            best, damping = step, min(1.0, 2.0 * damping)
        if step.change < CURRENT_TOLERANCE:
            flow, moved = _voltage_change(plant, step)
            if moved < VOLTAGE_TOLERANCE:
                return step.image, flow, Convergence(True, count, step.change, moved)
        if response is None or not response.fits(step.image):
            response = Response(plant, first.emf, first.image, step.image)
            response.learn(step.emf, step.image)
        currents = step.currents + response.step(step.currents, step.image)
    flow, moved = _voltage_change(plant, best)
    return best.image, flow, Convergence(False, count, best.change, moved, reason)


def _evaluated(plant: CoupledPlant, currents: ComplexArray) -> _Step | None:
    """None where a drive has no solution on these voltages."""
    flow = plant.flow(currents)
    image = plant.image(currents, flow)
    if plant.failures:
        return None
    residual = image - currents
    change = np.abs(residual).max(axis=(1, 2)) / np.abs(image[:, POSITIVE, 0])
    size = float(np.linalg.norm(residual.ravel() * plant.weights))
    return _Step(currents, plant.emf(currents, flow), image, size, float(change.max()))


def _voltage_change(plant: CoupledPlant, step: _Step) -> tuple[Flow, float]:
    flow = plant.flow(step.image)
    moved = np.abs(flow.volts - plant.flow(step.currents).volts).max(axis=(0, 1))
    nominal = [plant.network.volts(bus) / np.sqrt(3.0) for bus in plant.network.buses]
    return flow, float(np.max(moved / np.array(nominal)))


def _failures(plant: CoupledPlant) -> str:
    return "; ".join(f"drive {plant.groups[k].tags}: {text}" for k, text in plant.failures.items())
