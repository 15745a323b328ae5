"""Rows of a schedule, and the site they stand on, against the examples that are shipped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from xlcalc.schema.assembly.drive import assumed_efficiencies
from xlcalc.schema.assembly.notes import (
    FILLED_IN,
    Notes,
    example_drives,
    example_tags,
    in_words,
    notes,
    plant_kind,
    sentence,
    site_kind,
)

EFFICIENCY = "efficiency"
"""Column that says whether the efficiency of a row was given or is a typical one."""
GIVEN, ASSUMED = "given", "assumed"
BLANK = "blank cells"
"""Column with the names of the cells of a row that were blank, each between bars."""


def notes_on_site_rows(site: Mapping[str, Any], rows: pd.DataFrame) -> Notes:
    """Notes on the accepted rows of a site; `site` holds its checked values."""
    return notes("site", site_kind(site), _examples(rows, of_plant=False), len(rows), *_taken(rows))


def notes_on_plant_rows(tables: Mapping[str, Sequence[Mapping[str, Any]]], rows: pd.DataFrame) -> Notes:
    """Notes on the accepted rows of a plant with these tables."""
    return notes("plant", plant_kind(tables), _examples(rows, of_plant=True), len(rows), *_taken(rows))


def _taken(rows: pd.DataFrame) -> tuple[str, str]:
    return assumed_in(rows), blank_in(rows)


def blank_in(rows: pd.DataFrame) -> str:
    """A sentence on the blank cells of columns that other rows fill in; empty where there are none."""
    parts = []
    for name in FILLED_IN:
        blank = rows[rows[BLANK].str.contains(f"|{name}|", regex=False)]
        if 0 < len(blank) < len(rows):
            parts.append(in_words(name, [str(tag) for tag in blank["tag"]]))
    return sentence(parts)


def assumed_in(rows: pd.DataFrame) -> str:
    """A sentence on the rows whose efficiency is a typical one; empty where there are none."""
    blank = rows[rows[EFFICIENCY] == ASSUMED]
    columns = (blank[name] for name in ("tag", "rating", "unit"))
    names = ("tag", "rating", "unit", "efficiency pct")
    return assumed_efficiencies(
        dict(zip(names, (*row, None), strict=True)) for row in zip(*columns, strict=True)
    )


def _examples(rows: pd.DataFrame, *, of_plant: bool) -> tuple[str, ...]:
    near = rows[rows["tag"].isin(example_tags(of_plant=of_plant))]
    records = ({str(name): value for name, value in row.items()} for row in near.to_dict("records"))
    return example_drives(records, of_plant=of_plant)
