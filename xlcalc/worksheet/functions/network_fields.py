"""Tables, columns and names that the functions of the nodal plant understand."""

from __future__ import annotations

from dataclasses import replace

from xlcalc import plausible
from xlcalc.worksheet.arguments import REQUIRED, Argument
from xlcalc.worksheet.functions.drive_settings import X_OVER_R, drive_fields
from xlcalc.worksheet.functions.plant_fields import (
    DEMAND_ESTIMATED,
    DRIVES,
    EDITIONS,
    IMPEDANCE,
    KV,
    KVA,
    LOW_VOLTS,
    SOLUTION,
    SUPPLY,
)
from xlcalc.worksheet.kinds import Choice, Number, Text, Whole
from xlcalc.worksheet.ranges import NamedValues, Records
from xlcalc.worksheet.stacked import Section, StackedTables

MVA = Number(0, 1e6, "MVA", above=True)
POWER_FACTOR = Number(0, 1, above=True)
WINDING_Z = Number(0, 50, "%", above=True, usual=plausible.LEAKAGE_PCT)
TAP = Number(-20, 20, "%", usual=plausible.TAP_PCT)
EDDY = Number(0, 100, "%", usual=plausible.SHARE_PCT)

NAME = Argument("name", Text(), "Name, each once")
BUS = Argument("bus", Text(), "Bus it is connected to")
FROM_BUS = Argument("from bus", Text(), "Bus on the side of the supply")
TO_BUS = Argument("to bus", Text(), "Bus on the side of the load")

BUSES = Records(
    (
        NAME,
        Argument("kv", KV, "Nominal line-to-line voltage"),
        Argument(
            "demand amps",
            Number(0, 1e6, "A", above=True),
            "Maximum demand current where the bus is a PCC; blank: the fundamental current",
            None,
        ),
    ),
    key="name",
)

UTILITY = Records(
    (
        Argument("bus", Text(), "Bus of the utility supply"),
        Argument("max mva", MVA, "Three-phase short-circuit level, maximum; 1000000: an ideal supply"),
        Argument("min mva", MVA, "The same, minimum; blank: as the maximum", None),
        Argument("x/r", X_OVER_R, "X/R of the supply", default=10.0),
    ),
    key="bus",
)

TRANSFORMERS = Records(
    (
        NAME,
        FROM_BUS,
        TO_BUS,
        Argument("kva", KVA, "Rating"),
        Argument("z pct", IMPEDANCE, "Impedance"),
        Argument("x/r", X_OVER_R, "X/R", default=6.0),
        Argument("vector group", Text(), "Vector group such as Dyn11, Yd1 or Dd0"),
        Argument("primary kv", KV, "Rated primary voltage; blank: that of the bus", None),
        Argument("secondary kv", KV, "Rated secondary voltage; blank: that of the bus", None),
        Argument("tap pct", TAP, "Tap of the primary winding", default=0.0),
        Argument("eddy pct", EDDY, "Eddy loss at rated current, percent of the ohmic loss", 10.0),
    ),
    key="name",
)

THREE_WINDING = Records(
    (
        NAME,
        Argument("primary bus", Text(), "Bus on the side of the supply"),
        Argument("secondary bus", Text(), "Bus of one secondary winding"),
        Argument("tertiary bus", Text(), "Bus of the other secondary winding"),
        Argument("kva", KVA, "Rating, the base of its impedances"),
        Argument("z ps pct", WINDING_Z, "Impedance primary to secondary, tertiary open"),
        Argument("z pt pct", WINDING_Z, "Impedance primary to tertiary, secondary open"),
        Argument("z st pct", WINDING_Z, "Impedance secondary to tertiary, primary open"),
        Argument("x/r", X_OVER_R, "X/R of all three", default=6.0),
        Argument("vector group", Text(), "Vector group of all three windings such as Dd0yn11"),
        Argument("primary kv", KV, "Rated primary voltage; blank: that of the bus", None),
        Argument("secondary kv", KV, "Rated secondary voltage; blank: that of the bus", None),
        Argument("tertiary kv", KV, "Rated tertiary voltage; blank: that of the bus", None),
        Argument("tap pct", TAP, "Tap of the primary winding", default=0.0),
        Argument(
            "secondary kva", KVA, "Rating of the secondary winding; blank: that of the transformer", None
        ),
        Argument("tertiary kva", KVA, "Rating of the tertiary winding; blank: that of the transformer", None),
        Argument("eddy pct", EDDY, "Eddy loss at rated current, percent of the ohmic loss", 10.0),
    ),
    key="name",
)

CABLES = Records(
    (
        NAME,
        FROM_BUS,
        TO_BUS,
        Argument("length m", Number(0, 1e6, "m", above=True), "Length"),
        Argument("r ohm per km", Number(0, 1000, "ohm/km"), "Resistance of one conductor per phase"),
        Argument("x ohm per km", Number(0, 1000, "ohm/km"), "Reactance of one conductor per phase"),
        Argument(
            "c uf per km", Number(0, 100, "uF/km"), "Capacitance of one conductor per phase", default=0.0
        ),
        Argument("parallel", Whole(1, 100), "Conductors per phase", default=1),
    ),
    key="name",
)

CAPACITORS = Records(
    (
        NAME,
        BUS,
        Argument(
            "kind", Choice(("bank", "detuned", "tuned", "damped", "c-type")), "What it is", default="bank"
        ),
        Argument(
            "kvar",
            Number(0, 1e6, "kvar", above=True, usual=plausible.BANK_KVAR),
            "Rating of the capacitors at their own voltage",
        ),
        Argument("rated kv", KV, "Rated voltage of the capacitors; blank: that of the bus", None),
        Argument(
            "reactor pct",
            Number(0, 50, "%", above=True, usual=plausible.DETUNING_PCT),
            "Series reactor of a detuned bank",
            None,
        ),
        Argument("tuned order", Number(1, 100, above=True), "Tuning of a filter", None),
        Argument(
            "quality",
            Number(0, 1000, above=True),
            "Quality of a filter: reactor n X/R if tuned, R/(n X) if damped; blank: 50 or 2",
            None,
        ),
    ),
    key="name",
)

LOADS = Records(
    (
        NAME,
        BUS,
        Argument("kind", Choice(("static", "motor")), "What it is", default="static"),
        Argument("kw", Number(0, 1e6, "kW", above=True, usual=plausible.LOAD_KW), "Active power"),
        Argument("pf", POWER_FACTOR, "Power factor, lagging", default=0.85),
        Argument(
            "model",
            Choice(("parallel", "series", "none")),
            "What a static load is to harmonics: R and L side by side, in series, or open",
            default="parallel",
        ),
        Argument("starting ratio", Number(1, 15), "Locked-rotor over rated current of a motor", default=6.0),
    ),
    key="name",
)

GENERATORS = Records(
    (
        NAME,
        BUS,
        Argument("kva", KVA, "Rating"),
        Argument("rated kv", KV, "Rated voltage; blank: that of the bus", None),
        Argument(
            "subtransient pct",
            Number(0, 100, "%", above=True, usual=plausible.SUBTRANSIENT_PCT),
            "Subtransient reactance X''d",
        ),
        Argument("x/r", X_OVER_R, "X/R", default=20.0),
        Argument("kw", Number(0, 1e6, "kW"), "Output in parallel with the utility", default=0.0),
        Argument("kvar", Number(-1e6, 1e6, "kvar"), "Reactive output in parallel with the utility", 0.0),
    ),
    key="name",
)

NETWORK = StackedTables(
    (
        Section("buses", BUSES, required=True),
        Section("utility", UTILITY, required=True),
        Section("transformers", TRANSFORMERS),
        Section("three-winding transformers", THREE_WINDING),
        Section("cables", CABLES),
        Section("capacitors", CAPACITORS),
        Section("loads", LOADS),
        Section("generators", GENERATORS),
    )
)

PLANT_DRIVES = Records(
    (
        *(
            replace(field, kind=Text(), default=REQUIRED) if field.name == "bus" else field
            for field in DRIVES.fields
        ),
        Argument("volts", LOW_VOLTS, "Rated line voltage; blank: that of the bus", None),
    ),
    key="tag",
)

CASE_FIELDS = (
    SOLUTION,
    Argument(
        "short circuit",
        Choice(("maximum", "minimum")),
        "Short-circuit level of the utility",
        default="maximum",
    ),
    Argument(
        "generators",
        Choice(("on", "off", "alone")),
        "In parallel with the utility, not running, or feeding the plant without the utility",
        default="on",
    ),
    Argument("capacitors", Choice(("on", "off")), "Capacitor banks and filters", default="on"),
    Argument(
        "out of service",
        Text(),
        "Elements and buses that are out of service, with semicolons between their names",
        default=None,
    ),
)

STUDY_FIELDS = (
    Argument("edition", EDITIONS, "Edition of IEEE 519", default="2022"),
    Argument(
        "summation",
        Choice(("phasor", "arithmetic", "exponents")),
        "How the sources add up; exponents: IEC 61000-3-6",
        default="phasor",
    ),
    SUPPLY,
    Argument(
        "frequency hz",
        Number(10, 400, "Hz", usual=plausible.FREQUENCY_HZ),
        "Supply frequency",
        default=60.0,
    ),
    Argument(
        "resistance exponent",
        Number(0, 1),
        "Growth of resistances with order: 0 constant, 0.5 skin effect, 1 constant X/R",
        default=0.0,
    ),
)

SUPPLY_AND_DRIVE_FIELDS = drive_fields(supply_level_pct=None)

NETWORK_SETTINGS = NamedValues((*CASE_FIELDS, *STUDY_FIELDS, DEMAND_ESTIMATED, *SUPPLY_AND_DRIVE_FIELDS))
