"""Checks of the content of a plant file: nothing in it is dropped without a word."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from xlcalc.core.errors import InputError
from xlcalc.schema.inputs.equipment import EQUIPMENT, EQUIPMENT_TABLES
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.inputs.settings import CASE_FIELDS, CASE_NAME, STUDY, STUDY_FIELDS, SUPPLY_AND_DRIVE_FIELDS
from xlcalc.schema.tables import NamedValues, Records
from xlcalc.schema.values import Grid, Scalar

Row = Mapping[str, object]
SOLUTION: Final = next(field for field in CASE_FIELDS if field.name == "solution")

MAPPINGS: Final = {
    "study": STUDY,
    "settings": NamedValues((SOLUTION, *STUDY_FIELDS, *SUPPLY_AND_DRIVE_FIELDS)),
    "equipment": EQUIPMENT,
}

LISTS: Final = {
    "cases": Records((CASE_NAME, *CASE_FIELDS), key=""),
    **{section.title: section.records for section in NETWORK.sections},
    **EQUIPMENT_TABLES,
}


def check_plant_file(content: Mapping[str, Any], plant_file: str) -> None:
    """Check tables, names and values of the plant without its drives.

    Raises
    ------
    InputError
        An unknown table or name, or a missing or unusable value; the message names file, table and row.
    """
    for name, table in content.items():
        if name not in (*MAPPINGS, *LISTS) or isinstance(table, dict) != (name in MAPPINGS):
            valid = f"one of {', '.join((*MAPPINGS, *LISTS))}"
            raise InputError(f"table in {plant_file}", name, valid, wrong_kind=True)
        where = f"{name} in {plant_file}"
        if name in MAPPINGS:
            pairs: Grid = [[key, _scalar(value, f"{key} of {where}")] for key, value in table.items()]
            MAPPINGS[name].convert(pairs, where)
        elif table:
            LISTS[name].records(row_grid(table, where), where)
    for section in NETWORK.sections:
        if section.required and not content.get(section.title):
            raise InputError(
                f"table {section.title} in {plant_file}", None, "one row or more", wrong_kind=True
            )


def row_grid(rows: Sequence[Row], where: str) -> Grid:
    """Headings and rows; row n of the list is row n + 1 here, as in a file with a heading row."""
    headings = list(dict.fromkeys(key for row in rows for key in row))
    body: Grid = [[_scalar(row.get(key), f"{key} in {where}") for key in headings] for row in rows]
    return [list(headings), *body]


def _scalar(value: object, name: str) -> Scalar:
    if value is not None and not isinstance(value, str | int | float | bool):
        raise InputError(name, str(value), "a number or a text", wrong_kind=True)
    return value
