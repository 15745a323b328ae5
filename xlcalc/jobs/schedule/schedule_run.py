"""A schedule from file to result tables."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from xlcalc.core.errors import InputError
from xlcalc.core.progress import Progress, Stopwatch, collector_paused
from xlcalc.io.lists.numerals import Decimal
from xlcalc.io.lists.problems import RowError
from xlcalc.io.lists.schedule import Schedule, read_schedule
from xlcalc.io.plants.site import DriveSite
from xlcalc.jobs.schedule.result_tables import ResultTables, result_tables
from xlcalc.jobs.schedule.site_run import SiteRun, Solution, run_site

if TYPE_CHECKING:
    from xlcalc.jobs.schedule.assessed_kinds import Coupling


@collector_paused()
def run_schedule(
    path: Path,
    sites: Sequence[DriveSite],
    *,
    sheet: str | None = None,
    decimal: Decimal | None = None,
    encoding: str | None = None,
    progress: Progress | None = None,
    coupling: Coupling | None = None,
    clock: Stopwatch | None = None,
    solution: Solution = Solution.AUTO,
) -> tuple[Schedule, ResultTables]:
    """Read a schedule, solve what is sound in it, and tabulate everything.

    Parameters
    ----------
    path, sites, sheet, decimal, encoding
        As `read_schedule`.
    progress : callable, optional
        Called with the kinds of drives solved and their number, site by site.
    coupling : callable, optional
        Called while a site or plant is coupled, with the name of the site or case and the kinds of drives
        solved so far, each of them once in every iteration.
    clock : Stopwatch, optional
        Takes the stages read, solve, add up or couple, tabulate.
    solution : Solution
        How the drives of a site are solved; a plant of buses is always coupled.

    Raises
    ------
    InputError, WorkbookFileError
        As `read_schedule`, or the quick estimate is asked of a plant of buses.
    """
    clock = clock or Stopwatch()
    with clock.stage("read"):
        schedule = read_schedule(path, sites, sheet=sheet, decimal=decimal, encoding=encoding)
    return solve_schedule(
        schedule, sites, progress=progress, coupling=coupling, clock=clock, solution=solution
    )


def solve_schedule(
    schedule: Schedule,
    sites: Sequence[DriveSite],
    *,
    progress: Progress | None = None,
    coupling: Coupling | None = None,
    clock: Stopwatch | None = None,
    solution: Solution = Solution.AUTO,
) -> tuple[Schedule, ResultTables]:
    """Solve what is sound in a schedule, and tabulate everything; parameters as `run_schedule`.

    Raises
    ------
    InputError
        The quick estimate is asked of a plant of buses.
    """
    plant = next((site for site in sites if site.always_coupled), None)
    if plant is not None and solution is Solution.QUICK:
        raise InputError("--solution", solution.value, f"coupled or auto, because {plant.name} has buses")
    clock = clock or Stopwatch()
    runs: list[SiteRun] = []
    misfits: list[RowError] = []
    accepted = schedule.accepted
    for site in sites:
        rows = accepted[accepted["site"] == site.name]
        run = run_site(site, rows, progress, clock, solution=solution, coupling=coupling)
        runs.append(run)
        misfits += run.problems
    if misfits:
        schedule = schedule.rejecting(misfits)
    with clock.stage("tabulate"):
        tables = result_tables(schedule, runs)
    return schedule, tables
