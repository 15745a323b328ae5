"""The drives of one site solved and added up; equal drives are solved once."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from xlcalc.bulk.problems import Problem, shown
from xlcalc.bulk.site_file import Site
from xlcalc.bulk.stopwatch import Stopwatch
from xlcalc.errors import InputError, NoSolutionError
from xlcalc.network.plausible import check_load, feeding_kva
from xlcalc.progress import Progress
from xlcalc.study.drives import DriveResult, bus_supplies, solve_drives
from xlcalc.study.pcc import PccOptions, PccResult
from xlcalc.study.plant import Plant
from xlcalc.study.solution import uncoupled_from
from xlcalc.worksheet.functions.fitting import SITE_TRANSFORMERS, check_totals
from xlcalc.worksheet.functions.plant import options_of, unchecked_plant_of
from xlcalc.worksheet.functions.plant_fields import DRIVES
from xlcalc.worksheet.kinds import Whole

ALIKE = tuple(field.name for field in DRIVES.fields if field.name not in ("tag", "quantity"))
"""Drives that agree in these fields draw the same current."""


@dataclass(frozen=True)
class SiteRun:
    """What a site gives.

    Parameters
    ----------
    site : Site
        The site.
    options : PccOptions
        Where and how it is judged.
    results : tuple of DriveResult
        One per kind of drive; its quantity is that of all rows of the kind.
    kind_of_row : Series of int
        Index in `results` of every solved row.
    pcc : PccResult or None
        Sum over the drives that have a stable solution; None where nothing draws current.
    buses : mapping of bus to PccResult
        The same at every bus that carries current.
    problems : tuple of Problem
        Rows whose values do not fit their bus, which are in no sum.
    """

    site: Site
    options: PccOptions
    results: tuple[DriveResult, ...]
    kind_of_row: pd.Series[int]
    pcc: PccResult | None
    buses: dict[str, PccResult]
    problems: tuple[Problem, ...] = ()

    @property
    def unsolved_rows(self) -> pd.Index[int]:
        """Rows without a stable solution, which are in no sum."""
        bad = [k for k, result in enumerate(self.results) if not result.stable]
        return self.kind_of_row.index[self.kind_of_row.isin(bad)]


def run_site(
    site: Site, rows: pd.DataFrame, progress: Progress | None = None, clock: Stopwatch | None = None
) -> SiteRun:
    """Solve and add up the accepted rows of a site.

    Parameters
    ----------
    site : Site
        The site.
    rows : DataFrame
        Accepted rows, as `Schedule.accepted`.
    progress : callable, optional
        Called with the kinds of drives solved and their number.
    clock : Stopwatch, optional
        Takes the stages solve and add up.

    Raises
    ------
    InputError
        A value of the site does not fit the others.
    """
    clock = clock or Stopwatch()
    with clock.stage("solve"):
        kinds = rows.groupby(list(ALIKE), sort=False, dropna=False)
        numbers = kinds.ngroup()
        records = kind_records(kinds["quantity"].sum().reset_index())
        plant = unchecked_plant_of(records, site.site, site.settings)
        fits, problems = fitting(plant, numbers)
        kept = Plant(plant.network, tuple(plant.drives[k] for k in fits))
        check_totals(plant.network, drawn_kw(kept), SITE_TRANSFORMERS.__getitem__)
        results = solve_drives(kept, progress)
    with clock.stage("add up"):
        options = options_of(site.site, site.settings)
        pcc, buses = _sums(kept, results, options)
    place = {k: position for position, k in enumerate(fits)}
    return SiteRun(
        site, options, results, numbers[numbers.isin(fits)].map(place), pcc, buses, tuple(problems)
    )


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


def _sums(
    plant: Plant, results: tuple[DriveResult, ...], options: PccOptions
) -> tuple[PccResult | None, dict[str, PccResult]]:
    stable = tuple(result for result in results if result.stable)
    solution = uncoupled_from(replace(plant, drives=tuple(result.drive for result in stable)), stable)
    sums: dict[str, PccResult] = {}
    for bus in plant.network.buses:
        here = options if bus == options.pcc else replace(options, pcc=bus, demand_amps=None)
        with contextlib.suppress(NoSolutionError):
            sums[bus] = solution.pcc(here)
    return sums.get(options.pcc), sums
