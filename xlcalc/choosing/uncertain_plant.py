"""Cases of a choice with sampled inputs, for a plant given as a network.

The file is that of a sweep of a plant, of whose drives only the load varies.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from xlcalc.bulk.sweep_plant_spec import SECTIONS, plant_inputs, varied_settings, varied_tables
from xlcalc.bulk.sweep_spec import SweepSpec, spec_tables
from xlcalc.choosing.plant_files import PlantFiles
from xlcalc.choosing.uncertain import Uncertainty, sampled_loads, uncertainty
from xlcalc.mitigation.option_table import OptionTable
from xlcalc.mitigation.problem import Case
from xlcalc.mitigation.terms import Terms


def read_plant_spec(path: Path, plant: PlantFiles) -> Uncertainty:
    """What varies of a plant.

    Raises
    ------
    InputError
        As `read_plant_sweep`, or a column of the drives other than their load, which the options decide.
    """
    tables = spec_tables(path, SECTIONS)
    tags = [str(row["tag"]) for row in plant.drives]
    return uncertainty(path, tables, plant_inputs(tables, plant.settings, plant.tables, tags))


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
        varied = replace(
            plant,
            tables=varied_tables(plant.tables, spec.inputs, drawn),
            settings=varied_settings(plant.settings, spec.inputs, drawn),
        )
        yield tuple(
            replace(case, load_pct=sampled_loads(spec.inputs, drawn, plant.drives, case.load_pct))
            for case in varied.problem(options, terms).cases
        )
