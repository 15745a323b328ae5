"""What the equipment sheets need beyond the network: rating plates, load profile and prices, by name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.equipment import (
    CABLE_DATA,
    EQUIPMENT_TABLES,
    GENERATOR_DATA,
    LOAD_PROFILE,
    TRANSFORMER_DATA,
)

LIQUID_FIELDS: Final = ("stray pct", "no load pct", "top oil k", "gradient k")


@dataclass(frozen=True)
class DataTable:
    """A table of the sheet.

    Parameters
    ----------
    title : str
        Its title, and the name of the list in a plant file.
    heading : str
        What the sheet says about it.
    sources : tuple of str
        Tables of the network whose names the first column takes.
    fields : tuple of Field
        Columns.
    rows, shown : int
        Rows in all, and those that are not folded away.
    """

    title: str
    heading: str
    sources: tuple[str, ...]
    fields: tuple[Field, ...]
    rows: int
    shown: int


TABLES: Final = (
    DataTable(
        title=TRANSFORMER_DATA,
        heading="Transformers: type and losses (names from the sheet Network; not listed: dry type)",
        sources=("transformers", "three-winding transformers"),
        fields=EQUIPMENT_TABLES[TRANSFORMER_DATA].fields,
        rows=48,
        shown=8,
    ),
    DataTable(
        title=CABLE_DATA,
        heading="Cables: rated current, and the conductor for skin and proximity effect",
        sources=("cables",),
        fields=EQUIPMENT_TABLES[CABLE_DATA].fields,
        rows=40,
        shown=4,
    ),
    DataTable(
        title=GENERATOR_DATA,
        heading="Generators: continuous negative-sequence current of the data sheet; without it there is no "
        "verdict",
        sources=("generators",),
        fields=EQUIPMENT_TABLES[GENERATOR_DATA].fields,
        rows=8,
        shown=3,
    ),
    DataTable(
        title=LOAD_PROFILE,
        heading="Load profile and tariff of a year; 100 % is the load of the study",
        sources=(),
        fields=EQUIPMENT_TABLES[LOAD_PROFILE].fields,
        rows=12,
        shown=4,
    ),
)
"""Tables of the sheet in their order."""
