"""Tables that the functions of the choice understand: what can be bought, and on which terms."""

from __future__ import annotations

from typing import Final

from xlcalc import plausible
from xlcalc.equipment.capacitor import capacitor_standards
from xlcalc.mitigation.bank_options import BANK_KINDS
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.drive_settings import DRIVE_REACTOR, LOAD_PCT, REACTOR_PCT, X_OVER_R
from xlcalc.worksheet.functions.network_fields import CASE_FIELDS
from xlcalc.worksheet.kinds import Choice, Number, Text, Whole
from xlcalc.worksheet.ranges import Records
from xlcalc.worksheet.stacked import Section, StackedTables

FRONT_ENDS, PASSIVE_FILTERS, RESIDUALS = "front ends", "passive filters", "residual front ends"
ACTIVE_FILTERS, BANKS = "active filters", "banks"
PRICES, SPECTRA = "prices", "residual spectra"
TERMS, PCCS, CASES, PINS, PLACES = "general terms", "pcc", "cases", "pins", "places"

YES_NO = Choice(("yes", "no"))
MONEY = Number(0, 1e9)
LOSS = Number(0, 20, "%")
KW = Number(0, 1e5, "kW", above=True)

OPTION = Argument("option", Text(), "Name, each once in all tables of options")
REMARK = Argument("remark", Text(), "Where price and physics come from", None)
BASIS = Argument("basis", Text(), "Where its figures come from, and under which conditions they hold")

PRICE: Final = (
    Argument("price a", MONEY, "Price a + b kW^c, more than the plain drive; blank: see prices", None),
    Argument("price b", MONEY, "Per kW^c of the drive's rated DC-link power", None),
    Argument("price c", Number(0, 3), "Exponent", 1.0),
)
BY_RATING: Final = (
    *PRICE,
    Argument("fixed loss pct", LOSS, "Added losses at any load, percent of the rating", 0.0),
    Argument("load loss pct", LOSS, "Added losses at full load, falling with its square", 0.0),
    Argument("area a", MONEY, "Added floor area a + b kW^c, m2", 0.0),
    Argument("area b", MONEY, "Per kW^c", 0.0),
    Argument("area c", Number(0, 3), "Exponent", 1.0),
    Argument("min kw", KW, "Smallest rating for which it can be had; blank: any", None),
    Argument("max kw", KW, "Largest rating; blank: any", None),
    REMARK,
)
ONE_SIZE: Final = (
    Argument("price", MONEY, "Price"),
    Argument("loss kw", Number(0, 1e5, "kW"), "Losses in service", 0.0),
    Argument("area m2", MONEY, "Floor area", 0.0),
    REMARK,
)
LEAKAGE = Number(0, 300, "%", usual=plausible.LEAKAGE_PCT)
PART_LOAD = Number(0, 200, "%", above=True, usual=plausible.LOAD_PCT)
RATE = Number(0, 50, "%", usual=plausible.SHARE_PCT)
MARGIN = Number(0, 90, "%", usual=plausible.SHARE_PCT)
BRIDGE: Final = (
    Argument("pulses", Whole(6, 48, 6), "Pulse number", 6),
    Argument("line reactor pct", DRIVE_REACTOR, "Line reactor, drive base", 0.0),
    Argument("dc choke pct", DRIVE_REACTOR, "DC choke, drive base", 0.0),
)

OPTIONS = StackedTables(
    (
        Section(
            FRONT_ENDS,
            Records(
                (
                    OPTION,
                    *BRIDGE,
                    Argument(
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
                    Argument(
                        "filter capacitor pct",
                        Number(0, 200, "%", above=True, usual=plausible.FILTER_CAPACITOR_PCT),
                        "100 w C Zb of its shunt capacitor, drive base",
                    ),
                    Argument("filter reactor pct", REACTOR_PCT, "Series reactor, drive base", 0.0),
                    Argument("filter reactor x/r", X_OVER_R, "X/R of the series reactor", 25.0),
                    Argument(
                        "filter tuned order", Number(0, 50), "Tuning of the shunt branch; 0: capacitor", 0.0
                    ),
                    Argument("filter shunt resistance pct", Number(0, 100, "%"), "Of the shunt branch", 0.2),
                    Argument(
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
                    Argument("percent of", Choice(("rated", "load")), "What its spectrum is percent of"),
                    Argument(
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
                    Argument("rated amps", Number(0, 1e5, "A", above=True), "rms that it can compensate"),
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
                    Argument("kind", Choice(BANK_KINDS), "What it is"),
                    Argument(
                        "kvar",
                        Number(0, 1e6, "kvar", above=True, usual=plausible.BANK_KVAR),
                        "Of the capacitors at their own voltage",
                    ),
                    Argument(
                        "rated kv",
                        Number(0, 1000, "kV", above=True),
                        "Rated voltage of the capacitors; blank: that of the bus",
                        None,
                    ),
                    Argument(
                        "reactor pct",
                        Number(0, 50, "%", above=True, usual=plausible.DETUNING_PCT),
                        "Series reactor of a detuned bank",
                        None,
                    ),
                    Argument("tuned order", Number(1, 100, above=True), "Tuning of a filter", None),
                    Argument(
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
                    Argument("option", Text(), "Option without a price formula"),
                    Argument("kw", KW, "Rating"),
                    Argument("price", MONEY, "Price there; straight lines between points, nothing outside"),
                ),
                key="",
            ),
        ),
        Section(
            SPECTRA,
            Records(
                (
                    Argument("option", Text(), "Residual front end or active filter"),
                    Argument(
                        "load pct",
                        PART_LOAD,
                        "Load; blank for a filter",
                        None,
                    ),
                    Argument("order", Whole(2, 50), "Order"),
                    Argument("percent", Number(0, 100, "%"), "Of rated or load current; left by a filter"),
                    Argument("degrees", Number(-360, 360, "deg"), "Angle; blank: not known", None),
                ),
                key="",
            ),
        ),
    )
)

TERMS_TABLES = StackedTables(
    (
        Section(
            TERMS,
            Records(
                (
                    Argument("price per kwh", Number(0, 1000), "Tariff"),
                    Argument("years", Number(0, 60), "Over which losses count", 10.0),
                    Argument("hours per year", Number(0, 8784, "h"), "Of operation", 6000.0),
                    Argument("discount pct", RATE, "Yearly rate", 0.0),
                    Argument("currency", Text(), "Its name", None),
                    Argument("margin pct", MARGIN, "Every value stays below its limit by this", 0.0),
                    Argument("raise other limits", YES_NO, "Raise limits where IEEE 519 allows it", "no"),
                    Argument("rely on coupling", YES_NO, "The coupled study alone decides", "no"),
                    Argument(
                        "capacitor standard",
                        Choice(capacitor_standards()),
                        "By which banks are judged",
                        "IEEE 18-2002",
                    ),
                    Argument("gap pct", Number(0, 50, "%"), "Proof gap that is enough", 0.5),
                    Argument("seconds", Number(1, 600, "s"), "Time for the main search", 40.0),
                ),
                key="price per kwh",
            ),
            required=True,
        ),
        Section(
            PCCS,
            Records(
                (
                    Argument("bus", Text(), "Bus that is judged"),
                    Argument("margin pct", MARGIN, "Margin there; blank: that of the terms", None),
                ),
                key="bus",
            ),
        ),
        Section(
            CASES,
            Records(
                (
                    Argument("case", Text(), "Name of the case"),
                    *(field for field in CASE_FIELDS if field.name != "solution"),
                    Argument("loads", Choice(("on", "off")), "Linear and motor loads", "on"),
                    Argument("drive load pct", LOAD_PCT, "Of the load in the schedule", 100.0),
                ),
                key="case",
            ),
        ),
        Section(
            PINS,
            Records(
                (
                    Argument("drives", Text(), "Tags with semicolons between them", None),
                    Argument("bus", Text(), "Or a bus: all drives on it", None),
                    Argument("options", Text(), "What remains, with semicolons; or: as scheduled"),
                ),
                key="",
            ),
        ),
        Section(
            PLACES,
            Records(
                (
                    Argument("bus", Text(), "Bus that may get a filter or a bank"),
                    Argument("offer", Text(), "Active filters and banks, with semicolons between them"),
                    Argument("covers", Text(), "Buses that an active filter measures; blank: its own", None),
                    Argument("required", YES_NO, "Must get one of the active filters", "no"),
                ),
                key="bus",
            ),
        ),
    )
)
