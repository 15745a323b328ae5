"""The coupled plant with sources beside the bridges: residual spectra, and filters that follow the drives."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from xlcalc.core.spectrum import MAX_ORDER, ComplexArray
from xlcalc.mitigation.milp.currents import current_arriving, transfer_ratio
from xlcalc.mitigation.offer.drive_options import ActiveFilter, FilterPlace
from xlcalc.network.flow import Flow, FlowSolver, phases_in_frame, sequences_of
from xlcalc.network.nodal import NodalNetwork
from xlcalc.studies.coupled.coupling import ALONE, SHARED, CoupledPlant, DriveGroup, ImpedanceSplit, grouped
from xlcalc.studies.coupled.iteration import iterate
from xlcalc.studies.plant import ScheduledDrive
from xlcalc.studies.solution import PlantSolution, solve_injected
from xlcalc.studies.sources import LoadCurrent

ActiveFilters = Mapping[str, tuple[FilterPlace, ActiveFilter]]


@dataclass(frozen=True, eq=False)
class CoupledCase:
    """A coupled solution, and what each filter compensates in it, A rms by bus."""

    solution: PlantSolution
    compensated: Mapping[str, float]


def left_of(load: LoadCurrent, active_filters: ActiveFilters) -> LoadCurrent:
    """What a filter on the load's own bus leaves of its current."""
    if load.bus not in active_filters or load.bus not in active_filters[load.bus][0].covered:
        return load
    return replace(load, phases=load.phases * (1.0 - active_filters[load.bus][1].taken))


def injected(
    network: NodalNetwork, loads: Iterable[LoadCurrent], active_filters: ActiveFilters
) -> list[LoadCurrent]:
    """What each filter injects against loads of other buses."""
    found = []
    for bus, (place, choice) in active_filters.items():
        total: ComplexArray = np.zeros((3, MAX_ORDER), np.complex128)
        for load in loads:
            if load.bus in place.covered and load.bus != bus:
                total = total + current_arriving(network, load, bus)
        if np.any(total):
            found.append(LoadCurrent(choice.name, bus, -choice.taken * total))
    return found


def solve_with_sources(
    network: NodalNetwork,
    drives: tuple[ScheduledDrive, ...],
    fixed: tuple[LoadCurrent, ...],
    active_filters: ActiveFilters,
) -> CoupledCase:
    """The coupled solution of bridges, given currents and filters.

    Parameters
    ----------
    network : NodalNetwork
    drives : tuple of ScheduledDrive
        Bridges that the engine solves on the voltage which they distort.
    fixed : tuple of LoadCurrent
        Currents that the voltage does not change but in angle.
    active_filters : mapping
        Filters by bus: each takes its part of what passes from the buses it covers.

    Raises
    ------
    NoSolutionError
        A drive has no solution, or the network cannot supply the loads.
    """
    placed = solve_injected(network, fixed).loads if fixed else ()
    sources = _Sources(network, placed, active_filters)
    groups = grouped(drives)
    if not groups:
        flow = _FilteredSolver(network, sources.left).solve(sources.drawn(()))
        return CoupledCase(PlantSolution(flow, (), placed, True), sources.compensated(()))
    plant = _PlantWithSources(network, groups, sources)
    currents, flow, convergence = iterate(plant)
    loads = tuple(
        left_of(
            LoadCurrent(group.tags, group.bus, phases_in_frame(currents[k], 0.0), group.units), active_filters
        )
        for k, group in enumerate(groups)
    )
    solution = PlantSolution(
        flow, (), (*loads, *(left_of(load, active_filters) for load in placed)), True, convergence
    )
    return CoupledCase(solution, sources.compensated(plant.by_bus(currents)))


ByBus = Sequence[tuple[str, ComplexArray]]
"""Bus and current of both sequences in the frame of the utility, shape (2, 50)."""


@dataclass(frozen=True, eq=False)
class _Sources:
    """Given currents, and filters that follow them and what else is drawn."""

    network: NodalNetwork
    fixed: tuple[LoadCurrent, ...]
    active_filters: ActiveFilters

    def drawn(self, bridges: ByBus) -> ComplexArray:
        """Currents of everything at every bus ahead of the filters, shape (2, 50, buses)."""
        total: ComplexArray = np.zeros((2, MAX_ORDER, len(self.network.buses)), np.complex128)
        for bus, common in (*bridges, *self._given):
            total[:, :, self.network.index(bus)] += common
        return total

    @cached_property
    def left(self) -> ComplexArray:
        """By order what remains drawn at each bus per ampere at each other one, shape (50, buses, buses)."""
        count = len(self.network.buses)
        share: ComplexArray = np.tile(np.eye(count, dtype=np.complex128), (MAX_ORDER, 1, 1))
        for bus, (place, choice) in self.active_filters.items():
            for source in place.covered:
                if source in self.network.buses:
                    taken = choice.taken * transfer_ratio(self.network, bus, source)
                    share[:, self.network.index(bus), self.network.index(source)] -= taken
        return share

    def compensated(self, bridges: ByBus) -> dict[str, float]:
        """rms current of each filter in its worst phase, A, by bus."""
        return {
            bus: float(np.linalg.norm(phases_in_frame(taken, self.network.shift_deg(bus)), axis=1).max())
            for bus, taken in self._taken(bridges)
        }

    @cached_property
    def _given(self) -> ByBus:
        return [
            (load.bus, sequences_of(load.quantity * load.phases, self.network.shift_deg(load.bus)))
            for load in self.fixed
        ]

    def _taken(self, bridges: ByBus) -> ByBus:
        found = []
        for bus, (place, choice) in self.active_filters.items():
            total: ComplexArray = np.zeros((2, MAX_ORDER), np.complex128)
            for source, common in (*bridges, *self._given):
                if source in place.covered:
                    total = total + common * transfer_ratio(self.network, bus, source)
            found.append((bus, choice.taken * total))
        return found


class _FilteredSolver(FlowSolver):
    """The network with active filters, which follow what is drawn: one linear whole."""

    def __init__(self, network: NodalNetwork, left: ComplexArray) -> None:
        super().__init__(network)
        self._left = left
        self.impedance = np.asarray(self.impedance @ left, np.complex128)

    def solve(self, drawn: ComplexArray) -> Flow:
        flow = super().solve(drawn)
        return replace(flow, drawn=np.asarray(np.einsum("hab,shb->sha", self._left, drawn), np.complex128))


class _PlantWithSources(CoupledPlant):
    def __init__(self, network: NodalNetwork, groups: tuple[DriveGroup, ...], sources: _Sources) -> None:
        self._sources = sources
        self._filtered = _FilteredSolver(network, sources.left)
        super().__init__(network, groups)
        self.solver = self._filtered

    @property
    def splits(self) -> tuple[ImpedanceSplit, ...]:
        """A mix of front ends draws currents of many angles, which hardly swing in step."""
        return ALONE, SHARED

    def flow(self, currents: ComplexArray) -> Flow:
        return self._filtered.solve(self._sources.drawn(self.by_bus(currents)))

    def by_bus(self, currents: ComplexArray) -> ByBus:
        return [
            (group.bus, currents[k] * self.turn[k] * self.units[k]) for k, group in enumerate(self.groups)
        ]
