"""What a sweep varies of a plant, from a TOML file.

.. code-block:: toml

    [sweep]
    method = "latin hypercube"      # or "grid"
    samples = 200
    seed = 1
    solution = "uncoupled"          # or "coupled"; blank: as the plant says, else uncoupled

    [settings]
    "background 5th pct" = { low = 0.5, high = 1.2 }

    [network.utility]
    "min mva" = { low = 150, high = 220 }

    [network.transformers]
    "z pct" = { tolerance_pct = 7.5, each = true }    # without each: one factor for all of them

    [network.transformers."T-1"]    # this one alone
    "z pct" = { low = 4, high = 7 }

    [drives]
    "load pct" = { factor = { low = 0.6, high = 1.0 } }
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from xlcalc.core.errors import InputError
from xlcalc.io.plants.plant_file import PlantSite, Values
from xlcalc.jobs.sweep.sweep_model import solution_text
from xlcalc.jobs.sweep.sweep_spec import (
    COUPLED,
    Input,
    SweepSpec,
    drive_inputs,
    spec_tables,
    split_each,
    sweep_options,
    varied,
    without_own,
)
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.inputs.settings import NETWORK_SETTINGS
from xlcalc.schema.kinds import Number, Whole, one_of
from xlcalc.schema.tables import Section, normalised

Tables = Mapping[str, Sequence[Values]]

SECTIONS: Final = ("sweep", "settings", "network", "drives")


@dataclass(frozen=True)
class PlantSpec:
    """What varies of a plant.

    Parameters
    ----------
    sweep : SweepSpec
    coupled : frozenset of str
        Cases whose drives are solved with the voltages that they distort; the others have the quick estimate.
    """

    sweep: SweepSpec
    coupled: frozenset[str]

    def solution(self, case: str) -> str:
        """The solution of a case in words."""
        return solution_text(case in self.coupled)


def read_plant_sweep(path: Path, plant: PlantSite, tags: Sequence[str]) -> PlantSpec:
    """Read a sweep of a plant.

    Parameters
    ----------
    path : Path
        TOML file as at the top of this module.
    plant : PlantSite
        Gives the values for tolerances and factors.
    tags : sequence of str
        Tags of the schedule.

    Raises
    ------
    InputError
        The file is no TOML, a name is unknown or no number, or a range does not fit the input.
    """
    tables = spec_tables(path, SECTIONS)
    inputs = tuple(plant_inputs(tables, plant.settings, plant.tables, tags))
    sweep = SweepSpec(inputs, **sweep_options(tables))
    coupled = plant.coupled
    if sweep.solution is not None:
        coupled = frozenset(plant.cases if sweep.solution == COUPLED else ())
    return PlantSpec(sweep, coupled)


def plant_inputs(
    tables: Mapping[str, Mapping[str, Any]], settings: Values, network: Tables, tags: Sequence[str]
) -> Iterator[Input]:
    """Inputs of all sections of a sweep of a plant; raises `InputError` as `read_plant_sweep`."""
    yield from varied("settings", NETWORK_SETTINGS.fields, tables.get("settings", {}), settings)
    yield from _network_inputs(tables.get("network", {}), network)
    yield from drive_inputs(tables.get("drives", {}), tags)


def row_name(row: Values) -> str:
    """How a row of the network is called; the utility goes by its bus."""
    return str(row["name"] if "name" in row else row["bus"])


def _network_inputs(given: Mapping[str, Any], network: Tables) -> Iterator[Input]:
    """Of all rows of a table, each row or one."""
    sections = {normalised(section.title): section for section in NETWORK.sections}
    for key, table in given.items():
        if normalised(key) not in sections or not isinstance(table, dict):
            raise InputError("table in network", key, one_of(list(sections), normalised(key)))
        section = sections[normalised(key)]
        rows = network[section.title]
        fields = section.records.fields
        if not rows:
            raise InputError(f"{section.title} in network", "varied", "a table that the plant has")
        columns = [normalised(f.name) for f in fields if isinstance(f.kind, Number | Whole)]
        named = {row_name(row).casefold(): row for row in rows}
        common = [name for name in table if normalised(name) in columns]
        for name in common:
            forms, each = split_each(table[name], f"{name} in {section.title}")
            if each:
                kept = without_own([row_name(row) for row in rows], table, name)
                yield from _of_each(section, name, forms, [row for row in rows if row_name(row) in kept])
            else:
                yield _of_all(section, name, forms, rows)
        for name, forms in table.items():
            if name in common:
                continue
            if name.casefold() in named and isinstance(forms, dict):
                row = named[name.casefold()]
                yield from varied(section.title, fields, forms, row, row_name(row))
            else:
                names = [row_name(row) for row in rows]
                valid = f"a column of numbers ({', '.join(columns)}), or one of {', '.join(names)}"
                raise InputError(f"name in network.{section.title}", name, valid)


def varied_settings(settings: Values, inputs: Sequence[Input], drawn: Sequence[float]) -> Values:
    """The settings of a plant with drawn values; raises as `varied_tables`."""
    varied = dict(settings)
    for given, number in zip(inputs, drawn, strict=True):
        if given.section == "settings":
            varied[given.field.name] = given.value(number, varied[given.field.name])
    return varied


def varied_tables(tables: Tables, inputs: Sequence[Input], drawn: Sequence[float]) -> Tables:
    """The tables of a network with drawn values; a factor for all rows passes over blanks.

    Raises
    ------
    InputError
        A value does not fit its column.
    """
    varied: dict[str, list[dict[str, Any]]] = {
        title: [dict(row) for row in rows] for title, rows in tables.items()
    }
    for given, number in zip(inputs, drawn, strict=True):
        name = given.field.name
        for row in varied.get(given.section, ()):
            meant = given.tag in ("", row_name(row))
            if meant and not (given.factor and row[name] is None):
                row[name] = given.value(number, row[name])
    return varied


def _of_all(section: Section, name: str, forms: object, rows: Sequence[Values]) -> Input:
    """One draw for all rows, checked on every row that has a value."""
    field = _field(section, name)
    with_value = [row for row in rows if row[field.name] is not None]
    found = [next(varied(section.title, (field,), {name: forms}, row)) for row in with_value or rows]
    if found[0].factor and not with_value:
        raise InputError(found[0].label, "a factor", "a range, because the plant gives no value")
    return found[0]


def _of_each(section: Section, name: str, forms: object, rows: Sequence[Values]) -> Iterator[Input]:
    """A draw for each row; a factor passes over rows without a value."""
    if not rows:
        return
    together = _of_all(section, name, forms, rows)
    for row in rows:
        if not (together.factor and row[together.field.name] is None):
            yield replace(together, tag=row_name(row))


def _field(section: Section, name: str) -> Field:
    (field,) = (f for f in section.records.fields if normalised(f.name) == normalised(name))
    return field
