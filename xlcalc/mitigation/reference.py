"""What flows in a case without the drives that are to be chosen, and at which angle each bus stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from xlcalc.mitigation.problem import Case
from xlcalc.network.nodal import NodalNetwork
from xlcalc.spectrum import MAX_ORDER, ComplexArray
from xlcalc.study.pcc import background_volts
from xlcalc.study.solution import solve_injected
from xlcalc.study.sources import LoadCurrent, linear_current


@dataclass(frozen=True, eq=False)
class Reference:
    """The fixed part of a case.

    A radial chain adds up exactly: its fixed part is that of the linear loads. In a nodal network the angles
    of the buses and the fundamental depend a little on the drives; they are taken at one mix, and the judge
    tells by how much that was wrong.

    Parameters
    ----------
    case : Case
        The case.
    currents, volts : mapping of str to array, shape (3, 50)
        Fixed current into each PCC, A, and its harmonic voltage, V.
    angles : mapping of str to float
        Angle of each bus, rad, by which the loads on it turn.
    """

    case: Case
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


def reference(case: Case, sample: Sequence[LoadCurrent]) -> Reference:
    """The fixed part of a case; `sample` holds the drives' currents in some mix.

    Raises
    ------
    NoSolutionError
        A nodal network cannot supply the loads.
    """
    network = case.network
    buses = [point.pcc for point in case.points]
    if not isinstance(network, NodalNetwork):
        linear = [linear_current(load, network) for load in case.linear_loads]
        none: ComplexArray = np.zeros((3, MAX_ORDER), np.complex128)
        return Reference(
            case,
            {bus: sum((load.at(network, bus) for load in linear), none) for bus in buses},
            {
                bus: sum((-load.voltage_at(network, bus) for load in linear), background_volts(network, bus))
                for bus in buses
            },
        )
    solution = solve_injected(network, tuple(sample), source_angles=True)
    currents, volts = {}, {}
    for bus in buses:
        currents[bus] = solution.flow.inflow(bus) - sum(load.at(network, bus) for load in solution.loads)
        volts[bus] = solution.flow.bus_volts(bus) + sum(
            load.voltage_at(network, bus) for load in solution.loads
        )
    angles = {
        placed.bus: float(np.angle(np.vdot(given.phases[0, 0], placed.phases[0, 0])))
        for given, placed in zip(sample, solution.loads, strict=True)
        if abs(given.phases[0, 0]) > 0.0
    }
    return Reference(case, currents, volts, angles)
