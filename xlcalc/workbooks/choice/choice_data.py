"""Inputs of the template for a choice: a plant, options and terms."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from xlcalc.core.errors import InputError
from xlcalc.files.toml import read_toml
from xlcalc.schema.assembly.options import flat_columns
from xlcalc.schema.inputs.options import COLUMNS, KINDS, OPTIONS, SPECTRA
from xlcalc.schema.inputs.terms import TERMS_TABLES
from xlcalc.workbooks.drive.study_data import read_schedule
from xlcalc.workbooks.plant.plant_data import PlantData

Rows = tuple[Mapping[str, object], ...]


@dataclass(frozen=True)
class ChoiceData:
    """Inputs of one workbook; `options` and `terms` hold rows by the title of their table."""

    plant: PlantData
    options: Mapping[str, Rows]
    terms: Mapping[str, Rows]


def option_rows(options_file: Path, residuals_file: Path) -> dict[str, Rows]:
    """The rows of the tables of options from the CSV files of the shipped ones."""
    found: dict[str, list[Mapping[str, object]]] = {s.title: [] for s in OPTIONS.sections}
    for row in read_schedule(options_file):
        title = KINDS[str(row["kind"])]
        columns, own = flat_columns(title), {field.name for field in COLUMNS[title].fields}
        named = {columns[heading].name if heading in columns else heading: v for heading, v in row.items()}
        found[title].append({name: value for name, value in named.items() if name in own})
    found[SPECTRA] = list(read_schedule(residuals_file))
    return {title: tuple(rows) for title, rows in found.items()}


def read_terms_rows(path: Path) -> dict[str, Rows]:
    """The rows of the tables of terms from a TOML file.

    Raises
    ------
    InputError
        The file is no TOML, or has a table of another name.
    """
    tables = read_toml(path)
    titles = [section.title for section in TERMS_TABLES.sections]
    for name in tables:
        if name not in titles:
            raise InputError(f"table in {path.name}", name, "one of " + ", ".join(titles), wrong_kind=True)
    return {title: tuple(tables.get(title, ())) for title in titles}
