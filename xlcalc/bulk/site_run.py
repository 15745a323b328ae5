"""The drives of one site solved and judged; equal drives are solved once."""

from __future__ import annotations

import contextlib
from collections.abc import Collection
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Final

import pandas as pd

from xlcalc.bulk.assessed_kinds import AssessedKinds, Coupling, Kinds, counting
from xlcalc.bulk.example_rows import notes_on_site_rows
from xlcalc.bulk.problems import Problem, shown
from xlcalc.bulk.site import Site
from xlcalc.bulk.stopwatch import Stopwatch
from xlcalc.errors import InputError, NoSolutionError
from xlcalc.network.plausible import check_drive_bus, check_load, feeding_kva
from xlcalc.progress import Progress
from xlcalc.study.assessed import Assessment
from xlcalc.study.drives import bus_supplies, solve_drives
from xlcalc.study.pcc import PccOptions, PccResult
from xlcalc.study.plant import Plant
from xlcalc.study.solver import Solver
from xlcalc.worksheet.functions.fitting import SITE_TRANSFORMERS, check_totals, meant_buses
from xlcalc.worksheet.functions.plant import options_of, unchecked_plant_of
from xlcalc.worksheet.functions.plant_fields import DRIVES
from xlcalc.worksheet.kinds import Whole

ALIKE = tuple(field.name for field in DRIVES.fields if field.name not in ("tag", "quantity"))
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


@dataclass(frozen=True, kw_only=True)
class SiteRun:
    """What a site gives.

    Parameters
    ----------
    site : Site
        The site.
    options : PccOptions
        Where and how it is judged.
    kinds : AssessedKinds
        One per kind of drive, its quantity that of all rows of the kind.
    kind_of_row : Series of int
        Index in `kinds.results` of every solved row.
    problems : tuple of Problem
        Rows whose values do not fit their bus, which are in no sum.
    """

    site: Site
    options: PccOptions
    kinds: AssessedKinds
    kind_of_row: pd.Series[int]
    problems: tuple[Problem, ...] = ()

    @property
    def assessment(self) -> Assessment:
        """Of the PCC of the site."""
        return self.kinds.assessments[self.options.pcc]

    def at(self, bus: str) -> PccResult | None:
        """Currents and voltages at a bus; None where nothing flows, or without a solution."""
        if self.kinds.solution is None:
            return None
        with contextlib.suppress(NoSolutionError):
            return self.kinds.solution.pcc(replace(self.options, pcc=bus, demand_amps=None))
        return None


def run_site(
    site: Site,
    rows: pd.DataFrame,
    progress: Progress | None = None,
    clock: Stopwatch | None = None,
    *,
    solution: Solution = Solution.AUTO,
    coupling: Coupling | None = None,
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
        fits, problems = fitting(plant, numbers, meant_buses(site.site))
        notes = notes_on_site_rows(site.site, rows)
        drives = tuple(plant.drives[k] for k in fits)
        kept = replace(plant, drives=drives, remarks=notes.remarks, doubts=notes.doubts)
        check_totals(kept.network, drawn_kw(kept), SITE_TRANSFORMERS.__getitem__)
        alone = solve_drives(kept, progress)
    asked = site.settings["solution"] == "coupled" and solution is not Solution.QUICK
    coupled = solution is Solution.COUPLED or (asked and len(fits) <= MOST_COUPLED_KINDS)
    point = options_of(site.site, site.settings)
    with clock.stage("couple" if coupled else "add up"):
        kinds = Kinds(
            kept,
            alone,
            site.settings["supply"] or "",
            Solver(counting(coupling, site.name, len(fits))),
        )
        found = kinds.coupled([point]) if coupled else kinds.quick([point], _doubt(len(fits), asked))
    place = {k: position for position, k in enumerate(fits)}
    return SiteRun(
        site=site,
        options=point,
        kinds=found,
        kind_of_row=numbers[numbers.isin(fits)].map(place),
        problems=tuple(problems),
    )


def _doubt(kinds: int, asked: bool) -> str:
    """Why a quick estimate does not judge."""
    if not asked:
        return "quick estimate only, as asked for; the coupled solution judges"
    seconds = max(1.0, float(f"{SECONDS_PER_KIND * kinds:.1g}"))
    return f"quick estimate only; --solution coupled judges it ({kinds} kinds, about {seconds:.0f} s)"


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


def fitting(plant: Plant, numbers: pd.Series[int], meant: Collection[str]) -> tuple[list[int], list[Problem]]:
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
                Problem(int(row), f"{name} at its bus", shown(problem.value), problem.valid)
                for row in numbers.index[numbers == k]
            ]
        else:
            fits.append(k)
    return fits, problems


def drawn_kw(plant: Plant) -> list[tuple[str, float]]:
    """Bus and power of every drive, all units together."""
    return [(d.bus, d.quantity * d.rated_watts * d.front_end.load_pct / 1e5) for d in plant.drives]
