"""Inputs of a comparison of front ends: supply, drive, limit, cost, and its columns."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from xlcalc.core import plausible
from xlcalc.schema.fields import REQUIRED, Field
from xlcalc.schema.inputs.drive import DRIVE_SETTINGS, DRIVES, FILTER_FIELDS
from xlcalc.schema.inputs.options import BY_RATING
from xlcalc.schema.inputs.quantities import (
    AMPS,
    EDITIONS,
    HOURS,
    IMPEDANCE,
    MAINS_HZ,
    MVA,
    RATE,
    SHAFT_UNIT,
    TARIFF,
    YEARS,
)
from xlcalc.schema.inputs.settings import TITLE_FIELDS
from xlcalc.schema.kinds import Choice, Number, Text
from xlcalc.standards.iec61000_3_12 import Equipment

DRIVE_VOLTS: Final = Number(50, 1000, "V", usual=plausible.VOLTS)
IEEE_519: Final = "IEEE 519"
IEC_61000_3_12: Final = "IEC 61000-3-12"
OWN: Final = "own limits"


def _setting(name: str, doc: str) -> Field:
    return replace(DRIVE_SETTINGS.field(name), doc=doc)


BLOCKS: Final[dict[str, tuple[str, tuple[Field, ...]]]] = {
    "study": ("Study", TITLE_FIELDS),
    "supply": (
        "Supply at the drive",
        (
            Field("nominal volts", DRIVE_VOLTS, "Line to line, at the drive"),
            Field("frequency hz", MAINS_HZ, "Only named on the page; percent values hold"),
            Field("transformer kva", Number(0, 1e6, "kVA", above=True), "Transformer that feeds the drive"),
            Field("transformer z pct", IMPEDANCE, "Its impedance"),
            Field("utility mva", MVA, "Short-circuit level ahead of the transformer", default=None),
            Field(
                "fault level mva",
                MVA,
                "Short-circuit level at the drive, where it is known: replaces the three lines above",
                default=None,
            ),
            _setting("source x/r", "X/R of the supply at the drive"),
            _setting("unbalance pct", "Negative-sequence voltage"),
            _setting("unbalance deg", "Its angle"),
            _setting("background 5th pct", "5th harmonic of the supply voltage"),
            _setting("background 5th deg", "Its angle, cosine reference"),
            _setting("background 7th pct", "7th harmonic of the supply voltage"),
            _setting("background 7th deg", "Its angle, cosine reference"),
        ),
    ),
    "drive": (
        "Drive",
        (
            replace(DRIVES.field("rating"), doc="Rated shaft output"),
            replace(DRIVES.field("unit"), kind=SHAFT_UNIT),
            DRIVES.field("efficiency pct"),
            replace(DRIVES.field("load pct"), doc="Of the rated DC-link power"),
            _setting("dc capacitance pu", "w C Zb of the DC link"),
            DRIVE_SETTINGS.field("capacitor resistance pct"),
        ),
    ),
    "limit": (
        "Limit to be met",
        (
            Field(
                "limit",
                Choice((IEEE_519, IEC_61000_3_12, OWN)),
                "Whose limits: at the PCC, of one item of equipment, or the table below",
                default=IEEE_519,
            ),
            Field("edition", EDITIONS, "Edition of IEEE 519", default=2022),
            Field(
                "demand amps",
                AMPS,
                "IEEE 519: maximum demand current IL at the PCC, which is taken at the drive's bus "
                "(blank: rated current of the drive alone)",
                default=None,
            ),
            Field(
                "reference amps",
                AMPS,
                "IEC 61000-3-12: reference current, above 16 to 75 A (blank: rated current of the drive)",
                default=None,
            ),
            Field("iec table", Choice(tuple(Equipment)), "Table of IEC 61000-3-12", default="Table 3"),
            Field("own thd pct", Number(0, 1000, "%", above=True), "Own limit of the THD", default=10.0),
            Field("own document", Text(), "Where your own limits come from", default="own table"),
        ),
    ),
    "cost": (
        "Terms of cost",
        (
            Field("currency", Text(), "Its name", default="USD"),
            Field("price per kwh", TARIFF, "Energy", default=0.1),
            Field("hours per year", HOURS, "Of operation at the load above", default=6000),
            Field("years", YEARS, "Over which losses count", default=10),
            Field("discount pct", RATE, "Yearly rate on later costs", default=0.0),
        ),
    ),
}
FILTER_NAMES: Final = (
    "filter capacitor pct",
    "filter reactor pct",
    "filter tuned order",
    "filter damping pct",
)
FILTER: Final = tuple(field for field in FILTER_FIELDS if field.name in FILTER_NAMES)
FRONT_END_FIELDS: Final = (
    Field("name", Text(), "What the column is called"),
    replace(DRIVES.field("pulses"), doc="Pulse number"),
    replace(DRIVES.field("line reactor pct"), doc="Line reactor on the rated DC-link power"),
    replace(DRIVES.field("dc choke pct"), doc="DC choke on the rated DC-link power"),
    _setting("transformer pct", "Leakage of the phase-shifting transformer per bridge"),
    *FILTER,
    Field("remark", Text(), "What it is, in plain words", default=None),
)
PRICE_FIELDS: Final = tuple(
    replace(field, doc=doc, default=REQUIRED)
    for field, doc in zip(
        BY_RATING[:5],
        (
            "Part of the price that does not grow with the rating",
            "Factor of the part that grows",
            "Its exponent",
            "At any load",
            "At rated load, with its square",
        ),
        strict=True,
    )
)
