"""Cases of a choice with sampled inputs, for a plant given as a network.

The file is that of a sweep of a plant, of whose drives only the load varies.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from xlcalc.bulk.sweep_plant_spec import SECTIONS, network_inputs, varied_tables
from xlcalc.bulk.sweep_spec import (
    SweepSpec,
    drive_inputs,
    spec_tables,
    varied,
)
from xlcalc.choosing.plant_files import PlantFiles
from xlcalc.choosing.uncertain import Uncertainty, sampled_loads, uncertainty
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
    """For each combination of the sweep all cases with its values; loads as in `sampled_cases`.

    Raises
    ------
    InputError
        A sampled value is outside the range of its input.
    """
    for drawn in spec.drawn().tolist():
        settings = dict(plant.settings)
        for item, number in zip(spec.inputs, drawn, strict=True):
            if item.section == "settings":
                settings[item.field.name] = item.value(number, settings[item.field.name])
        tables = varied_tables(plant.tables, spec.inputs, drawn)
        varied_plant = PlantFiles(tables, plant.drives, settings, plant.cases)
        yield tuple(
            replace(case, load_pct=sampled_loads(spec.inputs, drawn, plant.drives, case.load_pct))
            for case in varied_plant.problem(options, terms).cases
        )
