"""What flows in a case without the drives that are to be chosen, and at which angle each bus stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from xlcalc.core.spectrum import MAX_ORDER, ComplexArray
from xlcalc.mitigation.problem import LimitCase
from xlcalc.studies.solution import solve_injected
from xlcalc.studies.sources import LoadCurrent


@dataclass(frozen=True, eq=False)
class FixedPart:
    """The fixed part of a case.

    The angles of the buses and the fundamental depend a little on the drives; they are taken at one mix, and
    the exact study corrects what that makes wrong.

    Parameters
    ----------
    case : LimitCase
        The case.
    currents, volts : mapping of str to array, shape (3, 50)
        Fixed current into each PCC, A, and its harmonic voltage, V.
    angles : mapping of str to float
        Angle of each bus, rad, by which the loads on it turn: the mean over its drives.
    """

    case: LimitCase
    currents: Mapping[str, ComplexArray]
    volts: Mapping[str, ComplexArray]
    angles: Mapping[str, float] = field(default_factory=dict)

    def turned(self, load: LoadCurrent) -> LoadCurrent:
        """A load at the angle of its bus."""
        angle = self.angles.get(load.bus, 0.0)
        if angle == 0.0:
            return load
        turn = np.exp(1j * np.arange(1, MAX_ORDER + 1) * angle)
        return LoadCurrent(load.tag, load.bus, load.phases * turn, load.quantity)


def reference(case: LimitCase, sample: Sequence[LoadCurrent]) -> FixedPart:
    """The fixed part of a case; `sample` holds the drives' currents in some mix.

    Raises
    ------
    NoSolutionError
        The network cannot supply the loads.
    """
    network = case.network
    buses = [point.pcc for point in case.points]
    solution = solve_injected(network, tuple(sample), source_angles=True)
    currents, volts = {}, {}
    for bus in buses:
        currents[bus] = solution.flow.inflow(bus) - sum(load.at(network, bus) for load in solution.loads)
        volts[bus] = solution.flow.bus_volts(bus) + sum(
            load.voltage_at(network, bus) for load in solution.loads
        )
    turned: dict[str, complex] = {}
    for given, placed in zip(sample, solution.loads, strict=True):
        weight = given.quantity * np.vdot(given.phases[0, 0], placed.phases[0, 0])
        turned[given.bus] = turned.get(given.bus, 0.0) + complex(weight)
    angles = {bus: float(np.angle(weight)) for bus, weight in turned.items()}
    return FixedPart(case, currents, volts, angles)
