"""The coupled plant: drives on the bus voltages that they distort themselves.

Every drive is solved behind a reactance of its own on an EMF that is chosen so that EMF minus voltage drop is
the voltage of its bus at every order, ``E = V_bus(h) + (R + j h X) I(h)``. The split changes no solution, it
makes the iteration contract: X is about the reactance that a drive sees from itself and a part of what the
others add when all swing in step.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray
from xlcalc.network.flow import NEGATIVE, POSITIVE, SEQUENCES, Flow, FlowSolver
from xlcalc.network.nodal import STANDARD_ORDERS, NodalNetwork
from xlcalc.network.sequence import components, frame_turn
from xlcalc.rectifier.circuit import Circuit, ThreePhaseSource
from xlcalc.rectifier.drive import BASE_HZ, FrontEnd
from xlcalc.rectifier.impedance import SeriesImpedance
from xlcalc.rectifier.response import MAX_PLACES, Place, emf_responses
from xlcalc.rectifier.result import SteadyState
from xlcalc.rectifier.steady_state import solve_many
from xlcalc.studies.coupled.local import inductive, with_capacitors
from xlcalc.studies.plant import ScheduledDrive

NEGLIGIBLE = 1e-8
"""Distortion of the EMF, per unit, that is left out: below it rounding would only cost symmetry."""

LARGEST_LOCAL = 0.5
"""Upper end of a drive's own reactance in the split, per unit of its rating."""

MANY = 20
WORTH_THREADS = 8
GRID = 1.5

LEAST_REACTOR_PCT = 0.5
"""Line reactor below which the capacitors of a bus feed the commutation of a bridge."""


@dataclass(frozen=True)
class ImpedanceSplit:
    """The reactance that stands in each drive's circuit instead of in its EMF.

    With X0 what the drive's current sees of the network and Xm what the currents of the others add, its
    circuit holds own X0 + others Xm, and its EMF is the bus voltage plus the drop of its own current across
    that.

    Parameters
    ----------
    own : float
        Part of what the drive's own current sees, above 0 to 1.
    others : float
        Part of what the others add where all swing in step, 0 to 1.
    """

    own: float
    others: float


ALONE = ImpedanceSplit(1.0, 0.0)
SHARED = ImpedanceSplit(1.0, 0.25)
IN_STEP = ImpedanceSplit(1.0, 1.0)
"""All swing together: then the EMF hardly feels the drives, so that one solution of each is a good start."""

NEAR_BUS = ImpedanceSplit(0.3, 0.0)
NEARER_BUS = (ImpedanceSplit(0.1, 0.0), ImpedanceSplit(0.03, 0.0))
"""The EMF is nearly the bus voltage, which all drives share: the iteration then is one on bus voltages."""


@dataclass(frozen=True)
class DriveGroup:
    """Drives of one kind on one bus, which all draw the same current.

    Parameters
    ----------
    drives : tuple of ScheduledDrive
        Of one front end, rating and bus.
    units : int
        Number of units in all.
    """

    drives: tuple[ScheduledDrive, ...]
    units: int

    @property
    def bus(self) -> str:
        return self.drives[0].bus

    @property
    def rated_watts(self) -> float:
        return self.drives[0].rated_watts

    @property
    def front_end(self) -> FrontEnd:
        return self.drives[0].front_end

    @property
    def tags(self) -> str:
        return ", ".join(drive.tag for drive in self.drives)


def grouped(drives: tuple[ScheduledDrive, ...]) -> tuple[DriveGroup, ...]:
    """Drives that share front end, rating and bus, in the order of their first appearance."""
    found: dict[tuple[str, float, FrontEnd], list[ScheduledDrive]] = {}
    for drive in drives:
        found.setdefault((drive.bus, drive.rated_watts, drive.front_end), []).append(drive)
    return tuple(DriveGroup(tuple(same), sum(d.quantity for d in same)) for same in found.values())


def is_bare(front_end: FrontEnd) -> bool:
    """Whether a bridge has no reactance of its own ahead of it."""
    bare = front_end.reactor_pct < LEAST_REACTOR_PCT and front_end.filter is None
    return bare and not front_end.has_transformer


class CoupledPlant:
    """Maps currents of all drives to the currents that they draw on the voltages which follow.

    Currents are arrays of complex, shape (groups, 2, 50): both sequences of one unit by order, A in the frame
    of its bus.
    """

    def __init__(self, network: NodalNetwork, groups: tuple[DriveGroup, ...]) -> None:
        self.network = network
        self.groups = groups
        self.solver = FlowSolver(network)
        self.bus = np.array([network.index(group.bus) for group in groups], dtype=int)
        self.units = np.array([group.units for group in groups], dtype=float)
        self.nominal: FloatArray = np.array([network.volts(group.bus) / math.sqrt(3.0) for group in groups])
        self.watts = np.array([group.rated_watts for group in groups])
        turns = [
            [frame_turn(STANDARD_ORDERS, sequence, network.shift_deg(group.bus)) for sequence in SEQUENCES]
            for group in groups
        ]
        self.turn: ComplexArray = np.array(turns, complex).reshape(len(groups), 2, MAX_ORDER)
        self._on_capacitors = self._capacitive()
        self.split(self.splits[0])
        self._near: list[SteadyState | None] = [None] * len(groups)
        self._circuits = [group.front_end.circuit() for group in groups]
        self.failures: dict[int, str] = {}
        self.strength = 1.0
        self._alone = self.bus_volts(self.flow(np.zeros((len(groups), 2, MAX_ORDER), np.complex128)))

    @property
    def weights(self) -> FloatArray:
        """VA per ampere of each unknown: large drives weigh more."""
        return np.repeat(self.weight, 2 * MAX_ORDER)

    @property
    def weight(self) -> FloatArray:
        """VA per ampere of each group."""
        return np.asarray(self.nominal * self.units)

    def flow(self, currents: ComplexArray) -> Flow:
        """Voltages everywhere for given currents."""
        drawn = np.zeros((2, MAX_ORDER, len(self.network.buses)), np.complex128)
        common = currents * self.turn * self.units[:, None, None]
        for k, bus in enumerate(self.bus):
            drawn[:, :, bus] += common[k]
        return self.solver.solve(drawn)

    def bus_volts(self, flow: Flow) -> ComplexArray:
        """Voltage at the bus of each group, both sequences in its frame, shape (groups, 2, 50)."""
        volts = np.moveaxis(flow.volts[:, :, self.bus], -1, 0)
        return np.asarray(volts * np.conj(self.turn), np.complex128)

    def image(self, currents: ComplexArray, flow: Flow) -> ComplexArray:
        """Currents that the drives draw on the voltages of `flow`, which follow from `currents`.

        A drive without a solution keeps its current, and `failures` says why.
        """
        everyone = list(range(len(self.groups)))
        outcomes = self.drawn_on(everyone, self.emf(currents, flow), remember=True)
        self.failures = {
            k: str(drawn) for k, drawn in enumerate(outcomes) if isinstance(drawn, NoSolutionError)
        }
        results = currents.copy()
        for k, drawn in enumerate(outcomes):
            if not isinstance(drawn, NoSolutionError):
                results[k] = drawn
        return results

    def emf(self, currents: ComplexArray, flow: Flow) -> ComplexArray:
        """EMF of each group behind its own reactance, shape (groups, 2, 50)."""
        full = self.bus_volts(flow) + self.local * currents
        if self.strength == 1.0:
            return np.asarray(full, np.complex128)
        return np.asarray(self.strength * full + (1.0 - self.strength) * self._alone, np.complex128)

    def drawn_on(
        self, which: list[int], emf: ComplexArray, remember: bool = False
    ) -> list[ComplexArray | NoSolutionError]:
        """Currents of chosen groups, each on the EMF of its row."""
        outcomes = self._solved(which, emf)
        drawn: list[ComplexArray | NoSolutionError] = []
        for k, row, outcome in zip(which, emf, outcomes, strict=True):
            if isinstance(outcome, NoSolutionError):
                drawn.append(outcome)
                continue
            if remember:
                self._near[k] = outcome
            per_unit = components(outcome.line_phasors)[1:]
            amps = self.watts[k] / (math.sqrt(3.0) * self.nominal[k])
            drawn.append(amps * per_unit * np.exp(1j * STANDARD_ORDERS * np.angle(row[POSITIVE, 0])))
        return drawn

    def responses(
        self, which: list[int], emf: ComplexArray, places: Sequence[Place]
    ) -> list[ComplexArray | None]:
        """Answer of chosen groups on the EMF of their row to changes of it, per unit of their ratings.

        Shape (2, places, 2, 50) as in `xlcalc.rectifier.response`, with the fundamental of the EMF at angle
        zero; 0 for places that would break the symmetry of a solution, None for a group without a solution.
        """
        solved = {i: s for i, s in enumerate(self._solved(which, emf)) if isinstance(s, SteadyState)}
        answers: list[ComplexArray | None] = [None] * len(which)
        for sectors in {state.sectors for state in solved.values()}:
            alike = {i: state for i, state in solved.items() if state.sectors == sectors}
            kept = [p for p, (order, sequence) in enumerate(places) if (order - sequence) * sectors % 6 == 0]
            found = {i: np.zeros((2, len(places), 2, MAX_ORDER), np.complex128) for i in alike}
            for start in range(0, len(kept), MAX_PLACES):
                part = kept[start : start + MAX_PLACES]
                parts = emf_responses(list(alike.values()), [places[p] for p in part], MAX_ORDER)
                for i, one in zip(alike, parts, strict=True):
                    found[i][:, part] = np.nan if one is None else one
            for i, one in found.items():
                answers[i] = one if np.isfinite(one).all() else None
        return answers

    def _solved(self, which: list[int], emf: ComplexArray) -> list[SteadyState | NoSolutionError]:
        circuits = [self._circuit(k, row) for k, row in zip(which, emf, strict=True)]
        sound = {c: k for k, c in zip(which, circuits, strict=True) if isinstance(c, Circuit)}
        workers = 1 if len(sound) < WORTH_THREADS else None
        near = {c: state for c, k in sound.items() if (state := self._near[k]) is not None}
        solved = dict(zip(sound, solve_many(sound, MAX_ORDER, near=near, workers=workers), strict=True))
        return [solved[c] if isinstance(c, Circuit) else c for c in circuits]

    def state(self, k: int) -> SteadyState | None:
        """Last solution of a group's front end, per unit."""
        return self._near[k]

    def source_pct(self, k: int) -> tuple[float, float]:
        """Reactance of the sources at the bus of a group in percent of one unit's base, and its X/R."""
        z = self.network.short_circuit_impedance(self.groups[k].bus, machines=True)
        return 100.0 * z.imag * self.watts[k] / (3.0 * self.nominal[k] ** 2), z.imag / z.real

    @property
    def has_bare_drives(self) -> bool:
        """Whether a bridge has neither reactor nor choke: raising the coupling quickly then seldom works."""
        return any(is_bare(group.front_end) and not group.front_end.choke_pct for group in self.groups)

    @property
    def splits(self) -> tuple[ImpedanceSplit, ...]:
        """Splits to solve with, the likelier one first: others matter where many are in step."""
        return (ALONE, SHARED) if len(self.groups) < MANY else (SHARED, ALONE)

    def split(self, chosen: ImpedanceSplit) -> None:
        """Set the reactance that stands in each drive's circuit instead of in its EMF.

        In per unit it stands on a coarse grid, so that drives of one kind share their response.
        """
        ohms = self.network.fault_matrix()[np.ix_(self.bus, self.bus)]
        amps = self.units * self.watts / self.nominal
        own = np.diagonal(ohms) * self.units
        together = ohms @ amps / (self.watts / self.nominal)
        ahead = chosen.own * own + chosen.others * (together - own)
        reactance = np.minimum(ahead.imag * self.watts / (3.0 * self.nominal**2), LARGEST_LOCAL)
        per_unit = GRID ** np.round(np.log(reactance) / np.log(GRID))
        self.behind = [
            self._on_capacitors.get(k) or inductive(float(per_unit[k])) for k in range(len(self.groups))
        ]
        base = 3.0 * self.nominal**2 / self.watts
        local = base[:, None] * np.array([behind.at(1j * STANDARD_ORDERS) for behind in self.behind])
        self.local: ComplexArray = np.asarray(local[:, None, :], np.complex128)

    def _capacitive(self) -> dict[int, SeriesImpedance]:
        """Groups of bare bridges on buses with capacitors, which feed their commutation."""
        found = {}
        for k, group in enumerate(self.groups):
            if self.network.capacitors and is_bare(group.front_end):
                per_ohm = self.watts[k] / (3.0 * self.nominal[k] ** 2)
                elastance = 0.0 if group.front_end.choke_pct else 1.0 / group.front_end.dc_capacitance_pu
                local = with_capacitors(self.network, group.bus, group.units * per_ohm, elastance)
                if local is not None:
                    found[k] = local
        return found

    def _circuit(self, k: int, emf: ComplexArray) -> Circuit | NoSolutionError:
        """One unit in per unit, its EMF's fundamental at angle zero; no solution for an EMF out of range."""
        fundamental = emf[POSITIVE, 0]
        relative = emf * np.exp(-1j * STANDARD_ORDERS * np.angle(fundamental)) / abs(fundamental)
        local = self.behind[k]
        negative = complex(relative[NEGATIVE, 0])
        present = np.argwhere(np.abs(relative[:, 1:]) > NEGLIGIBLE)
        parts = tuple((int(c) + 2, SEQUENCES[r], complex(relative[r, c + 1])) for r, c in present)
        try:
            supply = ThreePhaseSource(
                volts=float(abs(fundamental) / self.nominal[k]),
                hz=BASE_HZ,
                inductance=local.inductance,
                resistance=local.resistance,
                negative_sequence=negative if abs(negative) > NEGLIGIBLE else 0j,
                background=(),
                angle_deg=0.0,
                components=parts,
                terms=local.terms,
            )
            return replace(self._circuits[k], supply=supply)
        except InputError as problem:
            return NoSolutionError(f"the voltage of its bus is out of range ({problem})")
