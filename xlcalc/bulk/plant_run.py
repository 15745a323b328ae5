"""The drives of a network of buses solved case by case: each alone on its bus, and all of them coupled."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import pandas as pd

from xlcalc.bulk.example_rows import notes_on_plant_rows
from xlcalc.bulk.plant_file import PlantSite
from xlcalc.bulk.problems import Problem
from xlcalc.bulk.site_run import ALIKE, drawn_kw, fitting, kind_records
from xlcalc.bulk.stopwatch import Stopwatch
from xlcalc.errors import NoSolutionError
from xlcalc.network.nodal import NodalNetwork
from xlcalc.progress import Progress
from xlcalc.study.drives import DriveResult, solve_drives
from xlcalc.study.pcc import PccOptions, PccResult
from xlcalc.study.plant import Plant
from xlcalc.study.solution import PlantSolution, solve_coupled, uncoupled_from
from xlcalc.study.sources import Summation
from xlcalc.worksheet.functions.drive_settings import front_end_values
from xlcalc.worksheet.functions.fitting import check_totals
from xlcalc.worksheet.functions.network_study import network_of
from xlcalc.worksheet.functions.plant import drive_of
from xlcalc.worksheet.functions.shipped_examples import Notes

Values = Mapping[str, Any]
Coupling = Callable[[str, int], None]


@dataclass(frozen=True, eq=False)
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
    results : tuple of DriveResult
        One per kind of drive that has supply, solved alone on its bus; its quantity is that of all rows.
    kind_of_row : Series of int
        Index in `results` of every solved row.
    off_rows : Index of int
        Rows whose bus is out of service or without supply.
    uncoupled, coupled : PlantSolution or None
        Of the kinds with a stable solution; None where there is none.
    reason : str
        Why a solution is missing.
    coupled_kinds : mapping of int to DriveResult
        Kinds as the coupled solution has them.
    problems : tuple of Problem
        Rows whose values do not fit their bus, which are in no sum.
    notes : Notes
        What a reader of the verdicts must know of the inputs.
    """

    name: str
    settings: Values
    network: NodalNetwork
    results: tuple[DriveResult, ...]
    kind_of_row: pd.Series[int]
    off_rows: pd.Index[int]
    uncoupled: PlantSolution | None
    coupled: PlantSolution | None
    reason: str
    coupled_kinds: Mapping[int, DriveResult]
    problems: tuple[Problem, ...] = ()
    notes: Notes = field(default_factory=Notes)

    def pcc_buses(self, site: PlantSite) -> tuple[str, ...]:
        """Where this case is judged: the PCCs that have supply, else the bus of what feeds the plant."""
        return site.pccs_in(self.network)

    def pcc(self, solution: PlantSolution | None, site: PlantSite, bus: str) -> PccResult | None:
        """A bus judged as the PCC; None where it has no supply, no current or no solution."""
        demand = next(row["demand amps"] for row in site.tables["buses"] if row["name"] == bus)
        return self.judged(solution, bus, demand)

    def judged(self, solution: PlantSolution | None, bus: str, demand_amps: float | None) -> PccResult | None:
        """The same with a demand current given."""
        if solution is None or bus not in solution.network.buses:
            return None
        summation = Summation(self.settings["summation"])
        try:
            return solution.pcc(PccOptions(bus, self.settings["edition"], demand_amps, summation))
        except NoSolutionError:
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
    return PlantRun(site, tuple(_case(site, name, rows, progress, coupling, clock) for name in site.cases))


def _case(
    site: PlantSite,
    name: str,
    rows: pd.DataFrame,
    progress: Progress | None,
    coupling: Coupling | None,
    clock: Stopwatch,
) -> CaseRun:
    settings = site.cases[name]
    with clock.stage("solve"):
        network = network_of(site.tables, settings)
        supplied = rows["bus"].isin(network.buses)
        off_rows, running = rows.index[~supplied], rows[supplied]
        kinds = running.groupby(list(ALIKE), sort=False, dropna=False)
        numbers = kinds.ngroup()
        records = kind_records(kinds["quantity"].sum().reset_index())
        values = front_end_values(settings)
        fits, problems = fitting(Plant(network, tuple(drive_of(r, values) for r in records)), numbers)
        notes = notes_on_plant_rows(site.tables, rows)
        drives = tuple(drive_of(records[k], values) for k in fits)
        plant = Plant(network, drives, remarks=notes.remarks, doubts=notes.doubts)
        check_totals(network, drawn_kw(plant))
        results = solve_drives(plant, progress)
        stable = [k for k, result in enumerate(results) if result.stable]
        sound = replace(plant, drives=tuple(plant.drives[k] for k in stable))
    uncoupled, coupled, reason = None, None, ""
    with clock.stage("couple"):
        try:
            uncoupled = uncoupled_from(sound, tuple(results[k] for k in stable))
            coupled = solve_coupled(
                sound, progress=coupling and (lambda rounds: coupling(name, rounds * len(sound.drives)))
            )
            coupled.require()
        except NoSolutionError as problem:
            coupled, reason = None, str(problem)
    place = {k: position for position, k in enumerate(fits)}
    return CaseRun(
        name,
        settings,
        network,
        results,
        numbers[numbers.isin(fits)].map(place),
        off_rows,
        uncoupled,
        coupled,
        reason,
        dict(zip(stable, coupled.drives, strict=True)) if coupled else {},
        tuple(problems),
        notes,
    )
