"""Tables of a network of buses."""

from __future__ import annotations

from xlcalc.core import plausible
from xlcalc.core.spectrum import MAX_ORDER
from xlcalc.network.loads import MOST_PCT
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.converters import ACTIVE_FRONT_ENDS, BUS, INVERTERS, NAME, ORDERS_NOT_LISTED
from xlcalc.schema.inputs.owners import (
    IN_BUS,
    IN_CAPACITOR_BANK,
    IN_GENERATOR,
    IN_HARMONIC_CURRENT,
    IN_LINE,
    IN_MOTOR_LOAD,
    IN_PCC_OPTIONS,
    IN_STATIC_LOAD,
    IN_THREE_WINDING_TRANSFORMER,
    IN_TRANSFORMER,
    IN_TRANSFORMER_BRANCH,
    IN_TUNED_FILTER,
    IN_UTILITY,
)
from xlcalc.schema.inputs.quantities import (
    AMPS,
    ANGLE,
    BUS_KV,
    EDDY,
    IMPEDANCE,
    KV,
    KVA,
    KVAR,
    LEADING_VARS,
    MVA,
    POWER_FACTOR,
    SHIFT,
    SUBTRANSIENT,
    TAP,
    WINDING_Z,
    X_OVER_R,
)
from xlcalc.schema.kinds import Choice, Number, Text, Whole
from xlcalc.schema.tables import Records, Section, StackedTables

FROM_BUS = Field("from bus", Text(), "Bus on the side of the supply")
TO_BUS = Field("to bus", Text(), "Bus on the side of the load")

BUSES = Records(
    (
        NAME,
        Field("kv", BUS_KV, "Nominal line-to-line voltage", fills=IN_BUS("volts", 1e3)),
        Field(
            "demand amps",
            AMPS,
            "Maximum demand current where the bus is a PCC; blank: the fundamental current",
            None,
            fills=IN_PCC_OPTIONS("demand_amps"),
        ),
    ),
    key="name",
)

UTILITY = Records(
    (
        Field("bus", Text(), "Bus of the utility supply"),
        Field(
            "max mva",
            MVA,
            "Three-phase short-circuit level, maximum; 1000000: an ideal supply",
            fills=IN_UTILITY("short_circuit_va", 1e6),
        ),
        Field(
            "min mva",
            MVA,
            "The same, minimum; blank: as the maximum",
            None,
            fills=IN_UTILITY("short_circuit_va", 1e6),
        ),
        Field("x/r", X_OVER_R, "X/R of the supply", default=10.0, fills=IN_UTILITY("x_over_r")),
    ),
    key="bus",
)

TRANSFORMERS = Records(
    (
        NAME,
        FROM_BUS,
        TO_BUS,
        Field("kva", KVA, "Rating", fills=IN_TRANSFORMER("rating_va", 1e3)),
        Field("z pct", IMPEDANCE, "Impedance", fills=IN_TRANSFORMER("impedance_pct")),
        Field("x/r", X_OVER_R, "X/R", default=6.0, fills=IN_TRANSFORMER("x_over_r")),
        Field("vector group", Text(), "Vector group such as Dyn11, Yd1 or Dd0; YNa0: an autotransformer"),
        Field(
            "primary kv",
            KV,
            "Rated primary voltage; blank: that of the bus",
            None,
            fills=IN_TRANSFORMER("primary_volts", 1e3),
        ),
        Field(
            "secondary kv",
            KV,
            "Rated secondary voltage; blank: that of the bus",
            None,
            fills=IN_TRANSFORMER("secondary_volts", 1e3),
        ),
        Field(
            "tap pct", TAP, "Tap of the primary winding", default=0.0, fills=IN_TRANSFORMER_BRANCH("tap_pct")
        ),
        Field("eddy pct", EDDY, "Eddy loss at rated current, percent of the ohmic loss", 10.0),
        Field(
            "shift deg",
            SHIFT,
            "Angle by which the secondary leads where polygon, zigzag or extended-delta windings give one of "
            "their own, within 30 of the clock number; blank: that of the vector group",
            None,
            fills=IN_TRANSFORMER("phase_shift_deg"),
        ),
    ),
    key="name",
)

THREE_WINDING = Records(
    (
        NAME,
        Field("primary bus", Text(), "Bus on the side of the supply"),
        Field("secondary bus", Text(), "Bus of one secondary winding"),
        Field("tertiary bus", Text(), "Bus of the other secondary winding"),
        Field(
            "kva",
            KVA,
            "Rating, the base of its impedances",
            fills=IN_THREE_WINDING_TRANSFORMER("rating_va", 1e3),
        ),
        Field(
            "z ps pct",
            WINDING_Z,
            "Impedance primary to secondary, tertiary open",
            fills=IN_THREE_WINDING_TRANSFORMER("z_ps_pct"),
        ),
        Field(
            "z pt pct",
            WINDING_Z,
            "Impedance primary to tertiary, secondary open",
            fills=IN_THREE_WINDING_TRANSFORMER("z_pt_pct"),
        ),
        Field(
            "z st pct",
            WINDING_Z,
            "Impedance secondary to tertiary, primary open",
            fills=IN_THREE_WINDING_TRANSFORMER("z_st_pct"),
        ),
        Field(
            "x/r", X_OVER_R, "X/R of all three", default=6.0, fills=IN_THREE_WINDING_TRANSFORMER("x_over_r")
        ),
        Field("vector group", Text(), "Vector group of all three windings such as Dd0yn11"),
        Field("primary kv", KV, "Rated primary voltage; blank: that of the bus", None),
        Field("secondary kv", KV, "Rated secondary voltage; blank: that of the bus", None),
        Field("tertiary kv", KV, "Rated tertiary voltage; blank: that of the bus", None),
        Field(
            "tap pct",
            TAP,
            "Tap of the primary winding",
            default=0.0,
            fills=IN_THREE_WINDING_TRANSFORMER("tap_pct"),
        ),
        Field("secondary kva", KVA, "Rating of the secondary winding; blank: that of the transformer", None),
        Field("tertiary kva", KVA, "Rating of the tertiary winding; blank: that of the transformer", None),
        Field("eddy pct", EDDY, "Eddy loss at rated current, percent of the ohmic loss", 10.0),
    ),
    key="name",
)

CABLES = Records(
    (
        NAME,
        FROM_BUS,
        TO_BUS,
        Field("length m", Number(0, 1e6, "m", above=True, usual=plausible.LENGTH_M), "Length"),
        Field("r ohm per km", Number(0, 1000, "ohm/km"), "Resistance of one conductor per phase"),
        Field("x ohm per km", Number(0, 1000, "ohm/km"), "Reactance of one conductor per phase"),
        Field("c uf per km", Number(0, 100, "uF/km"), "Capacitance of one conductor per phase", default=0.0),
        Field("parallel", Whole(1, 100), "Conductors per phase", default=1, fills=IN_LINE("parallel")),
    ),
    key="name",
)

RATED_CAPACITORS = (
    Field(
        "kvar",
        Number(0, 1e6, "kvar", above=True, usual=plausible.BANK_KVAR),
        "Rating of the capacitors at their own voltage",
        fills=IN_CAPACITOR_BANK("rated_var", 1e3),
    ),
    Field(
        "rated kv",
        KV,
        "Rated voltage of the capacitors; blank: that of the bus",
        None,
        fills=IN_CAPACITOR_BANK("rated_volts", 1e3),
    ),
    Field(
        "reactor pct",
        Number(0, 50, "%", above=True, usual=plausible.DETUNING_PCT),
        "Series reactor of a detuned bank",
        None,
        fills=IN_CAPACITOR_BANK("reactor_pct"),
    ),
    Field(
        "tuned order",
        Number(1, 100, above=True),
        "Tuning of a filter",
        None,
        fills=IN_TUNED_FILTER("tuned_order"),
    ),
    Field(
        "quality",
        Number(0, 1000, above=True, usual=plausible.QUALITY),
        "Quality of a filter: reactor n X/R if tuned, R/(n X) if damped; blank: 50 or 2",
        None,
        fills=IN_TUNED_FILTER("quality"),
    ),
)

CAPACITORS = Records(
    (
        NAME,
        BUS,
        Field("kind", Choice(("bank", "detuned", "tuned", "damped", "c-type")), "What it is", default="bank"),
        *RATED_CAPACITORS,
    ),
    key="name",
)

LOADS = Records(
    (
        NAME,
        BUS,
        Field(
            "kind",
            Choice(("static", "motor", "spectrum")),
            "What it is; spectrum: its harmonic currents stand in the table of spectra",
            default="static",
        ),
        Field(
            "kw",
            Number(0, 1e6, "kW", above=True, usual=plausible.LOAD_KW),
            "Active power",
            fills=IN_MOTOR_LOAD("watts", 1e3),
        ),
        Field("pf", POWER_FACTOR, "Power factor, lagging", default=0.85, fills=IN_MOTOR_LOAD("power_factor")),
        Field(
            "model",
            Choice(("parallel", "series", "none")),
            "What a static load is to harmonics: R and L side by side, in series, or open",
            default="parallel",
            fills=IN_STATIC_LOAD("model"),
        ),
        Field(
            "starting ratio",
            Number(1, 15),
            "Locked-rotor over rated current of a motor",
            default=6.0,
            fills=IN_MOTOR_LOAD("starting_ratio"),
        ),
        ORDERS_NOT_LISTED,
    ),
    key="name",
)

GENERATORS = Records(
    (
        NAME,
        BUS,
        Field("kva", KVA, "Rating", fills=IN_GENERATOR("rating_va", 1e3)),
        Field(
            "rated kv",
            KV,
            "Rated voltage; blank: that of the bus",
            None,
            fills=IN_GENERATOR("rated_volts", 1e3),
        ),
        Field(
            "subtransient pct",
            SUBTRANSIENT,
            "Subtransient reactance X''d",
            fills=IN_GENERATOR("subtransient_pct"),
        ),
        Field("x/r", X_OVER_R, "X/R", default=20.0, fills=IN_GENERATOR("x_over_r")),
        Field(
            "kw",
            Number(0, 1e6, "kW"),
            "Output in parallel with the utility",
            default=0.0,
            fills=IN_GENERATOR("watts", 1e3),
        ),
        Field(
            "kvar",
            KVAR,
            "Reactive output in parallel with the utility",
            0.0,
            fills=IN_GENERATOR("var", 1e3),
        ),
        Field(
            "leading pct",
            LEADING_VARS,
            "Leading vars that it takes (capability curve), of its rating; blank: 15 where it feeds alone, "
            "common practice, no source",
            None,
            fills=IN_GENERATOR("leading_pct"),
        ),
    ),
    key="name",
)

SPECTRA = Records(
    (
        Field("load", Text(), "Load of kind spectrum that draws this order"),
        Field(
            "order",
            Whole(2, MAX_ORDER),
            "Harmonic order; orders without a row count as zero in figures, see orders not listed",
            fills=IN_HARMONIC_CURRENT("order"),
        ),
        Field(
            "percent",
            Number(0, MOST_PCT, "%"),
            "Of the load's fundamental current",
            fills=IN_HARMONIC_CURRENT("percent"),
        ),
        Field(
            "deg",
            ANGLE,
            "Angle with the phase-a voltage of the bus at its crest; blank: not known, adds in phase",
            None,
            fills=IN_HARMONIC_CURRENT("degrees"),
        ),
        Field(
            "source",
            Text(),
            "Where the spectrum comes from: data sheet, measurement, handbook; once for each load",
            None,
        ),
        Field(
            "load pct",
            Number(0, 200, "%", above=True),
            "Active front ends: apparent power, of the rating, at which it holds; between two the amperes "
            "are interpolated; blank: at any",
            None,
        ),
    ),
    key="",
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
        Section("spectra", SPECTRA),
        Section("active front ends", ACTIVE_FRONT_ENDS),
        Section("inverters", INVERTERS),
    )
)
