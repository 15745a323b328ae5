"""Cases of a choice with sampled inputs, for a plant given as a network.

The file is that of a sweep of a plant, of whose drives only the load varies.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from xlcalc.bulk.sweep_plant_spec import SECTIONS, network_inputs, varied_tables
from xlcalc.bulk.sweep_spec import (
    Input,
    SweepSpec,
    drive_inputs,
    spec_tables,
    varied,
)
from xlcalc.choosing.plant_files import PlantFiles
from xlcalc.choosing.uncertain import Uncertainty, uncertainty
from xlcalc.mitigation.option_table import OptionTable
from xlcalc.mitigation.problem import Case
from xlcalc.mitigation.terms import Terms
from xlcalc.worksheet.functions.network_fields import NETWORK_SETTINGS


def read_plant_spec(path: Path, plant: PlantFiles) -> Uncertainty:
    """What varies of a plant.

    Raises
    ------
    InputError
        As `read_plant_sweep`, or a column of the drives other than their load, which the options decide.
    """
    tables = spec_tables(path, SECTIONS)
    inputs = (
        *varied("settings", NETWORK_SETTINGS.fields, tables.get("settings", {}), plant.settings),
        *network_inputs(tables.get("network", {}), plant.tables),
        *drive_inputs(tables.get("drives", {}), [str(row["tag"]) for row in plant.drives]),
    )
    return uncertainty(path, tables, inputs)


def sampled_plant_cases(
    spec: SweepSpec, plant: PlantFiles, options: OptionTable, terms: Terms
) -> Iterator[tuple[Case, ...]]:
    """For each combination of the sweep all cases with its values.

    Raises
    ------
    InputError
        A sampled value is outside the range of its input.
    """
    for drawn in spec.drawn().tolist():
        cases = _changed(plant, spec.inputs, drawn).problem(options, terms).cases
        loads = [
            (item.tag, number)
            for item, number in zip(spec.inputs, drawn, strict=True)
            if item.section == "drives" and item.factor
        ]
        yield tuple(
            replace(
                case,
                load_pct={
                    tag: load * math.prod(factor for of, factor in loads if of in ("", tag))
                    for tag, load in case.load_pct.items()
                },
            )
            for case in cases
        )


def _changed(plant: PlantFiles, inputs: Sequence[Input], drawn: Sequence[float]) -> PlantFiles:
    settings, drives = dict(plant.settings), [dict(row) for row in plant.drives]
    for item, number in zip(inputs, drawn, strict=True):
        name = item.field.name
        if item.section == "settings":
            settings[name] = item.value(number, settings[name])
        elif item.section == "drives":
            for row in drives:
                if item.tag in ("", str(row["tag"])):
                    row[name] = item.value(number, row[name])
    return PlantFiles(varied_tables(plant.tables, inputs, drawn), drives, settings, plant.cases)
