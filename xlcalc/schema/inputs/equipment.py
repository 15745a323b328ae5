"""What the equipment of a plant needs beyond the network: rating plates, load profile, prices."""

from __future__ import annotations

from typing import Final

from xlcalc.core import plausible
from xlcalc.equipment.notch import notch_classes
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.quantities import AMPS, DIAMETER_MM, HOURS, KW, RISE, SHARE, SPACING_MM, TARIFF
from xlcalc.schema.kinds import Choice, Number, Text
from xlcalc.schema.tables import NamedValues, Records

TRANSFORMER_DATA: Final = "transformer data"
CABLE_DATA: Final = "cable data"
GENERATOR_DATA: Final = "generator data"
LOAD_PROFILE: Final = "load profile"

NAME: Final = Field("name", Text(), "Name of the element, as on the sheet Network")
CURRENCY: Final = Field("currency", Text(), "Currency of the prices", default="currency units")
NOTCH_CLASS: Final = Field(
    "system_class",
    Choice(notch_classes()),
    "special (hospitals, airports), general, or dedicated to converters",
    default=notch_classes()[1],
)
EQUIPMENT: Final = NamedValues((NOTCH_CLASS, CURRENCY))
PROFILE: Final = Records(
    (
        Field("period", Text(), "Name of the period, each once"),
        Field("load pct", Number(0, 200, "%"), "Load in percent of the one for which the loss holds"),
        Field("hours", HOURS, "Hours per year"),
        Field("price per kwh", TARIFF, "Price of energy in the period", default=0.0),
    ),
    key="period",
)
EQUIPMENT_TABLES: Final = {
    TRANSFORMER_DATA: Records(
        (
            NAME,
            Field("type", Choice(("dry", "liquid")), "Dry or liquid-filled", default="dry"),
            Field(
                "ohmic kw",
                KW,
                "Ohmic loss of the windings at rated current; blank: from impedance and X/R",
                None,
            ),
            Field("stray pct", SHARE, "Other stray loss, percent of the ohmic loss", None),
            Field("no load pct", SHARE, "No-load loss, percent of the ohmic loss; liquid only", None),
            Field("top oil k", RISE, "Rated rise of the top oil over ambient; liquid only", None),
            Field("gradient k", RISE, "Rated rise of the winding over the top oil; liquid only", None),
        ),
        key="name",
    ),
    CABLE_DATA: Records(
        (
            NAME,
            Field(
                "rated amps",
                AMPS,
                "Rated current of all conductors of a phase together; blank: no verdict",
                None,
            ),
            Field("diameter mm", DIAMETER_MM, "Diameter of a conductor", None),
            Field("spacing mm", SPACING_MM, "Distance between conductor axes", None),
        ),
        key="name",
    ),
    GENERATOR_DATA: Records(
        (
            NAME,
            Field(
                "negative sequence pct",
                Number(0, 100, "%", above=True, usual=plausible.SHARE_PCT),
                "Continuous negative-sequence capability of the data sheet, percent of rated current",
                None,
            ),
        ),
        key="name",
    ),
    LOAD_PROFILE: Records(PROFILE.fields, key=""),
}
"""Tables by their titles, which are the names of the lists in a plant file."""
