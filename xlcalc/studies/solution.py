"""A solved plant: every bus, every branch, any bus as the PCC."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from threadpoolctl import threadpool_limits

from xlcalc.core.errors import NoSolutionError
from xlcalc.core.progress import Progress
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray
from xlcalc.network.flow import POSITIVE, Flow, FlowSolver, phases_in_frame, sequence_turn, sequences_of
from xlcalc.network.nodal import STANDARD_ORDERS, NodalNetwork
from xlcalc.network.sequence import components
from xlcalc.network.short_circuit import short_circuit_amps
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.standards import ieee519
from xlcalc.studies.coupled.coupling import CoupledPlant, grouped
from xlcalc.studies.coupled.iteration import MAX_ITERATIONS, Convergence, iterate
from xlcalc.studies.drives import DriveResult, solve_drives, solve_drives_of, unsolved_text
from xlcalc.studies.pcc import PccOptions, PccResult, background_volts
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.sources import (
    LoadCurrent,
    Summation,
    currents_through,
    lengthened,
    spectrum_currents,
    summed,
    volts_taken,
)

ANGLE_ROUNDS = 4

HARD = 15
"""Solutions of all drives from which on a search is worth starting from the state of a similar plant."""


@dataclass(frozen=True, eq=False)
class PlantSolution:
    """Voltages and currents of a plant.

    Parameters
    ----------
    flow : Flow
        Voltages at all buses, from which all currents follow.
    drives : tuple of DriveResult
        In the order of the schedule; angles against the voltage of each drive's bus.
    loads : tuple of LoadCurrent
        The harmonic sources of `flow` but the loads of the network with their own spectrum.
    coupled : bool
        Whether the drives saw the voltages that they distort. Otherwise each was solved as if alone on its
        bus, the quick estimate: usually higher, but single orders can be understated.
    convergence : Convergence or None
        Of the coupled iteration.
    """

    flow: Flow
    drives: tuple[DriveResult, ...]
    loads: tuple[LoadCurrent, ...]
    coupled: bool
    convergence: Convergence | None = None

    @property
    def network(self) -> NodalNetwork:
        return self.flow.network

    @property
    def converged(self) -> bool:
        """False where engine and network found no common state: the numbers are then for diagnosis only."""
        return self.convergence is None or self.convergence.converged

    def thdv_pct(self, bus: str) -> float:
        """Voltage distortion at a bus, orders 2..50, percent of its own fundamental, worst phase."""
        volts = np.abs(self.flow.bus_volts(bus))
        return float(np.max(100.0 * np.linalg.norm(volts[:, 1:], axis=1) / volts[:, 0]))

    def pcc(self, options: PccOptions | None = None) -> PccResult:
        """Currents, voltages and verdict with any bus as the PCC.

        Isc is that of the supply alone, without the plant's own machines. Without a demand current I_L is the
        fundamental that flows into the bus. Harmonics of loads whose angle is not known add as if they were
        in phase with all the others.

        Raises
        ------
        InputError
            No such bus.
        NoSolutionError
            The iteration did not converge, a drive has no solution, or no current flows and none is given.
        """
        chosen = options or PccOptions(self.network.utility_bus)
        self.require()
        bus = chosen.pcc
        currents, volts = self.flow.inflow(bus), self.flow.bus_volts(bus)
        others = spectrum_currents(self.flow)
        if chosen.summation is not Summation.PHASOR:
            loads = (*self.loads, *others)
            counts = [load.quantity for load in loads]
            passing = summed(currents_through(loads, self.network, bus), counts, chosen.summation)
            parts = [background_volts(self.network, bus), *-volts_taken(loads, self.network, bus)]
            currents[:, 1:] = passing[:, 1:]
            volts = summed(parts, [1, *counts], chosen.summation)
        elif unknown := spectrum_currents(self.flow, without_angle=True):
            currents = lengthened(currents, currents_through(unknown, self.network, bus))
            volts = lengthened(volts, volts_taken(unknown, self.network, bus))
        fundamental = float(abs(components(currents[:, :1])[1, 0]))
        volts[:, 0] = 0.0
        nominal = self.network.volts(bus)
        result = PccResult(
            bus=bus,
            volts=nominal,
            short_circuit_amps=short_circuit_amps(self.network.short_circuit_va(bus), nominal),
            fundamental_amps=fundamental,
            demand_amps=fundamental if chosen.demand_amps is None else chosen.demand_amps,
            currents=currents,
            harmonic_volts=volts,
            edition=chosen.edition,
            raise_other_limits=chosen.raise_other_limits,
            row_ratio=chosen.row_ratio,
            left_to_others=ieee519.left_to_others(chosen.inverter_pct, chosen.edition),
        )
        if chosen.demand_amps is None and result.is_dead:
            raise NoSolutionError(f"no current flows through the PCC ({bus}): there is no Isc/IL")
        return result

    def require(self) -> None:
        """Raises `NoSolutionError` with the reason where there is no result to be used."""
        if self.convergence is not None and not self.convergence.converged:
            raise NoSolutionError(f"the coupled solution did not converge: {self.convergence.reason}")
        if failed := unsolved_text(self.drives):
            raise NoSolutionError(f"no result, because {failed}")

    def require_all_orders(self) -> None:
        """As `require`; also where loads draw orders that the flow does not hold.

        These are orders without a known angle, which only a PCC adds, the zero sequence of orders 3, 9, and
        orders that nobody gave.

        Raises
        ------
        NoSolutionError
            The message names the loads.
        """
        self.require()
        lacking = [
            load.name
            for load in self.network.spectrum_loads
            if load.unknown.any() or load.triplen_pct > 0.0 or not load.complete
        ]
        if lacking:
            raise NoSolutionError(
                f"load {', '.join(lacking)} draws orders without a known angle, orders 3, 9, ..., or some "
                "that nobody gave: what they add to currents of elements and voltages of buses is not known"
            )


def solve_coupled(
    plant: StudiedPlant,
    max_iterations: int = MAX_ITERATIONS,
    progress: Callable[[int], None] | None = None,
    near: PlantSolution | None = None,
) -> PlantSolution:
    """The plant as it is: drives and network in one consistent state.

    Parameters
    ----------
    plant : StudiedPlant
    max_iterations : int
        Solutions of all drives after which it gives up.
    progress : callable, optional
        Called after each solution of all drives with their number so far.
    near : PlantSolution, optional
        Of the same drives on a similar network, to start from where its own search was long. The result is
        as accurate, some 1e-6 of a current apart.

    Notes
    -----
    The matrices are many and small: several threads in one of them cost more than they save, and on a busy
    machine many times as much.

    Raises
    ------
    NoSolutionError
        A drive has no solution even on the undistorted bus, or the network cannot supply the loads. An
        iteration that does not converge raises nothing here: `PlantSolution.converged` is then False.
    """
    network = plant.network
    coupled = CoupledPlant(network, grouped(plant.drives))
    if not coupled.groups:
        return solve_injected(network, ())
    with threadpool_limits(limits=1, user_api="blas"):
        currents, flow, convergence = iterate(coupled, max_iterations, progress, _start(coupled, near))
    results: dict[str, DriveResult] = {}
    bus_volts = coupled.bus_volts(flow)
    for k, group in enumerate(coupled.groups):
        angle = np.angle(bus_volts[k, POSITIVE, 0])
        phases = phases_in_frame(currents[k] * np.exp(-1j * STANDARD_ORDERS * angle), 0.0)
        source_pct, source_xr = coupled.source_pct(k)
        state = coupled.state(k)
        doubt = "" if state is None else doubt_of(state)
        for drive in group.drives:
            load = LoadCurrent(drive.tag, drive.bus, phases, drive.quantity)
            results[drive.tag] = DriveResult(
                drive=drive, source_pct=source_pct, source_xr=source_xr, load=load, stable=True, reason=doubt
            )
    drives = tuple(results[drive.tag] for drive in plant.drives)
    return PlantSolution(flow, drives, _in_frame(drives, flow), True, convergence)


def _start(plant: CoupledPlant, near: PlantSolution | None) -> ComplexArray | None:
    """Currents of each group in a solution of the same drives that was hard to find; else None."""
    if near is None or near.convergence is None or not near.converged:
        return None
    if near.convergence.iterations < HARD:
        return None
    found = {(load.tag, load.bus): load for load in near.loads}
    groups = [found.get((group.drives[0].tag, group.bus)) for group in plant.groups]
    known = [components(load.phases)[1:] for load in groups if load is not None]
    return np.array(known) if len(known) == len(groups) else None


def solve_uncoupled(plant: StudiedPlant, progress: Progress | None = None) -> PlantSolution:
    """The quick estimate: each drive solved as if it were alone on its bus, then all added up.

    Raises
    ------
    NoSolutionError
        The network cannot supply the loads.
    """
    return uncoupled_from(plant, solve_drives(plant, progress))


def solve_uncoupled_many(plants: Sequence[StudiedPlant]) -> list[PlantSolution | NoSolutionError]:
    """Quick estimates of many plants, their drives solved in one go; a failure takes its own place only."""
    drives = solve_drives_of(plants)
    found: list[PlantSolution | NoSolutionError] = []
    for plant, solved in zip(plants, drives, strict=True):
        try:
            found.append(uncoupled_from(plant, solved))
        except NoSolutionError as problem:
            found.append(problem)
    return found


def uncoupled_from(plant: StudiedPlant, drives: tuple[DriveResult, ...]) -> PlantSolution:
    """The quick estimate from drives that are solved already."""
    network = plant.network
    loads = tuple(result.load for result in drives if result.load is not None)
    solved = solve_injected(network, loads, source_angles=True)
    return replace(solved, drives=drives)


def solve_injected(
    network: NodalNetwork, loads: tuple[LoadCurrent, ...], source_angles: bool = False
) -> PlantSolution:
    """The network with given load currents.

    Parameters
    ----------
    network : NodalNetwork
    loads : tuple of LoadCurrent
        Angles against the phase-a fundamental voltage of the bus.
    source_angles : bool
        Angles are against the EMF behind the short-circuit impedance of the bus instead.

    Raises
    ------
    NoSolutionError
        The network cannot supply the loads.
    """
    solver = FlowSolver(network)
    buses = np.array([network.index(load.bus) for load in loads], dtype=int)
    shifts = [network.shift_deg(load.bus) for load in loads]
    own = [sequences_of(load.quantity * load.phases, 0.0) for load in loads]
    behind = [
        network.short_circuit_impedance(load.bus, machines=True) if source_angles else 0.0 for load in loads
    ]
    turns = [sequence_turn(shift) for shift in shifts]
    angles = np.zeros(len(loads))
    for _ in range(ANGLE_ROUNDS):
        drawn = np.zeros((2, MAX_ORDER, len(network.buses)), np.complex128)
        for k, bus in enumerate(buses):
            drawn[:, :, bus] += own[k] * turns[k] * np.exp(1j * STANDARD_ORDERS * angles[k])
        flow = solver.solve(drawn)
        for k, bus in enumerate(buses):
            unit = own[k][POSITIVE, 0] / loads[k].quantity * np.exp(1j * angles[k])
            angles[k] = np.angle(flow.volts[POSITIVE, 0, bus] + behind[k] * unit)
    placed = tuple(
        replace(load, phases=load.phases * np.exp(1j * STANDARD_ORDERS * angle))
        for load, angle in zip(loads, angles, strict=True)
    )
    return PlantSolution(flow, (), placed, False)


def _in_frame(drives: tuple[DriveResult, ...], flow: Flow) -> tuple[LoadCurrent, ...]:
    """Load currents with angles against the nominal voltage of their bus instead of the actual one."""
    loads = []
    for result in drives:
        if result.load is not None:
            bus = flow.network.index(result.drive.bus)
            turn = np.exp(1j * STANDARD_ORDERS * np.angle(flow.volts[POSITIVE, 0, bus]))
            loads.append(replace(result.load, phases=result.load.phases * turn))
    return tuple(loads)
