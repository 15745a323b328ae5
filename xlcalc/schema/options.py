"""Tables of what can be bought."""

from __future__ import annotations

from typing import Final

from xlcalc import plausible
from xlcalc.mitigation.bank_options import BANK_KINDS
from xlcalc.schema.fields import Field
from xlcalc.schema.kinds import Choice, Number, Text, Whole
from xlcalc.schema.quantities import (
    DRIVE_REACTOR,
    KW,
    LEAKAGE,
    LOSS,
    MONEY,
    PART_LOAD,
    REACTOR_PCT,
    X_OVER_R,
)
from xlcalc.schema.tables import Records, Section, StackedTables

FRONT_ENDS, PASSIVE_FILTERS, RESIDUALS = "front ends", "passive filters", "residual front ends"


ACTIVE_FILTERS, BANKS = "active filters", "banks"


PRICES, SPECTRA = "prices", "residual spectra"


OPTION = Field("option", Text(), "Name, each once in all tables of options")


REMARK = Field("remark", Text(), "Where price and physics come from", None)


BASIS = Field("basis", Text(), "Where its figures come from, and under which conditions they hold")


PRICE: Final = (
    Field("price a", MONEY, "Price a + b kW^c, more than the plain drive; blank: see prices", None),
    Field("price b", MONEY, "Per kW^c of the drive's rated DC-link power", None),
    Field("price c", Number(0, 3), "Exponent", 1.0),
)


BY_RATING: Final = (
    *PRICE,
    Field("fixed loss pct", LOSS, "Added losses at any load, percent of the rating", 0.0),
    Field("load loss pct", LOSS, "Added losses at full load, falling with its square", 0.0),
    Field("area a", MONEY, "Added floor area a + b kW^c, m2", 0.0),
    Field("area b", MONEY, "Per kW^c", 0.0),
    Field("area c", Number(0, 3), "Exponent", 1.0),
    Field("min kw", KW, "Smallest rating for which it can be had; blank: any", None),
    Field("max kw", KW, "Largest rating; blank: any", None),
    REMARK,
)


ONE_SIZE: Final = (
    Field("price", MONEY, "Price"),
    Field("loss kw", Number(0, 1e5, "kW"), "Losses in service", 0.0),
    Field("area m2", MONEY, "Floor area", 0.0),
    REMARK,
)


BRIDGE: Final = (
    Field("pulses", Whole(6, 48, 6), "Pulse number", 6),
    Field("line reactor pct", DRIVE_REACTOR, "Line reactor, drive base", 0.0),
    Field("dc choke pct", DRIVE_REACTOR, "DC choke, drive base", 0.0),
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
                    Field(
                        "filter capacitor pct",
                        Number(0, 200, "%", above=True, usual=plausible.FILTER_CAPACITOR_PCT),
                        "100 w C Zb of its shunt capacitor, drive base",
                    ),
                    Field("filter reactor pct", REACTOR_PCT, "Series reactor, drive base", 0.0),
                    Field("filter reactor x/r", X_OVER_R, "X/R of the series reactor", 25.0),
                    Field(
                        "filter tuned order", Number(0, 50), "Tuning of the shunt branch; 0: capacitor", 0.0
                    ),
                    Field("filter shunt resistance pct", Number(0, 100, "%"), "Of the shunt branch", 0.2),
                    Field(
                        "filter damping pct", Number(0, 1e5, "%"), "Resistor across its reactor; 0: none", 0.0
                    ),
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
                    Field("percent of", Choice(("rated", "load")), "What its spectrum is percent of"),
                    Field(
                        "orders not listed",
                        Choice(("not given", "zero")),
                        "Whether orders without a row of its spectrum are unknown or zero",
                        default="not given",
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
                    Field("rated amps", Number(0, 1e5, "A", above=True), "rms that it can compensate"),
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
                    Field(
                        "kvar",
                        Number(0, 1e6, "kvar", above=True, usual=plausible.BANK_KVAR),
                        "Of the capacitors at their own voltage",
                    ),
                    Field(
                        "rated kv",
                        Number(0, 1000, "kV", above=True),
                        "Rated voltage of the capacitors; blank: that of the bus",
                        None,
                    ),
                    Field(
                        "reactor pct",
                        Number(0, 50, "%", above=True, usual=plausible.DETUNING_PCT),
                        "Series reactor of a detuned bank",
                        None,
                    ),
                    Field("tuned order", Number(1, 100, above=True), "Tuning of a filter", None),
                    Field(
                        "quality", Number(0, 1000, above=True), "Of a filter; blank: 50 tuned, 2 damped", None
                    ),
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
                    ),
                    Field("order", Whole(2, 50), "Order"),
                    Field("percent", Number(0, 100, "%"), "Of rated or load current; left by a filter"),
                    Field("degrees", Number(-360, 360, "deg"), "Angle; blank: not known", None),
                ),
                key="",
            ),
        ),
    )
)
