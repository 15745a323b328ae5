"""From site files, schedule, options and terms to a problem."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.io.lists.example_rows import ASSUMED, EFFICIENCY
from xlcalc.io.lists.problems import listed
from xlcalc.io.lists.schedule import read_schedule
from xlcalc.io.plants.site import DriveSite, Site, site_from
from xlcalc.io.plants.site_file import read_site
from xlcalc.mitigation.offer.banks import OptionTable
from xlcalc.mitigation.problem import LimitCase, Problem
from xlcalc.mitigation.terms import CaseTerms, Terms
from xlcalc.network.chain import MAIN_BUS, UTILITY_BUS
from xlcalc.schema.assembly.choice import problem_from, with_notes_of
from xlcalc.schema.assembly.site import options_of, plant_of
from xlcalc.schema.inputs.drive import PLANT_DRIVES
from xlcalc.schema.kinds import Whole
from xlcalc.schema.nameplate import with_words
from xlcalc.schema.tables import normalised
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.verdict.load_ends import LEAST_SUPPLY

PCC_BUSES = {"utility side": UTILITY_BUS, "main bus": MAIN_BUS}
Values = Mapping[str, Any]
Vary = Callable[
    [Values, Values, frozenset[str], Mapping[str, float]], tuple[Values, Values, Mapping[str, float]]
]


def read_drives(path: Path, site: DriveSite) -> list[dict[str, Any]]:
    """Checked values of the schedule as the plant functions take them, one mapping per line.

    Raises
    ------
    InputError
        A row cannot be used; all are named, because a choice without them would be none.
    """
    schedule = read_schedule(path, [site])
    if schedule.problems:
        told = " | ".join(listed(schedule.problems))
        raise InputError(schedule.name, f"{len(schedule.problems)} bad cells", f"a sound schedule: {told}")
    return [_row(record) for record in schedule.accepted.to_dict("records")]


def _row(record: Mapping[Hashable, Any]) -> dict[str, Any]:
    """What was given; the efficiency that was assumed for a blank one is left to be assumed again."""
    given = dict(record)
    if given[EFFICIENCY] == ASSUMED:
        given["efficiency pct"] = None
    row = with_words({str(name): None if pd.isna(value) else value for name, value in given.items()})
    return {
        field.name: int(row[field.name]) if isinstance(field.kind, Whole) else row[field.name]
        for field in PLANT_DRIVES.fields
    }


def problem_of(sites: Sequence[Site], schedule: Path, options: OptionTable, terms: Terms) -> Problem:
    """The problem that the files describe.

    Parameters
    ----------
    sites : sequence of Site
        States of one plant, such as the least and the greatest short-circuit level; each with every case of
        the terms.
    schedule : Path
        Its drives.
    options : OptionTable
    terms : Terms

    Raises
    ------
    InputError
        Something does not fit something else; the message names both.
    """
    rows = read_drives(schedule, sites[0])
    plant = plant_of(rows, sites[0].site, sites[0].settings)
    cases = cases_of(sites, rows, options, terms)
    margins = {}
    for pcc, margin in terms.margins_pct.items():
        if pcc not in PCC_BUSES:
            raise InputError(
                f"margins pct in [choice] of {terms.name}", pcc, "one of " + ", ".join(PCC_BUSES)
            )
        margins[PCC_BUSES[pcc]] = margin
    known = replace(terms, margins_pct=margins)
    supply = sites[0].settings["supply"] or ""
    network, buses = cases[0].network, sites[0].buses
    problem = problem_from(plant.drives, network, cases, options, known, buses, supply=supply)
    return with_notes_of(plant, problem)


def cases_of(
    sites: Sequence[Site],
    rows: Sequence[Mapping[str, Any]],
    options: OptionTable,
    terms: Terms,
    vary: Vary | None = None,
) -> tuple[LimitCase, ...]:
    """Every case of the terms in every state of the site, on the greatest and the least supply.

    Parameters
    ----------
    sites, rows, options, terms
        As read.
    vary : callable, optional
        Changes the values of a case before it is built: gets those of `site` and `settings`, the names that
        the case itself gives, and its loads by tag; gives all but the names back.
    """
    return tuple(
        found
        for site in sites
        for case in terms.cases or (CaseTerms("as described"),)
        for found in _cases(site, case, rows, terms, len(sites) > 1, vary)
    )


def read_sites(paths: Sequence[Path]) -> list[Site]:
    """Sites by file; raises `InputError` for two of one name."""
    sites = [read_site(path) for path in paths]
    names = [site.name for site in sites]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise InputError("SITE", f"{twice} twice", "files of different names, which name the cases")
    return sites


def _cases(
    site: Site,
    terms: CaseTerms,
    rows: Sequence[Mapping[str, Any]],
    whole: Terms,
    several: bool,
    vary: Vary | None,
) -> Iterator[LimitCase]:
    """A case at each level of its supply."""
    name = f"{site.name}, {terms.name}" if several else terms.name
    changed = site
    if terms.site or terms.settings:
        given = {key: value for key, value in site.site.items() if value is not None}
        if "utility mva" in map(normalised, terms.site):
            given.pop("utility min mva", None)
        try:
            changed = site_from(
                site.name, {"site": {**given, **terms.site}, "settings": {**site.settings, **terms.settings}}
            )
        except InputError as problem:
            raise problem.renamed(f"{problem.argument} in case {terms.name} of {whole.name}") from None
    own = frozenset((*terms.site, *terms.settings))
    most, least = changed.site["utility mva"], changed.site["utility min mva"]
    levels = {name: (most, own)}
    if least not in (None, most):
        levels[f"{name}, {LEAST_SUPPLY}"] = (least, own | {"utility mva"})
    for each, (mva, given_names) in levels.items():
        site_values: Values = {**changed.site, "utility mva": mva, "utility min mva": None}
        settings, loads = changed.settings, terms.load_pct
        if vary is not None:
            site_values, settings, loads = vary(site_values, settings, given_names, loads)
        yield _case(each, site_values, settings, rows, whole, frozenset(terms.off), dict(loads))


def _case(
    name: str,
    site_values: Values,
    settings: Values,
    rows: Sequence[Mapping[str, Any]],
    whole: Terms,
    off: frozenset[str],
    loads: dict[str, float],
) -> LimitCase:
    plant: StudiedPlant = plant_of(rows, site_values, settings)
    point = replace(options_of(site_values, settings), raise_other_limits=whole.raise_other_limits)
    points = []
    for pcc in whole.pcc:
        if pcc not in PCC_BUSES:
            raise InputError(f"pcc in [choice] of {whole.name}", pcc, "one of " + ", ".join(PCC_BUSES))
        points.append(
            replace(point, pcc=PCC_BUSES[pcc], demand_amps=_demand(point.demand_amps, point.pcc, pcc))
        )
    return LimitCase(name, plant.network, tuple(points) or (point,), off, loads)


def _demand(amps: float | None, measured_at: str, pcc: str) -> float | None:
    """A demand current that was given for one bus is not that of another."""
    return amps if PCC_BUSES[pcc] == measured_at else None
