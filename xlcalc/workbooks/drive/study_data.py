"""A study as data files: a TOML file for site and settings, a CSV file for the drive schedule."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from xlcalc.core.errors import InputError
from xlcalc.files.reading import read_text
from xlcalc.files.toml import read_toml
from xlcalc.schema.inputs.site import with_moved_names

LARGEST_BYTES = 64 << 20
SECTIONS = ("study", "site", "settings")


@dataclass(frozen=True)
class StudyData:
    """Inputs of one workbook, by the names of the `study`, `site` and `settings` ranges and of the schedule.

    `drives` holds one mapping of heading and value per row, in the order of the sheet.
    """

    site: Mapping[str, object]
    drives: tuple[Mapping[str, object], ...]
    study: Mapping[str, object] = field(default_factory=dict)
    settings: Mapping[str, object] = field(default_factory=dict)


def read_study(site_file: Path, schedule_file: Path) -> StudyData:
    """Inputs from a TOML file with the tables ``[study]``, ``[site]``, ``[settings]`` and a CSV schedule.

    Raises
    ------
    InputError
        A file is missing, not readable as TOML or CSV, or has a table of another name.
    """
    tables = read_toml(site_file)
    for name, table in tables.items():
        if name not in SECTIONS or not isinstance(table, dict):
            raise InputError(f"table in {site_file.name}", name, f"one of {', '.join(SECTIONS)}")
    study, site = with_moved_names(tables.get("study", {}), tables.get("site", {}))
    return StudyData(
        site=site,
        study=study,
        settings=tables.get("settings", {}),
        drives=read_schedule(schedule_file),
    )


def read_schedule(path: Path) -> tuple[dict[str, object], ...]:
    """Rows of a CSV file with a heading row; numbers become numbers, blank cells are left out.

    Raises
    ------
    InputError
        The file is missing or no UTF-8 text, has no rows, or a row is longer or shorter than the headings.
    """
    lines = read_text(path, LARGEST_BYTES).splitlines()
    try:
        rows = [row for row in csv.reader(lines) if any(cell.strip() for cell in row)]
    except csv.Error as problem:
        raise InputError(path.name, f"no sound CSV file ({problem})", "a CSV file", wrong_kind=True) from None
    if len(rows) < 2:
        raise InputError(str(path), "without rows", "a CSV file with a heading row and one row per drive")
    width = len(rows[0])
    for number, row in enumerate(rows[1:], start=2):
        if len(row) != width:
            raise InputError(
                f"row {number} of {path.name}", f"{len(row)} cells", f"{width} cells as the headings"
            )
    return tuple(
        {heading: _cell(text) for heading, text in zip(rows[0], row, strict=True) if text.strip()}
        for row in rows[1:]
    )


def _cell(text: str) -> object:
    try:
        return float(text)
    except ValueError:
        return text.strip()
