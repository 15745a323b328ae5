"""Cases of a choice with sampled inputs, for a plant given as a network.

The file is that of a sweep, with the sections ``[settings]``, ``[drives]`` (only ``load pct``) and one per
table of the network, such as ``[network.utility]`` or ``[network.transformers]``, whose columns vary by a
tolerance or a factor that applies to every row.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from xlcalc.bulk.sweep_spec import OPTIONS, Input, SweepSpec, spec_tables, sweep_options, varied
from xlcalc.choosing.plant_files import PlantFiles
from xlcalc.errors import InputError
from xlcalc.mitigation.option_table import OptionTable
from xlcalc.mitigation.problem import Case
from xlcalc.mitigation.terms import Terms
from xlcalc.worksheet.functions.network_fields import NETWORK, NETWORK_SETTINGS, PLANT_DRIVES

LOAD = "load pct"
SECTIONS = ("sweep", "settings", "drives", "network")


def read_plant_spec(path: Path, plant: PlantFiles) -> SweepSpec:
    """What varies of a plant.

    Raises
    ------
    InputError
        The file is no TOML, a name is unknown or no number, or a column of the network has no factor.
    """
    tables = spec_tables(path, SECTIONS)
    found = list(varied("settings", NETWORK_SETTINGS.fields, tables.get("settings", {}), plant.settings))
    load = tuple(field for field in PLANT_DRIVES.fields if field.name == LOAD)
    found += varied("drives", load, tables.get("drives", {}), {})
    sections = {section.title: section.records.fields for section in NETWORK.sections}
    for title, columns in tables.get("network", {}).items():
        if title not in sections or not isinstance(columns, dict):
            raise InputError(f"table in network of {path.name}", title, "one of " + ", ".join(sections))
        rows = plant.tables[title]
        base = rows[0] if rows else {}
        for item in varied(title, sections[title], columns, base):
            if not item.factor:
                raise InputError(f"{item.label} in {path.name}", "no factor", "tolerance_pct or factor")
            found.append(item)
    return SweepSpec(tuple(found), **sweep_options(tables, OPTIONS))


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
        sample = tuple(zip(spec.inputs, drawn, strict=True))
        cases = _changed(plant, sample).problem(options, terms).cases
        factor = math.prod(number for item, number in sample if item.section == "drives" and item.factor)
        yield tuple(
            replace(case, load_pct={tag: factor * load for tag, load in case.load_pct.items()})
            for case in cases
        )


def _changed(plant: PlantFiles, sample: Sequence[tuple[Input, float]]) -> PlantFiles:
    tables: dict[str, Any] = dict(plant.tables)
    settings, drives = dict(plant.settings), [dict(row) for row in plant.drives]
    for item, number in sample:
        name = item.field.name
        if item.section == "settings":
            settings[name] = item.value(number, settings[name])
        elif item.section == "drives":
            drives = [{**row, name: item.value(number, row[name])} for row in drives]
        else:
            tables[item.section] = tuple(_scaled(row, item, number) for row in tables[item.section])
    return PlantFiles(tables, drives, settings, plant.cases)


def _scaled(row: Mapping[str, Any], item: Input, number: float) -> Mapping[str, Any]:
    value = row[item.field.name]
    return row if value is None else {**row, item.field.name: item.value(number, value)}
