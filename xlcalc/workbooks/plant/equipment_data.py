"""What the equipment sheets need beyond the network: rating plates, load profile and prices, by name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from xlcalc import plausible
from xlcalc.schema.fields import Field
from xlcalc.schema.kinds import Choice, Number, Text
from xlcalc.worksheet.functions.notches import NOTCH_CLASS
from xlcalc.worksheet.functions.power import PROFILE
from xlcalc.worksheet.functions.transformers import RISE, SHARE

TRANSFORMER_DATA: Final = "transformer data"
CABLE_DATA: Final = "cable data"
GENERATOR_DATA: Final = "generator data"
LOAD_PROFILE: Final = "load profile"
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


NAME: Final = Field("name", Text(), "Name of the element, as on the sheet Network")

TABLES: Final = (
    DataTable(
        title=TRANSFORMER_DATA,
        heading="Transformers: type and losses (names from the sheet Network; not listed: dry type)",
        sources=("transformers", "three-winding transformers"),
        fields=(
            NAME,
            Field("type", Choice(("dry", "liquid")), "Dry or liquid-filled", default="dry"),
            Field(
                "ohmic kw",
                Number(0, 1e5, "kW", above=True),
                "Ohmic loss of the windings at rated current; blank: from impedance and X/R",
                None,
            ),
            Field("stray pct", SHARE, "Other stray loss, percent of the ohmic loss", None),
            Field("no load pct", SHARE, "No-load loss, percent of the ohmic loss; liquid only", None),
            Field("top oil k", RISE, "Rated rise of the top oil over ambient; liquid only", None),
            Field("gradient k", RISE, "Rated rise of the winding over the top oil; liquid only", None),
        ),
        rows=48,
        shown=8,
    ),
    DataTable(
        title=CABLE_DATA,
        heading="Cables: rated current, and the conductor for skin and proximity effect",
        sources=("cables",),
        fields=(
            NAME,
            Field(
                "rated amps",
                Number(0, 1e6, "A", above=True),
                "Rated current of all conductors of a phase together; blank: no verdict",
                None,
            ),
            Field("diameter mm", Number(0, 1000, "mm", above=True), "Diameter of a conductor", None),
            Field("spacing mm", Number(0, 1e5, "mm", above=True), "Distance between conductor axes", None),
        ),
        rows=40,
        shown=4,
    ),
    DataTable(
        title=GENERATOR_DATA,
        heading="Generators: continuous negative-sequence current of the data sheet; without it there is no "
        "verdict",
        sources=("generators",),
        fields=(
            NAME,
            Field(
                "negative sequence pct",
                Number(0, 100, "%", above=True, usual=plausible.SHARE_PCT),
                "Continuous negative-sequence capability of the data sheet, percent of rated current",
                None,
            ),
        ),
        rows=8,
        shown=3,
    ),
    DataTable(
        title=LOAD_PROFILE,
        heading="Load profile and tariff of a year; 100 % is the load of the study",
        sources=(),
        fields=PROFILE.fields,
        rows=12,
        shown=4,
    ),
)
"""Tables of the sheet in their order."""

CURRENCY: Final = Field("currency", Text(), "Currency of the prices", default="currency units")
SINGLE: Final = (NOTCH_CLASS, CURRENCY)
"""Single choices of the sheet."""
