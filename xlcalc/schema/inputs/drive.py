"""Columns of a drive schedule, and the names of the drive's model that `settings` understands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from xlcalc.core import plausible
from xlcalc.rectifier.circuit import LOAD_KINDS
from xlcalc.rectifier.drive import CAPACITOR_RESISTANCE_PCT, TRANSFORMER_KINDS
from xlcalc.schema.fields import REQUIRED, Field
from xlcalc.schema.inputs.owners import IN_DRIVE, IN_FILTER_RATING, IN_FRONT_END
from xlcalc.schema.inputs.quantities import (
    DRIVE_CHOKE,
    DRIVE_REACTOR,
    EFFICIENCY_PCT,
    LEAKAGE,
    LOAD_PCT,
    LOW_VOLTS,
    PULSE_NUMBER,
    RATING,
    SHIFT,
    UNIT,
    X_OVER_R,
)
from xlcalc.schema.inputs.supply import SOURCE_XR_FIELD, supply_fields
from xlcalc.schema.kinds import Choice, Number, Text, Whole
from xlcalc.schema.tables import NamedValues, Records

FILTER_FIELDS = (
    Field(
        "filter capacitor pct",
        Number(0, 200, "%", usual=plausible.FILTER_CAPACITOR_PCT),
        "Passive filter ahead of the drive: 100 w C Zb of its shunt capacitor, drive base; 0 = no filter",
        default=0.0,
        fills=IN_FILTER_RATING("capacitor_pct"),
    ),
    Field(
        "filter reactor pct",
        Number(0, 100, "%", usual=plausible.REACTOR_PCT),
        "Series reactor of the filter, drive base",
        default=0.0,
        fills=IN_FILTER_RATING("reactor_pct"),
    ),
    Field(
        "filter reactor x/r",
        X_OVER_R,
        "X/R of the series reactor of the filter",
        default=25.0,
        fills=IN_FILTER_RATING("reactor_xr"),
    ),
    Field(
        "filter tuned order",
        Number(0, 50),
        "Order to which a reactor tunes the shunt branch of the filter; 0 = capacitor alone",
        default=0.0,
        fills=IN_FILTER_RATING("tuned_order"),
    ),
    Field(
        "filter shunt resistance pct",
        Number(0, 100, "%"),
        "Resistance of the shunt branch of the filter, drive base",
        default=0.2,
        fills=IN_FILTER_RATING("shunt_resistance_pct"),
    ),
    Field(
        "filter damping pct",
        Number(0, 1000, "%"),
        "Resistor across the shunt reactor of the filter, drive base; 0 = none",
        default=0.0,
        fills=IN_FILTER_RATING("damping_pct"),
    ),
)

PHASE_SHIFT = Field(
    "phase shift deg",
    SHIFT,
    "Phase shift that the drive's own transformer (polygon, zigzag, extended delta) adds to that of every "
    "bridge; blank: at 6 pulses no transformer, at more the usual windings",
    default=None,
    fills=IN_FRONT_END("phase_shift_deg"),
)

CAPACITOR_RESISTANCE = Field(
    "capacitor resistance pct",
    Number(0, 20, "%"),
    "Series resistance of the DC link, drive base; 0.5 is common practice, no source",
    default=CAPACITOR_RESISTANCE_PCT,
    fills=IN_FRONT_END("capacitor_resistance_pct"),
)

LOAD_HELP = (
    "mean power: a constant current that takes the power at the mean DC voltage; fits usual and film (slim) "
    "links. power: the same at every instant; uneven pulses with small capacitors. current, resistance: as "
    "at 1.35 V"
)

MODEL_FIELDS = (
    Field(
        "dc capacitance pu",
        Number(0.001, 1000, "pu", usual=plausible.DC_CAPACITANCE_PU),
        "w C Zb of the DC link; common practice: 3 to 8 with electrolytic capacitors, 0.1 to 0.5 with "
        "film capacitors (2 uF per kW at 480 V, 60 Hz are 0.17)",
        default=5.0,
        fills=IN_FRONT_END("dc_capacitance_pu"),
    ),
    Field("reactor x/r", X_OVER_R, "X/R of the line reactor", default=25.0, fills=IN_FRONT_END("reactor_xr")),
    Field("choke x/r", X_OVER_R, "X/R of the DC choke", default=25.0, fills=IN_FRONT_END("choke_xr")),
    Field(
        "transformer pct",
        LEAKAGE,
        "Leakage reactance of the phase-shifting transformer, per bridge on its share of the rating",
        default=5.0,
        fills=IN_FRONT_END("transformer_pct"),
    ),
    Field(
        "transformer x/r",
        X_OVER_R,
        "X/R of the phase-shifting transformer",
        default=15.0,
        fills=IN_FRONT_END("transformer_xr"),
    ),
    Field(
        "leakage mismatch pct",
        Number(0, 100, "%"),
        "Difference of leakage between bridges",
        default=0.0,
        fills=IN_FRONT_END("leakage_mismatch_pct"),
    ),
    Field(
        "load kind",
        Choice(LOAD_KINDS),
        LOAD_HELP,
        default="mean power",
        fills=IN_FRONT_END("load_kind"),
    ),
    Field(
        "diode drop pct",
        Number(0, 5, "%"),
        "Forward drop of a diode, percent of rated V",
        default=0.0,
        fills=IN_FRONT_END("diode_drop_pct"),
    ),
    Field(
        "diode resistance pct",
        Number(0, 5, "%"),
        "Resistance of a diode, drive base",
        default=0.0,
        fills=IN_FRONT_END("diode_resistance_pct"),
    ),
    CAPACITOR_RESISTANCE,
    Field(
        "transformer kind",
        Choice(TRANSFORMER_KINDS),
        "Phase-shifting transformer of the drives. An autotransformer isolates nothing; blocking: reactors "
        "(ZSBT) that stop the zero sequence of each bridge, taken as perfect; without them: not computed",
        default="isolating",
        fills=IN_FRONT_END("transformer_kind"),
    ),
)
"""Names of the drive itself, without its filter and its supply."""


def drive_fields(supply_level_pct: float | None = 0.0) -> tuple[Field, ...]:
    """Names that every function with a drive model understands; `supply_level_pct` as in `supply_fields`."""
    return (*MODEL_FIELDS, *supply_fields(supply_level_pct))


POWER_FACTOR_FIELD = Field(
    "power factor at",
    Choice(("source", "terminals")),
    "Where the voltage of the power factor is taken: ahead of or behind the source reactance",
    default="source",
)

UNEVEN_FIELD = Field(
    "uneven pulses",
    Choice(("refuse", "show")),
    "Solutions with uneven pulses on an even supply, or beside a second one: #NUM! with the reason, or the "
    "figures",
    default="refuse",
)

DRIVE_SETTINGS = NamedValues(
    (SOURCE_XR_FIELD, *drive_fields(), *FILTER_FIELDS, PHASE_SHIFT, POWER_FACTOR_FIELD, UNEVEN_FIELD)
)


def accepts_uneven(settings: Mapping[str, object]) -> bool:
    """Whether doubtful solutions are to be shown, see `rectifier.doubts`."""
    return settings["uneven pulses"] == "show"


FEEDING_BUSES = Choice(("main", "second"))
EFFICIENCY_DOC = "Shaft output per DC-link power; blank: typical for the rating"

DRIVES = Records(
    (
        Field("tag", Text(), "Name of the drive, each once"),
        Field("quantity", Whole(1, 1000), "How many of them", default=1, fills=IN_DRIVE("quantity")),
        Field("rating", RATING, "Rated shaft output of the drive, or its rated input current in A"),
        Field("unit", UNIT, "Unit of the rating"),
        Field("efficiency pct", EFFICIENCY_PCT, EFFICIENCY_DOC, default=None),
        Field("bus", FEEDING_BUSES, "Bus that feeds it", default="main"),
        Field("pulses", PULSE_NUMBER, "Pulse number of the front end", fills=IN_FRONT_END("pulses")),
        Field(
            "line reactor pct",
            DRIVE_REACTOR,
            "Line reactor on the rating",
            default=0.0,
            fills=IN_FRONT_END("reactor_pct"),
        ),
        Field(
            "dc choke pct",
            DRIVE_CHOKE,
            "DC choke on the rating",
            default=0.0,
            fills=IN_FRONT_END("choke_pct"),
        ),
        Field(
            "load pct",
            LOAD_PCT,
            "Load in percent of rated DC-link power",
            default=100.0,
            fills=IN_FRONT_END("load_pct"),
        ),
        *FILTER_FIELDS,
        PHASE_SHIFT,
    ),
    key="tag",
)

PLANT_DRIVES = Records(
    (
        *(
            replace(field, kind=Text(), default=REQUIRED) if field.name == "bus" else field
            for field in DRIVES.fields
        ),
        Field("volts", LOW_VOLTS, "Rated line voltage; blank: that of the bus", None),
    ),
    key="tag",
)
