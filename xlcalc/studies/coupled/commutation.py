"""Bus voltages of a coupled plant as waveforms, with the steep edges of the commutations.

Fifty orders cannot show a notch. What a drive does at an instant depends on the bus voltage at that instant
through the inductances of its conducting diodes only, so that the voltages of all buses follow from one
linear system:

    v = e - R i - X sum(di/dt),    di/dt = (di/dt on its own EMF) + Y (v - its own terminals' voltage)

with R + j X the impedance matrix of the sources and Y the inverse inductance of what conducts. Up to order
50, e holds whatever else the network does, loads and capacitors included; above, the sources stand alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray
from xlcalc.network.flow import POSITIVE, Flow, FlowSolver
from xlcalc.network.nodal import STANDARD_ORDERS, NodalNetwork
from xlcalc.network.sequence import components
from xlcalc.studies.coupled.coupling import MANY, CoupledPlant, DriveGroup, grouped
from xlcalc.studies.coupled.orbits import PHASES, BoolArray, Orbits, Trace
from xlcalc.studies.solution import PlantSolution

POINTS = 18_000
"""Of a cycle; a multiple of 6, so that symmetric plants are followed for a sixth of it."""

REFINEMENTS, REFINEMENTS_OF_MANY = 2, 1
"""Times that the drives are followed on the edges of the bus voltage; edges then stand within 0.2 degrees."""


@dataclass(frozen=True, eq=False)
class Commutation:
    """Where in the cycle one bridge commutates.

    Parameters
    ----------
    tags : tuple of str
        The drives that it stands for.
    bus : str
        Their bus.
    shift_deg : float
        Angle by which its phases lead those of the utility.
    pairs : array of bool, shape (3, n)
        Whether the currents of its phases a and b, b and c, c and a commutate.
    rate : array of complex, shape (m,)
        Derivative by the angle of the line current of all units of the drive, A, in the frame of the utility;
        over the first part of the cycle where the rest repeats it turned by 60 degrees.
    """

    tags: tuple[str, ...]
    bus: str
    shift_deg: float
    pairs: BoolArray
    rate: ComplexArray

    @property
    def most(self) -> float:
        """The largest derivative in the cycle, A."""
        return float(np.abs(self.rate).max())

    def rate_at(self, point: int) -> complex:
        """The derivative at a point of the cycle."""
        turns, first = divmod(point, self.rate.size)
        return complex(self.rate[first] * np.exp(1j * math.pi / 3.0 * turns))


@dataclass(frozen=True, eq=False)
class BusVoltages:
    """One cycle of the voltages of all buses: space vectors in the frame of the utility, peak V to neutral.

    Parameters
    ----------
    network : NodalNetwork
        The network.
    undisturbed : array of complex, shape (buses, n)
        Behind the impedance of the sources: what would be there without the drives.
    volts : array of complex, shape (buses, n)
        What is there.
    commutations : tuple of Commutation
        One for each bridge of each kind of drive on a bus.
    """

    network: NodalNetwork
    undisturbed: ComplexArray
    volts: ComplexArray
    commutations: tuple[Commutation, ...]

    def line_volts(self, vectors: ComplexArray, bus: str) -> FloatArray:
        """Line-to-line voltages ab, bc, ca of a bus in its own phases, V, shape (3, n)."""
        turned = vectors[self.network.index(bus)] * np.exp(1j * math.radians(self.network.shift_deg(bus)))
        phases = (np.conj(PHASES)[:, None] * turned).real
        return np.asarray(phases - np.roll(phases, -1, axis=0))


def bus_voltages(solution: PlantSolution, points: int = POINTS) -> BusVoltages:
    """Waveforms of the bus voltages of a coupled solution.

    Parameters
    ----------
    solution : PlantSolution
        Coupled and converged.
    points : int
        Points of the cycle, a multiple of 6.

    Raises
    ------
    NoSolutionError
        The solution is none, or a drive has none on its voltages; the message names it.
    """
    solution.require()
    network = solution.network
    groups = grouped(tuple(result.drive for result in solution.drives))
    plant = CoupledPlant(network, groups)
    loads = {load.tag: load for load in solution.loads}
    currents = np.array([components(loads[group.drives[0].tag].phases)[1:] for group in groups])
    currents = currents.reshape(len(groups), 2, MAX_ORDER)
    orbits = Orbits(plant, currents, solution.flow, points)
    undisturbed, driving = _behind_sources(network, solution.flow, points, orbits.theta.size)
    traces = orbits.traces()
    volts, rates = _solved(network, groups, traces, driving)
    for _ in range(REFINEMENTS if len(groups) < MANY else REFINEMENTS_OF_MANY):
        orbits.refine(traces, volts)
        traces = orbits.traces()
        volts, rates = _solved(network, groups, traces, driving)
    return BusVoltages(
        network,
        orbits.whole(undisturbed),
        orbits.whole(volts),
        tuple(
            Commutation(
                tuple(drive.tag for drive in group.drives),
                group.bus,
                network.shift_deg(group.bus) + turn,
                np.concatenate([np.roll(pairs, -r, axis=0) for r in range(orbits.repeats)], axis=1),
                rate,
            )
            for group, trace, rate in zip(groups, traces, rates, strict=True)
            for turn, pairs in trace.pairs
        ),
    )


def _behind_sources(
    network: NodalNetwork, flow: Flow, points: int, count: int
) -> tuple[ComplexArray, ComplexArray]:
    """Voltages behind the sources' impedance without and with what else the network does, (buses, count)."""
    matrix = network.fault_matrix(machines=True)
    ohms = matrix.real + 1j * STANDARD_ORDERS[:, None, None] * matrix.imag
    behind = flow.volts + np.einsum("hab,shb->sha", ohms, flow.drawn)
    alone = FlowSolver(network).solve(np.zeros_like(flow.drawn)).volts
    alone[POSITIVE, 0] = behind[POSITIVE, 0]
    spectra = np.zeros((2, len(network.buses), points), np.complex128)
    for row, (positive, negative) in enumerate((alone, behind)):
        spectra[row][:, STANDARD_ORDERS] = positive.T
        spectra[row][:, -STANDARD_ORDERS] = np.conj(negative).T
    undisturbed, driving = math.sqrt(2.0) * points * np.fft.ifft(spectra)[:, :, :count]
    return undisturbed, driving


def _solved(
    network: NodalNetwork, groups: Sequence[DriveGroup], traces: Sequence[Trace], driving: ComplexArray
) -> tuple[ComplexArray, list[ComplexArray]]:
    """Voltages of all buses, (buses, n), and the rate of the current of all units of each group."""
    if not groups:
        return driving, []
    matrix = network.fault_matrix(machines=True)
    used = sorted({network.index(group.bus) for group in groups})
    place = [used.index(network.index(group.bus)) for group in groups]
    count, n = len(used), driving.shape[1]
    amps = np.zeros((count, n), np.complex128)
    rates = []
    for k, (group, trace) in enumerate(zip(groups, traces, strict=True)):
        amps[place[k]] += group.units * trace.current
        rates.append(group.units * (trace.rate - trace.fed(trace.volts)))
    resistance, reactance = matrix.real[:, used], matrix.imag[:, used]
    unfed = np.zeros((count, n), np.complex128)
    for k, rate in enumerate(rates):
        unfed[place[k]] += rate
    known = driving - resistance @ amps - reactance @ unfed
    right = np.stack([known.real[used], known.imag[used]], axis=1).reshape(2 * count, n)
    at_drives = np.zeros((count, n), np.complex128)
    ahead = np.kron(reactance[used], np.eye(2))
    patterns = np.array([trace.pattern for trace in traces])
    changes = np.flatnonzero((patterns[:, 1:] != patterns[:, :-1]).any(axis=0)) + 1
    for first, end in pairwise((0, *changes.tolist(), n)):
        inside = np.zeros((2 * count, 2 * count))
        for k, (group, trace) in enumerate(zip(groups, traces, strict=True)):
            block = slice(2 * place[k], 2 * place[k] + 2)
            inside[block, block] += group.units * trace.admittances[patterns[k, first]]
        found = np.linalg.solve(np.eye(2 * count) + ahead @ inside, right[:, first:end])
        at_drives[:, first:end] = found[0::2] + 1j * found[1::2]
    rates = [
        rate + group.units * trace.fed(at_drives[place[k]])
        for k, (group, trace, rate) in enumerate(zip(groups, traces, rates, strict=True))
    ]
    total = np.zeros((count, n), np.complex128)
    for k, rate in enumerate(rates):
        total[place[k]] += rate
    return np.asarray(driving - resistance @ amps - reactance @ total, np.complex128), rates
