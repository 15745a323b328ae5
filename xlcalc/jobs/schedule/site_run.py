"""The drives of a site solved and judged case by case; equal drives are solved once."""

from __future__ import annotations

import contextlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.progress import Progress, Stopwatch
from xlcalc.io.lists.problems import RowError, shown
from xlcalc.io.plants.site import DriveSite, Values
from xlcalc.jobs.schedule.assessed_kinds import AssessedKinds, Coupling, Kinds, counting
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.plausible import check_drive_bus, check_load, feeding_kva
from xlcalc.schema.assembly.case_loads import load_in_case
from xlcalc.schema.assembly.drive import drive_of
from xlcalc.schema.assembly.fitting import check_totals
from xlcalc.schema.assembly.front_end import front_end_values, isolation_remarks
from xlcalc.schema.assembly.nameplate import with_unknowns
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.kinds import Whole
from xlcalc.schema.nameplate import COLUMN as NAMEPLATE
from xlcalc.schema.nameplate import with_words
from xlcalc.studies.drives import DriveResult, bus_supplies, solve_drives
from xlcalc.studies.pcc import PccOptions, PccResult
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solver import Solver
from xlcalc.studies.verdict.demand import largest_amps

if TYPE_CHECKING:
    from pandas.core.groupby import DataFrameGroupBy

ALIKE = (*(field.name for field in DRIVES.fields if field.name not in ("tag", "quantity")), NAMEPLATE)
"""Drives that agree in these fields draw the same current."""

MOST_COUPLED_KINDS: Final = 30
"""Kinds of drives up to which a site is coupled unasked: about 2 s on two idle processors, three times that
where an assumed supply is judged too."""

SECONDS_PER_KIND: Final = 0.2
"""What coupling takes for each kind of drive, supply as given and assumed, measured with 15 to 200 kinds."""


class Solution(StrEnum):
    """How the drives of a site are solved."""

    AUTO = "auto"
    """Coupled up to `MOST_COUPLED_KINDS` kinds of drives, the quick estimate above."""
    COUPLED = "coupled"
    QUICK = "quick"


@dataclass(frozen=True, kw_only=True, eq=False)
class CaseRun:
    """One case of a site.

    Parameters
    ----------
    name : str
        Of the case; blank where the site has no cases.
    network : NodalNetwork
        What is in service.
    points : tuple of PccOptions
        Where and how it is judged, each of them with supply.
    kinds : AssessedKinds
        One per kind of drive that has supply, its quantity that of all rows of the kind.
    kind_of_row : Series of int
        Index in `kinds.results` of every solved row.
    off_rows : Index of int
        Rows that stand still, or whose bus is out of service or without supply.
    problems : tuple of RowError
        Rows whose values do not fit their bus, which are in no sum.
    """

    name: str
    network: NodalNetwork
    points: tuple[PccOptions, ...]
    kinds: AssessedKinds
    kind_of_row: pd.Series[int]
    off_rows: pd.Index[int]
    problems: tuple[RowError, ...] = ()

    def at(self, bus: str) -> PccResult | None:
        """Currents and voltages at a bus, for a demand current of 1 A; None without supply or a solution."""
        solution = self.kinds.solution
        if solution is None or bus not in solution.network.buses:
            return None
        with contextlib.suppress(NoSolutionError):
            return solution.pcc(replace(self.points[0], pcc=bus, demand_amps=1.0))
        return None


@dataclass(frozen=True, eq=False)
class SiteRun:
    """All cases of a site."""

    site: DriveSite
    cases: tuple[CaseRun, ...]

    @property
    def problems(self) -> tuple[RowError, ...]:
        """Each row and column once, whatever the case."""
        return tuple(dict.fromkeys(problem for case in self.cases for problem in case.problems))


def run_site(
    site: DriveSite,
    rows: pd.DataFrame,
    progress: Progress | None = None,
    clock: Stopwatch | None = None,
    *,
    solution: Solution = Solution.AUTO,
    coupling: Coupling | None = None,
) -> SiteRun:
    """Solve and judge the accepted rows of a site in every case.

    Parameters
    ----------
    site : DriveSite
        One supply with its transformers, or a network of buses.
    rows : DataFrame
        Accepted rows, as `Schedule.accepted`.
    progress : callable, optional
        Called with the kinds of drives solved and their number.
    clock : Stopwatch, optional
        Takes the stages solve, and couple or add up.
    solution : Solution
        Whether drives and network are coupled.
    coupling : callable, optional
        Called with the name of the case, or of a site without cases, and the kinds of drives solved so far
        to couple it, each of them once in every iteration.

    Raises
    ------
    InputError
        A value of the site does not fit the others.
    """
    clock = clock or Stopwatch()
    with clock.stage("solve"):
        states = [_state(site, name, rows, progress) for name in site.cases]
    judging = [site.always_coupled or state.is_coupled(solution) for state in states]
    with clock.stage("couple" if any(judging) else "add up"):
        solvers = [
            Solver(counting(coupling, state.name or site.name, len(state.plant.drives))) for state in states
        ]
        largest = _largest(states, solvers) if len(states) > 1 else {}
        runs = [
            _judged(state, solver, largest, "" if coupled else state.doubt(solution))
            for state, solver, coupled in zip(states, solvers, judging, strict=True)
        ]
    return SiteRun(site, tuple(runs))


@dataclass(frozen=True, kw_only=True, eq=False)
class _State:
    """A case before it is judged."""

    name: str
    settings: Values
    points: tuple[PccOptions, ...]
    plant: StudiedPlant
    alone: tuple[DriveResult, ...]
    kind_of_row: pd.Series[int]
    off_rows: pd.Index[int]
    problems: tuple[RowError, ...]

    def is_coupled(self, solution: Solution) -> bool:
        """Whether drives and network are coupled where that is not always so."""
        few = len(self.plant.drives) <= MOST_COUPLED_KINDS
        return solution is Solution.COUPLED or (self._asks(solution) and few)

    def doubt(self, solution: Solution) -> str:
        """Why a quick estimate does not judge."""
        if not self._asks(solution):
            return "quick estimate only, as asked for; the coupled solution judges"
        kinds = len(self.plant.drives)
        seconds = max(1.0, float(f"{SECONDS_PER_KIND * kinds:.1g}"))
        return f"quick estimate only; --solution coupled judges it ({kinds} kinds, about {seconds:.0f} s)"

    def _asks(self, solution: Solution) -> bool:
        return self.settings["solution"] == "coupled" and solution is not Solution.QUICK


def _state(site: DriveSite, name: str, rows: pd.DataFrame, progress: Progress | None) -> _State:
    settings = site.cases[name]
    network = site.network_in(settings)
    rows, running = _in_case(site.on_common_bus(rows), settings)
    supplied = rows["bus"].isin(network.buses) & running
    records, numbers = kinds_of(rows[supplied])
    values = front_end_values(settings)
    placed = StudiedPlant(network, tuple(drive_of(record, values, network) for record in records))
    fits, problems = fitting(placed, numbers, site.meant)
    notes = site.notes_on(rows)
    drives = tuple(placed.drives[k] for k in fits)
    isolation = isolation_remarks(drive.front_end for drive in drives)
    plant = StudiedPlant(network, drives, remarks=(*notes.remarks, *isolation), doubts=notes.doubts)
    plant = with_unknowns(plant, records, settings)
    check_totals(network, plant.drawn_kw, site.rating_input)
    place = {k: position for position, k in enumerate(fits)}
    return _State(
        name=name,
        settings=settings,
        points=site.points_in(settings, network),
        plant=plant,
        alone=solve_drives(plant, progress),
        kind_of_row=numbers[numbers.isin(fits)].map(place),
        off_rows=rows.index[~supplied],
        problems=tuple(problems),
    )


def _in_case(rows: pd.DataFrame, settings: Values) -> tuple[pd.DataFrame, pd.Series[bool]]:
    """Rows with their load in a case, and which of them run; a site of one supply has its schedule only."""
    if "drive load pct" not in settings:
        return rows, pd.Series(True, rows.index)
    scheduled = dict(zip(rows["tag"].astype(str), rows["load pct"].astype(float), strict=True))
    loads = rows["tag"].astype(str).map(load_in_case(scheduled, settings)).astype(float)
    return rows.assign(**{"load pct": loads.fillna(rows["load pct"])}), loads.notna()


def _judged(state: _State, solver: Solver, largest: Mapping[str, float | None], doubt: str) -> CaseRun:
    """The case judged, or estimated without a verdict where there is a doubt."""
    amps = {point.pcc: largest.get(point.pcc) for point in state.points}
    kinds = Kinds(state.plant, state.alone, state.settings["supply"] or "", solver, amps)
    return CaseRun(
        name=state.name,
        network=state.plant.network,
        points=state.points,
        kinds=kinds.quick(state.points, doubt) if doubt else kinds.coupled(state.points),
        kind_of_row=state.kind_of_row,
        off_rows=state.off_rows,
        problems=state.problems,
    )


def _largest(states: Sequence[_State], solvers: Sequence[Solver]) -> dict[str, float | None]:
    """The largest fundamental at each PCC over the cases that judge it, A: they have one demand current."""
    found: dict[str, float | None] = {}
    for state, solver in zip(states, solvers, strict=True):
        for point in state.points:
            flows = largest_amps([state.plant], point, solver.coupled)
            found[point.pcc] = max(filter(None, (flows, found.get(point.pcc))), default=None)
    return found


def kinds_of(rows: pd.DataFrame) -> tuple[list[dict[str, Any]], pd.Series[int]]:
    """Kinds of drives as the plant functions take them, and the kind of every row.

    A kind goes by the tag of its first row, and the number of rows that are like it.
    """
    kinds = rows.groupby(list(ALIKE), sort=False, dropna=False)
    return kind_records(kinds), kinds.ngroup()


def kind_records(kinds: DataFrameGroupBy[Any, Any]) -> list[dict[str, Any]]:
    """Kinds of drives as the plant functions take them, by the tag of the first row and their number."""
    whole = {field.name for field in DRIVES.fields if isinstance(field.kind, Whole)}
    named = zip(kinds["tag"].first(), kinds.size(), strict=True)
    values = kinds["quantity"].sum().reset_index().to_dict("records")
    return [
        {
            "tag": f"{tag} and {count - 1} like it" if count > 1 else str(tag),
            **with_words(
                {str(name): int(value) if name in whole else value for name, value in record.items()}
            ),
        }
        for (tag, count), record in zip(named, values, strict=True)
    ]


def fitting(
    plant: StudiedPlant, numbers: pd.Series[int], meant: Collection[str]
) -> tuple[list[int], list[RowError]]:
    """Kinds that their bus can feed, and a problem for every row of the others; `meant` as `check_drives`."""
    fits, problems = [], []
    supplies, feeding = bus_supplies(plant), feeding_kva(plant.network)
    for k, drive in enumerate(plant.drives):
        try:
            kilo = drive.rated_watts / 1e3
            check_load(f"link power of drive {drive.tag}", kilo, "kW", kilo, feeding[drive.bus])
            if drive.bus not in meant:
                check_drive_bus(
                    f"bus of drive {drive.tag}", drive.bus, kilo, plant.network.volts(drive.bus) / 1e3
                )
            supplies[drive.bus].feeding(drive)
        except InputError as problem:
            name = problem.argument.removesuffix(f" of drive {drive.tag}")
            problems += [
                RowError(int(row), f"{name} at its bus", shown(problem.value), problem.valid)
                for row in numbers.index[numbers == k]
            ]
        else:
            fits.append(k)
    return fits, problems
