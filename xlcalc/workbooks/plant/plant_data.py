"""A plant study as data files: TOML for study, settings, cases and network, CSV for the drives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from xlcalc.core.errors import InputError
from xlcalc.files.books.plant_names import CASES
from xlcalc.files.toml import read_toml
from xlcalc.schema.assembly.plant_content import Row, check_plant_file, row_grid
from xlcalc.schema.inputs.drive import PLANT_DRIVES
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.workbooks.drive.study_data import read_schedule
from xlcalc.workbooks.plant.equipment.equipment_data import TABLES

EQUIPMENT = tuple(table.title for table in TABLES)


@dataclass(frozen=True)
class PlantData:
    """Inputs of one plant workbook; rows are mappings of heading and value.

    `tables` holds the rows of every table of the network by its title, `cases` up to four operating cases,
    `equipment` the rows of the tables of the sheet Equipment data, `choices` its single values, `pccs` the
    buses that are judged where they are not the first ones.
    """

    study: Mapping[str, object]
    settings: Mapping[str, object]
    cases: tuple[Mapping[str, object], ...]
    tables: Mapping[str, tuple[Mapping[str, object], ...]]
    drives: tuple[Mapping[str, object], ...]
    equipment: Mapping[str, tuple[Mapping[str, object], ...]] = field(default_factory=dict)
    choices: Mapping[str, object] = field(default_factory=dict)
    pccs: tuple[str, ...] = ()


def read_plant(plant_file: Path, schedule_file: Path) -> PlantData:
    """Inputs from a TOML file and a CSV schedule.

    Raises
    ------
    InputError
        A file is missing or not readable as TOML or CSV, or what it holds is unknown or unusable.
    """
    drives = read_schedule(schedule_file)
    return plant_data(read_toml(plant_file), drives, plant_file.name, schedule_file.name)


def plant_data(
    content: Mapping[str, Any], drives: tuple[Mapping[str, object], ...], plant_file: str, schedule: str
) -> PlantData:
    """Inputs from the content of a TOML file and rows of drives; the names of both go into messages.

    Raises
    ------
    InputError
        What they hold is unknown or unusable.
    """
    check_plant(content, drives, plant_file, schedule)
    return PlantData(
        study=content.get("study", {}),
        settings=content.get("settings", {}),
        cases=tuple(content.get("cases", ())),
        tables={section.title: tuple(content.get(section.title, ())) for section in NETWORK.sections},
        drives=drives,
        equipment={title: tuple(content.get(title, ())) for title in EQUIPMENT},
        choices=content.get("equipment", {}),
    )


def check_plant(content: Mapping[str, Any], drives: Sequence[Row], plant_file: str, schedule: str) -> None:
    """Check tables, names, values and drives as the functions will.

    Raises
    ------
    InputError
        An unknown table or name, a missing or unusable value, or more cases than the workbook has; the
        message names file, table and row.
    """
    check_plant_file(content, plant_file)
    if len(content.get("cases", ())) > CASES:
        raise InputError(f"cases in {plant_file}", len(content["cases"]), f"up to {CASES} cases")
    PLANT_DRIVES.records(row_grid(drives, schedule), schedule)
