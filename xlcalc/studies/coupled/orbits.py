"""What each drive of a coupled plant does at every instant of its cycle.

A drive is followed on the EMF that the coupled solution gives it, which holds the bus voltage up to order 50.
Above, it sees the reactance in its own circuit only, and not the edges that others cut into the bus, which
shift its own commutations. `Orbits.refine` puts what the bus voltage has above order 50 into its EMF, as far
as the kernels take orders.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray
from xlcalc.network.flow import POSITIVE, Flow
from xlcalc.rectifier.circuit import MAX_COMPONENT_ORDER, MAX_COMPONENT_ORDERS, Bridge, Circuit
from xlcalc.rectifier.compiled.batch import wanted_orders
from xlcalc.rectifier.compiled.packing import PHASE_PEAK, emf_vectors
from xlcalc.rectifier.result import SteadyState
from xlcalc.rectifier.steady_state import solve_many
from xlcalc.rectifier.trace import trace_vectors, waveforms
from xlcalc.studies.coupled.coupling import ALONE, IN_STEP, NEAR_BUS, NEGLIGIBLE, SHARED, CoupledPlant

SAME_ORBIT = 0.02
"""Change of a current, per unit of its fundamental, beyond which a drive has gone to another solution."""

LEAST_LEAKAGE = 1e-6
"""Per unit of a drive's base, in place of none: a bare bridge that commutates shorts its bus."""

DIODES = 64
"""States of the six diodes of a bridge."""

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

PHASES: ComplexArray = np.exp(2j * math.pi / 3.0 * np.arange(3))
PAIRS = ((0, 1), (1, 2), (2, 0))
"""Phases of the line-to-line voltages ab, bc, ca."""


@dataclass(frozen=True, eq=False)
class Trace:
    """One unit of a group over the angles that are followed, in the frame of the utility.

    Parameters
    ----------
    current, rate : arrays of complex, shape (n,)
        Space vector of the line current, peak A, and its derivative by the angle.
    volts : array of complex, shape (n,)
        Of the voltage at its terminals, peak V to neutral.
    pattern : array of int, shape (n,)
        Which of `admittances` holds.
    admittances : array of float, shape (patterns, 2, 2)
        What the terminals' voltage adds to `rate`, siemens.
    pairs : tuple of (float, array of bool, shape (3, n))
        For each bridge its phase shift in degrees, and which pairs of its phases commutate.
    """

    current: ComplexArray
    rate: ComplexArray
    volts: ComplexArray
    pattern: IntArray
    admittances: FloatArray
    pairs: tuple[tuple[float, BoolArray], ...]

    def fed(self, volts: ComplexArray) -> ComplexArray:
        """Rate of the current that a voltage of the terminals gives."""
        own = self.admittances[self.pattern]
        along = own[:, 0, 0] * volts.real + own[:, 0, 1] * volts.imag
        across = own[:, 1, 0] * volts.real + own[:, 1, 1] * volts.imag
        return np.asarray(along + 1j * across, np.complex128)


class Orbits:
    """The steady states of all groups of a plant on the voltages of its coupled solution.

    Parameters
    ----------
    plant : CoupledPlant
    currents : array of complex, shape (groups, 2, 50)
        Of the solution: both sequences of one unit by order, A in the frame of its bus.
    flow : Flow
        Of the solution.
    points : int
        Points of the cycle, a multiple of 6.

    Raises
    ------
    NoSolutionError
        A drive has no steady state there that agrees with the solution; the message names it.
    """

    def __init__(self, plant: CoupledPlant, currents: ComplexArray, flow: Flow, points: int) -> None:
        self.plant = plant
        shifts = [math.radians(plant.network.shift_deg(group.bus)) for group in plant.groups]
        self._shifts: FloatArray = np.array(shifts)
        self._points = points
        self._states, angles = _states(plant, currents, flow)
        self._ahead: FloatArray = angles + self._shifts
        self.repeats = 6 if all(state.sectors == 1 for state in self._states) else 1
        self.theta: FloatArray = 2.0 * math.pi * np.arange(points // self.repeats) / points

    def whole(self, vectors: ComplexArray) -> ComplexArray:
        """The whole cycle, (..., points), from the part that is followed: it repeats turned by 60 degrees."""
        turns = np.exp(1j * math.pi / 3.0 * np.arange(self.repeats))
        return np.concatenate([turn * vectors for turn in turns], axis=-1)

    def traces(self) -> list[Trace]:
        """Each group over the angles `theta` of the utility's EMF."""
        return [
            _traced(state, self._points, self.theta + ahead, shift, group.rated_watts, volts)
            for group, state, ahead, shift, volts in zip(
                self.plant.groups, self._states, self._ahead, self._shifts, self._volts, strict=True
            )
        ]

    def refine(self, traces: Sequence[Trace], volts: ComplexArray) -> None:
        """Follow the drives on the bus voltages that their traces make, (buses, n), above order 50 too.

        A drive without a solution there keeps its state.
        """
        circuits = [
            self._on_more_orders(k, trace, volts[self.plant.network.index(self.plant.groups[k].bus)])
            for k, trace in enumerate(traces)
        ]
        near = dict(zip(circuits, self._states, strict=True))
        for k, new in enumerate(solve_many(circuits, MAX_ORDER, near=near)):
            if isinstance(new, SteadyState) and _agree(new.line_phasors, self._states[k].line_phasors):
                self._states[k] = new

    @property
    def _volts(self) -> list[float]:
        return [self.plant.network.volts(group.bus) for group in self.plant.groups]

    def _on_more_orders(self, k: int, trace: Trace, volts: ComplexArray) -> Circuit:
        circuit, base = self._states[k].circuit, self._volts[k]
        orders = wanted_orders(self._states[k].sectors, MAX_COMPONENT_ORDER)[1:][:MAX_COMPONENT_ORDERS]
        orders = orders[orders > MAX_ORDER]
        known = tuple(part for part in circuit.supply.components if part[0] <= MAX_ORDER)
        turn = np.exp(1j * self._shifts[k]) / (PHASE_PEAK * circuit.supply.volts * self._points)
        amps = self.plant.groups[k].rated_watts / base
        bus, line = (np.fft.fft(turn * self.whole(vector)) for vector in (volts / base, trace.current / amps))
        ohms, back = self.plant.behind[k].at(1j * orders), np.exp(-1j * orders * self._ahead[k])
        positive = back * (bus[orders] + ohms * line[orders])
        negative = back * (np.conj(bus[-orders]) + ohms * np.conj(line[-orders]))
        parts = tuple(
            (int(order), sequence, complex(value))
            for sequence, values in ((1, positive), (-1, negative))
            for order, value in zip(orders, values, strict=True)
            if abs(value) > NEGLIGIBLE
        )
        return replace(circuit, supply=replace(circuit.supply, components=(*known, *parts)))


def _states(plant: CoupledPlant, currents: ComplexArray, flow: Flow) -> tuple[list[SteadyState], FloatArray]:
    """Each group's steady state, and the angle of its EMF in the frame of its bus."""
    everyone = list(range(len(plant.groups)))
    angles = np.zeros(len(everyone))
    states: list[SteadyState | None] = [None] * len(everyone)
    problem = ""
    for split in (SHARED, ALONE, IN_STEP, NEAR_BUS):
        left = [k for k in everyone if states[k] is None]
        if not left:
            break
        plant.split(split)
        emf = plant.emf(currents, flow)
        for k, drawn in zip(left, plant.drawn_on(left, emf[left], remember=True), strict=True):
            if isinstance(drawn, NoSolutionError):
                problem = f"drive {plant.groups[k].tags}: {drawn}"
            elif not _agree(drawn, currents[k]):
                problem = f"drive {plant.groups[k].tags}: another steady state than that of the plant"
            else:
                states[k] = plant.state(k)
                angles[k] = np.angle(emf[k, POSITIVE, 0])
    found = [state for state in states if state is not None]
    if len(found) < len(states):
        raise NoSolutionError(problem)
    return found, angles


def _agree(currents: ComplexArray, others: ComplexArray) -> bool:
    """Whether currents of one drive belong to one steady state."""
    return bool(np.abs(currents - others).max() <= SAME_ORBIT * np.abs(others[POSITIVE, 0]).max())


def _traced(
    state: SteadyState, points: int, own: FloatArray, shift: float, watts: float, volts: float
) -> Trace:
    circuit = state.circuit
    turn = np.exp(-1j * shift)
    if circuit.filter is not None:
        current, terminal, conducting = *_filtered(state, points, own), np.zeros((1, own.size), np.int64)
    else:
        current, terminal, conducting = trace_vectors(circuit, state.orbit_point, own)
    rate = _rate(circuit, points, own, current, terminal)
    codes = DIODES ** np.arange(conducting.shape[0]) @ conducting
    _, first, pattern = np.unique(codes, return_index=True, return_inverse=True)
    patterns = conducting[:, first]
    bridges = [] if circuit.filter is not None else list(enumerate(circuit.bridges))
    rotation = np.array([[turn.real, -turn.imag], [turn.imag, turn.real]])
    admittances = np.array([_admittance(circuit, tuple(masks)) for masks in patterns.T.tolist()])
    return Trace(
        current=watts / volts * turn * current,
        rate=watts / volts * turn * rate,
        volts=volts * turn * terminal,
        pattern=np.asarray(pattern, np.int64),
        admittances=watts / volts**2 * (rotation @ admittances @ rotation.T),
        pairs=tuple((bridge.shift_deg, commutating_pairs(conducting[b])) for b, bridge in bridges),
    )


def _rate(
    circuit: Circuit, points: int, own: FloatArray, current: ComplexArray, terminal: ComplexArray
) -> ComplexArray:
    """Derivative of the line current by the angle, from the voltage across the inductance of its supply."""
    supply = circuit.supply
    if supply.terms:
        return np.asarray(np.gradient(current, own), np.complex128)
    spectrum = np.zeros(points, np.complex128)
    for order, (alpha, beta) in emf_vectors(circuit).items():
        turn = cmath.exp(1j * order * own[0])
        spectrum[order] = 0.5 * (alpha + 1j * beta) * turn
        spectrum[-order] = 0.5 * (alpha.conjugate() + 1j * beta.conjugate()) / turn
    emf = points * np.fft.ifft(spectrum)[: own.size]
    across = supply.volts * emf - terminal - supply.resistance * current
    return np.asarray(across / supply.inductance, np.complex128)


def _filtered(state: SteadyState, points: int, own: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """Line current and terminal voltage of a drive behind a passive filter, which passes no edges on."""
    degrees, current, volts = waveforms(state, points)
    vectors = [2.0 / 3.0 * (PHASES @ wave) for wave in (current, volts)]
    found = [
        np.interp(np.degrees(own), degrees, vector.real, period=360.0)
        + 1j * np.interp(np.degrees(own), degrees, vector.imag, period=360.0)
        for vector in vectors
    ]
    return found[0], found[1]


@lru_cache(maxsize=4096)
def _admittance(circuit: Circuit, masks: tuple[int, ...]) -> FloatArray:
    """Rate of the line current by the voltage of the bus, per unit at angular frequency 1, (2, 2)."""
    if circuit.filter is not None:
        return np.eye(2) / circuit.filter.inductance
    total = np.zeros((2, 2))
    for bridge, mask in zip(circuit.bridges, masks, strict=True):
        c, s = math.cos(math.radians(bridge.shift_deg)), math.sin(math.radians(bridge.shift_deg))
        turn = np.array([[c, -s], [s, c]])
        shared = circuit.reactor.inductance if len(masks) == 1 else 0.0
        total += turn.T @ _bridge_admittance(bridge, shared, mask) @ turn
    if len(masks) == 1:
        return total
    return np.asarray(np.linalg.solve(np.eye(2) + circuit.reactor.inductance * total, total))


def _bridge_admittance(bridge: Bridge, ahead: float, mask: int) -> FloatArray:
    upper = [x for x in range(3) if mask >> x & 1]
    lower = [x for x in range(3) if mask >> (3 + x) & 1]
    if not upper or not lower:
        return np.zeros((2, 2))
    loops = [np.eye(3)[x] - np.eye(3)[lower[0]] for x in upper]
    loops += [np.eye(3)[lower[0]] - np.eye(3)[x] for x in lower[1:]]
    through = np.array([1.0] * len(upper) + [0.0] * (len(lower) - 1))
    incidence = np.array(loops).T
    inductance = max(bridge.inductance + ahead, LEAST_LEAKAGE)
    matrix = inductance * incidence.T @ incidence
    matrix += bridge.choke_inductance * np.outer(through, through)
    phases = incidence @ np.linalg.pinv(matrix) @ incidence.T
    clarke = np.stack([PHASES.real, PHASES.imag])
    return np.asarray(2.0 / 3.0 * clarke @ phases @ clarke.T)


def commutating_pairs(conducting: IntArray) -> BoolArray:
    """Whether phases a and b, b and c, c and a of a bridge share the current of one rail, (3, n).

    From its conducting diodes as `xlcalc.rectifier.trace.trace_vectors` gives them.
    """
    on = np.array([conducting >> d & 1 for d in range(6)], bool)
    return np.array([(on[x] & on[y]) | (on[3 + x] & on[3 + y]) for x, y in PAIRS])
