"""The drives of a network of buses, coupled and judged case by case."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from xlcalc.bulk.assessed_kinds import AssessedKinds, Coupling, Kinds, counting
from xlcalc.bulk.example_rows import notes_on_plant_rows
from xlcalc.bulk.plant_file import PlantSite
from xlcalc.bulk.problems import Problem
from xlcalc.bulk.site_run import drawn_kw, fitting, kinds_of
from xlcalc.bulk.stopwatch import Stopwatch
from xlcalc.errors import NoSolutionError
from xlcalc.network.nodal import NodalNetwork
from xlcalc.progress import Progress
from xlcalc.study.demand import largest_amps
from xlcalc.study.drives import DriveResult, solve_drives
from xlcalc.study.pcc import PccOptions, PccResult
from xlcalc.study.plant import Plant
from xlcalc.study.solver import Solver
from xlcalc.study.sources import Summation
from xlcalc.worksheet.functions.drive_settings import front_end_values
from xlcalc.worksheet.functions.fitting import check_totals, meant_buses_of_plant
from xlcalc.worksheet.functions.network_study import network_of
from xlcalc.worksheet.functions.plant import drive_of

Values = Mapping[str, Any]


@dataclass(frozen=True, kw_only=True, eq=False)
class CaseRun:
    """One case of a plant.

    Parameters
    ----------
    name : str
        Of the case.
    settings : mapping
        Of the functions of plants in this case.
    network : NodalNetwork
        What is in service.
    kinds : AssessedKinds
        One per kind of drive that has supply, its quantity that of all rows; judged at every PCC with supply.
    kind_of_row : Series of int
        Index in `kinds.results` of every solved row.
    off_rows : Index of int
        Rows whose bus is out of service or without supply.
    problems : tuple of Problem
        Rows whose values do not fit their bus, which are in no sum.
    """

    name: str
    settings: Values
    network: NodalNetwork
    kinds: AssessedKinds
    kind_of_row: pd.Series[int]
    off_rows: pd.Index[int]
    problems: tuple[Problem, ...] = ()

    def at(self, bus: str) -> PccResult | None:
        """Currents and voltages at a bus; None without supply or a solution."""
        solution = self.kinds.solution
        if solution is None or bus not in solution.network.buses:
            return None
        with contextlib.suppress(NoSolutionError):
            return solution.pcc(replace(_point(bus, self.settings), demand_amps=1.0))
        return None


@dataclass(frozen=True, eq=False)
class PlantRun:
    """All cases of a plant."""

    site: PlantSite
    cases: tuple[CaseRun, ...]

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Each row and column once, whatever the case."""
        return tuple(dict.fromkeys(problem for case in self.cases for problem in case.problems))


def run_plant(
    site: PlantSite,
    rows: pd.DataFrame,
    progress: Progress | None = None,
    coupling: Coupling | None = None,
    clock: Stopwatch | None = None,
) -> PlantRun:
    """Solve the accepted rows of a plant in every case.

    Parameters
    ----------
    site, rows, progress, clock
        As `xlcalc.bulk.site_run.run_site`; the clock takes the stages solve and couple.
    coupling : callable, optional
        Called with the name of a case and the kinds of drives solved so far to couple it, each of them
        once in every iteration.

    Raises
    ------
    InputError
        The network of a case does not hold together.
    """
    clock = clock or Stopwatch()
    with clock.stage("solve"):
        states = [_state(site, name, rows, progress) for name in site.cases]
    with clock.stage("couple"):
        solvers = [Solver(counting(coupling, state.name, len(state.plant.drives))) for state in states]
        largest = {bus: _largest(states, solvers, bus) for bus in site.pcc_buses}
        runs = [_judged(site, state, solver, largest) for state, solver in zip(states, solvers, strict=True)]
    return PlantRun(site, tuple(runs))


@dataclass(frozen=True, kw_only=True, eq=False)
class _State:
    """A case before it is coupled."""

    name: str
    settings: Values
    network: NodalNetwork
    plant: Plant
    alone: tuple[DriveResult, ...]
    kind_of_row: pd.Series[int]
    off_rows: pd.Index[int]
    problems: tuple[Problem, ...]


def _state(site: PlantSite, name: str, rows: pd.DataFrame, progress: Progress | None) -> _State:
    settings = site.cases[name]
    network = network_of(site.tables, settings)
    supplied = rows["bus"].isin(network.buses)
    records, numbers = kinds_of(rows[supplied])
    values = front_end_values(settings)
    placed = Plant(network, tuple(drive_of(r, values) for r in records))
    fits, problems = fitting(placed, numbers, meant_buses_of_plant(site.tables))
    notes = notes_on_plant_rows(site.tables, rows)
    drives = tuple(drive_of(records[k], values) for k in fits)
    plant = Plant(network, drives, remarks=notes.remarks, doubts=notes.doubts)
    check_totals(network, drawn_kw(plant))
    place = {k: position for position, k in enumerate(fits)}
    return _State(
        name=name,
        settings=settings,
        network=network,
        plant=plant,
        alone=solve_drives(plant, progress),
        kind_of_row=numbers[numbers.isin(fits)].map(place),
        off_rows=rows.index[~supplied],
        problems=tuple(problems),
    )


def _judged(site: PlantSite, state: _State, solver: Solver, largest: Mapping[str, float | None]) -> CaseRun:
    buses = site.pccs_in(state.network)
    points = [replace(_point(bus, state.settings), demand_amps=_demand(site, bus)) for bus in buses]
    amps = {bus: largest.get(bus) for bus in buses}
    kinds = Kinds(state.plant, state.alone, state.settings["supply"] or "", solver, amps)
    return CaseRun(
        name=state.name,
        settings=state.settings,
        network=state.network,
        kinds=kinds.coupled(points),
        kind_of_row=state.kind_of_row,
        off_rows=state.off_rows,
        problems=state.problems,
    )


def _largest(states: Sequence[_State], solvers: Sequence[Solver], bus: str) -> float | None:
    """The largest fundamental at a PCC over all cases, A: there is one demand current for all of them."""
    found = [
        largest_amps([state.plant], _point(bus, state.settings), solver.coupled)
        for state, solver in zip(states, solvers, strict=True)
    ]
    return max((amps for amps in found if amps is not None), default=None)


def _point(bus: str, settings: Values) -> PccOptions:
    return PccOptions(bus, settings["edition"], None, Summation(settings["summation"]))


def _demand(site: PlantSite, bus: str) -> float | None:
    return next((row["demand amps"] for row in site.tables["buses"] if row["name"] == bus), None)
