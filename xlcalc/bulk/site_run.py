"""The drives of one site solved and judged; equal drives are solved once."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Final

import pandas as pd

from xlcalc.bulk.example_rows import notes_on_site_rows
from xlcalc.bulk.problems import Problem, shown
from xlcalc.bulk.site_file import Site
from xlcalc.bulk.stopwatch import Stopwatch
from xlcalc.errors import InputError, NoSolutionError
from xlcalc.network.plausible import check_load, feeding_kva
from xlcalc.progress import Progress
from xlcalc.study.assessed import Assessment
from xlcalc.study.assessment import assess
from xlcalc.study.drives import DriveResult, bus_supplies, solve_drives
from xlcalc.study.pcc import PccOptions, PccResult
from xlcalc.study.plant import Plant
from xlcalc.study.quick_assessment import quick_assessment
from xlcalc.study.solution import PlantSolution, uncoupled_from
from xlcalc.study.solver import Solver
from xlcalc.worksheet.functions.fitting import SITE_TRANSFORMERS, check_totals
from xlcalc.worksheet.functions.plant import options_of, unchecked_plant_of
from xlcalc.worksheet.functions.plant_fields import DRIVES
from xlcalc.worksheet.kinds import Whole

ALIKE = tuple(field.name for field in DRIVES.fields if field.name not in ("tag", "quantity"))
"""Drives that agree in these fields draw the same current."""

MOST_COUPLED_KINDS: Final = 40
"""Kinds of drives up to which a site is coupled unasked."""

SECONDS_PER_KIND: Final = 0.1
"""What coupling takes for each kind of drive, measured with 100 to 500 kinds on two processors."""


class Solution(StrEnum):
    """How the drives of a site are solved."""

    AUTO = "auto"
    """Coupled up to `MOST_COUPLED_KINDS` kinds of drives, the quick estimate above."""
    COUPLED = "coupled"
    QUICK = "quick"


@dataclass(frozen=True, kw_only=True)
class SiteRun:
    """What a site gives.

    Parameters
    ----------
    site : Site
        The site.
    options : PccOptions
        Where and how it is judged.
    coupled : bool
        Whether the verdict rests on the coupled solution; otherwise there is the quick estimate only.
    results : tuple of DriveResult
        One per kind of drive as it runs in the plant; its quantity is that of all rows of the kind.
    alone : tuple of DriveResult
        The same kinds, each as if alone on its bus.
    kind_of_row : Series of int
        Index in `results` of every solved row.
    assessment : Assessment
        Of the drives that have a solution.
    buses : mapping of bus to PccResult
        Currents and voltages at every bus that carries current.
    problems : tuple of Problem
        Rows whose values do not fit their bus, which are in no sum.
    """

    site: Site
    options: PccOptions
    coupled: bool
    results: tuple[DriveResult, ...]
    alone: tuple[DriveResult, ...]
    kind_of_row: pd.Series[int]
    assessment: Assessment
    buses: dict[str, PccResult]
    problems: tuple[Problem, ...] = ()


def run_site(
    site: Site,
    rows: pd.DataFrame,
    progress: Progress | None = None,
    clock: Stopwatch | None = None,
    *,
    solution: Solution = Solution.AUTO,
    coupling: Callable[[str, int], None] | None = None,
) -> SiteRun:
    """Solve and judge the accepted rows of a site.

    Parameters
    ----------
    site : Site
        The site.
    rows : DataFrame
        Accepted rows, as `Schedule.accepted`.
    progress : callable, optional
        Called with the kinds of drives solved and their number.
    clock : Stopwatch, optional
        Takes the stages solve and couple.
    solution : Solution
        Whether drives and network are coupled.
    coupling : callable, optional
        Called with the name of the site and the kinds of drives solved so far to couple it.

    Raises
    ------
    InputError
        A value of the site does not fit the others.
    """
    clock = clock or Stopwatch()
    with clock.stage("solve"):
        records, numbers = kinds_of(rows)
        plant = unchecked_plant_of(records, site.site, site.settings)
        fits, problems = fitting(plant, numbers)
        notes = notes_on_site_rows(site.site, rows)
        drives = tuple(plant.drives[k] for k in fits)
        kept = replace(plant, drives=drives, remarks=notes.remarks, doubts=notes.doubts)
        check_totals(kept.network, drawn_kw(kept), SITE_TRANSFORMERS.__getitem__)
        alone = solve_drives(kept, progress)
    coupled = solution is Solution.COUPLED or (
        solution is Solution.AUTO
        and len(fits) <= MOST_COUPLED_KINDS
        and site.settings["solution"] == "coupled"
    )
    with clock.stage("couple" if coupled else "add up"):
        judged = _Judged(site, kept, alone, Solver(_counting(coupling, site.name, len(fits))))
        assessment, results, buses = judged.coupled() if coupled else judged.quick(solution)
    place = {k: position for position, k in enumerate(fits)}
    return SiteRun(
        site=site,
        options=options_of(site.site, site.settings),
        coupled=coupled,
        results=results,
        alone=alone,
        kind_of_row=numbers[numbers.isin(fits)].map(place),
        assessment=assessment,
        buses=buses,
        problems=tuple(problems),
    )


def _counting(
    coupling: Callable[[str, int], None] | None, site: str, kinds: int
) -> Callable[[int], None] | None:
    """Progress of a solver in kinds of drives; it counts solutions of all of them, state by state."""
    if coupling is None:
        return None
    done = 0

    def solved(_: int) -> None:
        nonlocal done
        done += kinds
        coupling(site, done)

    return solved


def kinds_of(rows: pd.DataFrame) -> tuple[list[dict[str, Any]], pd.Series[int]]:
    """Kinds of drives as the plant functions take them, and the kind of every row.

    A kind goes by the tag of its first row, and the number of rows that are like it.
    """
    kinds = rows.groupby(list(ALIKE), sort=False, dropna=False)
    records = kind_records(kinds["quantity"].sum().reset_index())
    named = zip(kinds["tag"].first(), kinds.size(), strict=True)
    for record, (tag, count) in zip(records, named, strict=True):
        record["tag"] = f"{tag} and {count - 1} like it" if count > 1 else str(tag)
    return records, kinds.ngroup()


def kind_records(kinds: pd.DataFrame) -> list[dict[str, Any]]:
    """Values of kinds of drives as the plant functions take them, each with a tag of its own."""
    whole = {field.name for field in DRIVES.fields if isinstance(field.kind, Whole)}
    return [
        {
            "tag": f"kind {number}",
            **{str(name): int(value) if name in whole else value for name, value in record.items()},
        }
        for number, record in enumerate(kinds.to_dict("records"))
    ]


def fitting(plant: Plant, numbers: pd.Series[int]) -> tuple[list[int], list[Problem]]:
    """Kinds that their bus can feed, and a problem for every row of the others."""
    fits, problems = [], []
    supplies, feeding = bus_supplies(plant), feeding_kva(plant.network)
    for k, drive in enumerate(plant.drives):
        try:
            kilo = drive.rated_watts / 1e3
            check_load(f"link power of drive {drive.tag}", kilo, "kW", kilo, feeding[drive.bus])
            supplies[drive.bus].feeding(drive)
        except InputError as problem:
            name = problem.argument.removesuffix(f" of drive {drive.tag}")
            problems += [
                Problem(int(row), f"{name} at its bus", shown(problem.value), problem.valid)
                for row in numbers.index[numbers == k]
            ]
        else:
            fits.append(k)
    return fits, problems


def drawn_kw(plant: Plant) -> list[tuple[str, float]]:
    """Bus and power of every drive, all units together."""
    return [(d.bus, d.quantity * d.rated_watts * d.front_end.load_pct / 1e5) for d in plant.drives]


Outcome = tuple[Assessment, tuple[DriveResult, ...], dict[str, PccResult]]


@dataclass(frozen=True, eq=False)
class _Judged:
    """A site with its kinds of drives, each solved alone."""

    site: Site
    plant: Plant
    alone: tuple[DriveResult, ...]
    solver: Solver

    def coupled(self) -> Outcome:
        """Coupled; where a kind has no stable state alone and all together have none, the others of them."""
        assessment = self._assessed(self.plant)
        unstable = [result for result in self.alone if not result.stable]
        if assessment.states:
            return self._shown(assessment, self.plant)
        if unstable:
            why = "; ".join(f"drive {result.drive.tag}: {result.reason}" for result in unstable)
            others = self._assessed(self._stable)
            doubted = replace(others, judgement=others.judgement.doubted(why))
            return self._shown(doubted, self._stable)
        return assessment, self.alone, {}

    def quick(self, solution: Solution) -> Outcome:
        """The quick estimate of the kinds that have a stable state alone, without a verdict."""
        kinds = len(self.plant.drives)
        seconds = max(1.0, float(f"{SECONDS_PER_KIND * kinds:.1g}"))
        doubt = f"quick estimate only; --solution coupled judges it ({kinds} kinds, about {seconds:.0f} s)"
        if solution is not Solution.AUTO or kinds <= MOST_COUPLED_KINDS:
            doubt = "quick estimate only, as asked for; the coupled solution judges"
        plant = self._stable
        stable = tuple(result for result in self.alone if result.stable)
        with contextlib.suppress(NoSolutionError):
            self.solver.know(plant, quick=uncoupled_from(plant, stable))
        largest = self.site.settings["demand amps estimated"] or None
        assessment = quick_assessment(plant, self._options, doubt, largest_amps=largest, solver=self.solver)
        if assessment.pcc is None:
            return assessment, self.alone, {}
        return assessment, self.alone, self._buses(self.solver.quick(plant))

    @property
    def _options(self) -> PccOptions:
        return options_of(self.site.site, self.site.settings)

    @property
    def _stable(self) -> Plant:
        return replace(self.plant, drives=tuple(r.drive for r in self.alone if r.stable))

    def _assessed(self, plant: Plant) -> Assessment:
        settings = self.site.settings
        return assess(
            plant,
            self._options,
            supply=settings["supply"] or "",
            largest_amps=settings["demand amps estimated"] or None,
            solver=self.solver,
        )

    def _shown(self, assessment: Assessment, plant: Plant) -> Outcome:
        """With the drives as they run in the plant as it was given."""
        solution = assessment.states[0].solution if assessment.states else None
        if solution is None:
            return assessment, self.alone, {}
        running = dict(zip((drive.tag for drive in plant.drives), solution.drives, strict=True))
        results = tuple(running.get(result.drive.tag, result) for result in self.alone)
        return assessment, results, self._buses(solution)

    def _buses(self, solution: PlantSolution) -> dict[str, PccResult]:
        sums: dict[str, PccResult] = {}
        for bus in solution.network.buses:
            with contextlib.suppress(NoSolutionError):
                sums[bus] = solution.pcc(replace(self._options, pcc=bus, demand_amps=None))
        return sums
