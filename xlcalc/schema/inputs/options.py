"""Tables of what can be bought."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from xlcalc.core import plausible
from xlcalc.mitigation.offer.banks import BANK_KINDS
from xlcalc.schema.fields import REQUIRED, Field
from xlcalc.schema.inputs.drive import DRIVES, FILTER_FIELDS
from xlcalc.schema.inputs.network import RATED_CAPACITORS
from xlcalc.schema.inputs.owners import (
    IN_ACTIVE_FILTER,
    IN_DRIVE_OPTION,
    IN_FORMULA,
    IN_FRONT_END,
    IN_LOSSES,
    IN_RESIDUAL,
    IN_RESIDUAL_LINE,
)
from xlcalc.schema.inputs.quantities import ANGLE, HARMONIC_ORDER, KW, LEAKAGE, LOSS, MONEY, PART_LOAD
from xlcalc.schema.kinds import Choice, Number, Text
from xlcalc.schema.tables import Records, Section, StackedTables

FRONT_ENDS, PASSIVE_FILTERS, RESIDUALS = "front ends", "passive filters", "residual front ends"
ACTIVE_FILTERS, BANKS = "active filters", "banks"
PRICES, SPECTRA = "prices", "residual spectra"
OPTION = Field("option", Text(), "Name, each once in all tables of options")
REMARK = Field("remark", Text(), "Where price and physics come from", None)
BASIS = Field("basis", Text(), "Where its figures come from, and under which conditions they hold")

PRICE: Final = (
    Field(
        "price a",
        MONEY,
        "Price a + b kW^c, more than the plain drive; blank: see prices",
        None,
        fills=IN_FORMULA("a"),
    ),
    Field("price b", MONEY, "Per kW^c of the drive's rated DC-link power", None, fills=IN_FORMULA("b")),
    Field("price c", Number(0, 3), "Exponent", 1.0, fills=IN_FORMULA("c")),
)

BY_RATING: Final = (
    *PRICE,
    Field(
        "fixed loss pct",
        LOSS,
        "Added losses at any load, percent of the rating",
        0.0,
        fills=IN_LOSSES("fixed_pct"),
    ),
    Field(
        "load loss pct",
        LOSS,
        "Added losses at full load, falling with its square",
        0.0,
        fills=IN_LOSSES("load_pct"),
    ),
    Field("area a", MONEY, "Added floor area a + b kW^c, m2", 0.0, fills=IN_FORMULA("a")),
    Field("area b", MONEY, "Per kW^c", 0.0, fills=IN_FORMULA("b")),
    Field("area c", Number(0, 3), "Exponent", 1.0, fills=IN_FORMULA("c")),
    Field(
        "min kw",
        KW,
        "Smallest rating for which it can be had; blank: any",
        None,
        fills=IN_DRIVE_OPTION("min_kw"),
    ),
    Field("max kw", KW, "Largest rating; blank: any", None, fills=IN_DRIVE_OPTION("max_kw")),
    REMARK,
)

ONE_SIZE: Final = (
    Field("price", MONEY, "Price", fills=IN_ACTIVE_FILTER("price")),
    Field(
        "loss kw", Number(0, 1e5, "kW"), "Losses in service", 0.0, fills=IN_ACTIVE_FILTER("loss_watts", 1e3)
    ),
    Field("area m2", MONEY, "Floor area", 0.0, fills=IN_ACTIVE_FILTER("footprint_m2")),
    REMARK,
)

BRIDGE: Final = (
    replace(DRIVES.field("pulses"), default=6),
    DRIVES.field("line reactor pct"),
    DRIVES.field("dc choke pct"),
)

FILTER_CAPACITOR = replace(
    FILTER_FIELDS[0],
    kind=Number(0.1, 200, "%", usual=plausible.FILTER_CAPACITOR_PCT),
    doc="100 w C Zb of its shunt capacitor, drive base",
    default=REQUIRED,
)

OPTIONS = StackedTables(
    (
        Section(
            FRONT_ENDS,
            Records(
                (
                    OPTION,
                    *BRIDGE,
                    Field(
                        "transformer pct",
                        LEAKAGE,
                        "Leakage of phase-shifting windings; blank: settings",
                        None,
                        fills=IN_FRONT_END("transformer_pct"),
                    ),
                    *BY_RATING,
                ),
                key="option",
            ),
            required=True,
        ),
        Section(
            PASSIVE_FILTERS,
            Records(
                (
                    OPTION,
                    *BRIDGE[1:],
                    FILTER_CAPACITOR,
                    *FILTER_FIELDS[1:],
                    *BY_RATING,
                ),
                key="option",
            ),
        ),
        Section(
            RESIDUALS,
            Records(
                (
                    OPTION,
                    Field(
                        "percent of",
                        Choice(("rated", "load")),
                        "What its spectrum is percent of",
                        fills=IN_RESIDUAL("percent_of"),
                    ),
                    Field(
                        "orders not listed",
                        Choice(("not given", "zero")),
                        "Whether orders without a row of its spectrum are unknown or zero",
                        default="not given",
                        fills=IN_RESIDUAL("others"),
                    ),
                    BASIS,
                    *BY_RATING,
                ),
                key="option",
            ),
        ),
        Section(
            ACTIVE_FILTERS,
            Records(
                (
                    OPTION,
                    Field(
                        "rated amps",
                        Number(0, 1e5, "A", above=True),
                        "rms that it can compensate",
                        fills=IN_ACTIVE_FILTER("rated_amps"),
                    ),
                    BASIS,
                    *ONE_SIZE,
                ),
                key="option",
            ),
        ),
        Section(
            BANKS,
            Records(
                (
                    OPTION,
                    Field("kind", Choice(BANK_KINDS), "What it is"),
                    *RATED_CAPACITORS,
                    *ONE_SIZE,
                ),
                key="option",
            ),
        ),
        Section(
            PRICES,
            Records(
                (
                    Field("option", Text(), "Option without a price formula"),
                    Field("kw", KW, "Rating"),
                    Field("price", MONEY, "Price there; straight lines between points, nothing outside"),
                ),
                key="",
            ),
        ),
        Section(
            SPECTRA,
            Records(
                (
                    Field("option", Text(), "Residual front end or active filter"),
                    Field(
                        "load pct",
                        PART_LOAD,
                        "Load; blank for a filter",
                        None,
                        fills=IN_RESIDUAL_LINE("load_pct"),
                    ),
                    Field("order", HARMONIC_ORDER, "Order", fills=IN_RESIDUAL_LINE("order")),
                    Field(
                        "percent",
                        Number(0, 100, "%"),
                        "Of rated or load current; left by a filter",
                        fills=IN_RESIDUAL_LINE("percent"),
                    ),
                    Field(
                        "degrees",
                        ANGLE,
                        "Angle; blank: not known",
                        None,
                        fills=IN_RESIDUAL_LINE("degrees"),
                    ),
                ),
                key="",
            ),
        ),
    )
)

COLUMNS: Final = {section.title: section.records for section in OPTIONS.sections}
"""Columns of each table by its title."""

KINDS: Final = {
    "bridge": FRONT_ENDS,
    "passive filter": PASSIVE_FILTERS,
    "residual spectrum": RESIDUALS,
    "active filter": ACTIVE_FILTERS,
    **dict.fromkeys(BANK_KINDS, BANKS),
}
"""Tables by the word in the column kind, where all kinds of options stand in one table."""
KIND: Final = Field("kind", Choice(tuple(KINDS)), "Which kind of option it is")
