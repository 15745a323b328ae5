"""Cases of a choice with sampled inputs, from the specification of a sweep.

Of the drives only the load varies.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from xlcalc.core.errors import InputError
from xlcalc.io.plants.site import Site
from xlcalc.jobs.choice.assemble import Values, cases_of
from xlcalc.jobs.choice.plant_files import PlantFiles
from xlcalc.jobs.sweep.sweep_plant_spec import SECTIONS as PLANT_SECTIONS
from xlcalc.jobs.sweep.sweep_plant_spec import plant_inputs, varied_settings, varied_tables
from xlcalc.jobs.sweep.sweep_spec import (
    COUPLED,
    SECTIONS,
    Input,
    SweepSpec,
    site_inputs,
    spec_tables,
    sweep_options,
)
from xlcalc.mitigation.offer.banks import OptionTable
from xlcalc.mitigation.problem import LimitCase
from xlcalc.mitigation.terms import Terms

LOAD = "load pct"


@dataclass(frozen=True)
class Uncertainty:
    """What varies, and whether every sample is studied coupled: drives on the voltages that they distort."""

    sweep: SweepSpec
    coupled: bool


def read_choice_spec(path: Path, site: Site, rows: Sequence[Mapping[str, Any]]) -> Uncertainty:
    """What varies, of what a choice leaves as it is.

    Raises
    ------
    InputError
        As `read_spec`, or a column of the drives other than their load, which the options decide.
    """
    tables = spec_tables(path, SECTIONS)
    bases = {"site": site.site, "settings": site.settings}
    return uncertainty(path, tables, site_inputs(tables, bases, [str(row["tag"]) for row in rows]))


def uncertainty(path: Path, tables: Mapping[str, Mapping[str, Any]], inputs: Iterable[Input]) -> Uncertainty:
    """The inputs with the options of the file, if of the drives only the load varies; raises as
    `read_choice_spec`."""
    spec = SweepSpec(tuple(inputs), **sweep_options(tables))
    for item in spec.inputs:
        if item.section == "drives" and item.field.name != LOAD:
            raise InputError(f"{item.label} in {path.name}", "varied", f"{LOAD}: options decide the rest")
    return Uncertainty(spec, spec.solution == COUPLED)


def sampled_loads(
    inputs: Sequence[Input],
    drawn: Sequence[float],
    rows: Sequence[Mapping[str, Any]],
    named: Mapping[str, float],
) -> dict[str, float]:
    """Load of every drive in a case, of which it names some by itself; raises as `sampled_cases`."""
    loads = {str(row["tag"]): float(named.get(str(row["tag"]), row[LOAD])) for row in rows}
    for item, number in zip(inputs, drawn, strict=True):
        if item.section == "drives":
            for tag in [item.tag] if item.tag else loads:
                if item.factor or tag not in named:
                    loads[tag] = float(item.value(number, loads[tag]))
    return loads


def sampled_cases(
    spec: SweepSpec,
    sites: Sequence[Site],
    rows: Sequence[Mapping[str, Any]],
    options: OptionTable,
    terms: Terms,
) -> Iterator[tuple[LimitCase, ...]]:
    """For each combination of the sweep all cases with its values.

    A name that a case gives by itself keeps that value, unless the sweep gives a tolerance or a factor,
    which then applies to it.

    Raises
    ------
    InputError
        A sampled value is outside the range of its input.
    """
    for drawn in spec.drawn().tolist():

        def vary(
            site: Values,
            settings: Values,
            named: frozenset[str],
            loads: Mapping[str, float],
            drawn: Sequence[float] = drawn,
        ) -> tuple[Values, Values, Mapping[str, float]]:
            values = {"site": dict(site), "settings": dict(settings)}
            for item, number in zip(spec.inputs, drawn, strict=True):
                name = item.field.name
                if item.section in values and (item.factor or name not in named):
                    target = values[item.section]
                    target[name] = item.value(number, target[name])
            return values["site"], values["settings"], sampled_loads(spec.inputs, drawn, rows, loads)

        yield cases_of(sites, rows, options, terms, vary)


def read_plant_spec(path: Path, plant: PlantFiles) -> Uncertainty:
    """What varies of a plant.

    Raises
    ------
    InputError
        As `read_plant_sweep`, or a column of the drives other than their load, which the options decide.
    """
    tables = spec_tables(path, PLANT_SECTIONS)
    tags = [str(row["tag"]) for row in plant.drives]
    return uncertainty(path, tables, plant_inputs(tables, plant.settings, plant.tables, tags))


def sampled_plant_cases(
    spec: SweepSpec, plant: PlantFiles, options: OptionTable, terms: Terms
) -> Iterator[tuple[LimitCase, ...]]:
    """For each combination of the sweep all cases with its values; loads as in `sampled_cases`.

    Raises
    ------
    InputError
        A sampled value is outside the range of its input.
    """
    for drawn in spec.drawn().tolist():
        varied = replace(
            plant,
            tables=varied_tables(plant.tables, spec.inputs, drawn),
            settings=varied_settings(plant.settings, spec.inputs, drawn),
        )
        yield tuple(
            replace(case, load_pct=sampled_loads(spec.inputs, drawn, plant.drives, case.load_pct))
            for case in varied.problem(options, terms).cases
        )
