"""Names that the `settings` range of the drive functions understands, and what they mean to the engine."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from xlcalc import plausible
from xlcalc.errors import InputError
from xlcalc.rectifier.circuit import LOAD_KINDS
from xlcalc.rectifier.drive import CAPACITOR_RESISTANCE_PCT
from xlcalc.rectifier.passive_filter import FilterRating
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.kinds import Choice, Number
from xlcalc.worksheet.ranges import NamedValues

X_OVER_R = Number(0.1, 1000)
REACTOR_PCT = Number(0, 300, "%", usual=plausible.REACTOR_PCT)
DRIVE_REACTOR = Number(0, 300, "%", usual=plausible.DRIVE_REACTOR_PCT)
"""The same in a schedule, where extremes are no question but a slip."""
LOAD_PCT = Number(1, 200, "%", usual=plausible.LOAD_PCT)
ANGLE = Number(-360, 360, "deg")


def ordinal(order: int) -> str:
    """The order as a word of the trade.

    Examples
    --------
    >>> [ordinal(n) for n in (2, 3, 5, 11, 13, 21, 22, 23)]
    ['2nd', '3rd', '5th', '11th', '13th', '21st', '22nd', '23rd']
    """
    ending = "th" if 10 < order % 100 < 20 else {1: "st", 2: "nd", 3: "rd"}.get(order % 10, "th")
    return f"{order}{ending}"


BACKGROUND_ORDERS = tuple(range(2, 26))
_BACKGROUND = tuple(
    (order, f"background {ordinal(order)} pct", f"background {ordinal(order)} deg")
    for order in BACKGROUND_ORDERS
)

SOURCE_XR_FIELD = Argument("source x/r", X_OVER_R, "X/R of the source", default=10.0)

FILTER_FIELDS = (
    Argument(
        "filter capacitor pct",
        Number(0, 200, "%", usual=plausible.FILTER_CAPACITOR_PCT),
        "Passive filter ahead of the drive: 100 w C Zb of its shunt capacitor, drive base; 0 = no filter",
        default=0.0,
    ),
    Argument(
        "filter reactor pct",
        Number(0, 100, "%", usual=plausible.REACTOR_PCT),
        "Series reactor of the filter, drive base",
        default=0.0,
    ),
    Argument("filter reactor x/r", X_OVER_R, "X/R of the series reactor of the filter", default=25.0),
    Argument(
        "filter tuned order",
        Number(0, 50),
        "Order to which a reactor tunes the shunt branch of the filter; 0 = capacitor alone",
        default=0.0,
    ),
    Argument(
        "filter shunt resistance pct",
        Number(0, 100, "%"),
        "Resistance of the shunt branch of the filter, drive base",
        default=0.2,
    ),
    Argument(
        "filter damping pct",
        Number(0, 1000, "%"),
        "Resistor across the shunt reactor of the filter, drive base; 0 = none",
        default=0.0,
    ),
)


CAPACITOR_RESISTANCE = Argument(
    "capacitor resistance pct",
    Number(0, 20, "%"),
    "Series resistance of the DC link, drive base; 0.5 is common practice, no source",
    default=CAPACITOR_RESISTANCE_PCT,
)
LOAD_HELP = (
    "mean power: a constant current that takes the power at the mean DC voltage; fits usual and film (slim) "
    "links. power: the same at every instant; uneven pulses with small capacitors. current, resistance: as "
    "at 1.35 V"
)


def drive_fields(supply_level_pct: float | None = 0.0) -> tuple[Argument, ...]:
    """Names that every function with a drive model understands.

    Blank levels of unbalance and background are zero for one drive, and not known (None) for a plant.
    """
    unknown = "" if supply_level_pct is not None else "; blank: not known"
    return (
        Argument(
            "dc capacitance pu",
            Number(0.001, 1000, "pu", usual=plausible.DC_CAPACITANCE_PU),
            "w C Zb of the DC link; common practice: 3 to 8 with electrolytic capacitors, 0.1 to 0.5 with "
            "film capacitors (2 uF per kW at 480 V, 60 Hz are 0.17)",
            default=5.0,
        ),
        Argument("reactor x/r", X_OVER_R, "X/R of the line reactor", default=25.0),
        Argument("choke x/r", X_OVER_R, "X/R of the DC choke", default=25.0),
        Argument(
            "transformer pct",
            Number(0, 300, "%", usual=plausible.LEAKAGE_PCT),
            "Leakage reactance of the phase-shifting transformer, per bridge on its share of the rating",
            default=5.0,
        ),
        Argument("transformer x/r", X_OVER_R, "X/R of the phase-shifting transformer", default=15.0),
        Argument(
            "leakage mismatch pct", Number(0, 100, "%"), "Difference of leakage between bridges", default=0.0
        ),
        Argument(
            "load kind",
            Choice(LOAD_KINDS),
            LOAD_HELP,
            default="mean power",
        ),
        Argument(
            "diode drop pct", Number(0, 5, "%"), "Forward drop of a diode, percent of rated V", default=0.0
        ),
        Argument("diode resistance pct", Number(0, 5, "%"), "Resistance of a diode, drive base", default=0.0),
        CAPACITOR_RESISTANCE,
        Argument(
            "unbalance pct",
            Number(0, 20, "%", usual=plausible.UNBALANCE_PCT),
            f"Negative-sequence voltage of the supply{unknown}",
            default=supply_level_pct,
        ),
        Argument("unbalance deg", ANGLE, "Angle of the negative-sequence voltage", default=0.0),
        *(
            Argument(
                f"background {ordinal(order)} {unit}",
                kind,
                f"Background voltage of order {order}: {what}",
                default=default,
            )
            for order in BACKGROUND_ORDERS
            for unit, kind, what, default in (
                (
                    "pct",
                    Number(0, 30, "%", usual=plausible.BACKGROUND_PCT),
                    f"percent{unknown}",
                    supply_level_pct,
                ),
                ("deg", ANGLE, "angle, cosine reference", 0.0),
            )
        ),
    )


POWER_FACTOR_FIELD = Argument(
    "power factor at",
    Choice(("source", "terminals")),
    "Where the voltage of the power factor is taken: ahead of or behind the source reactance",
    default="source",
)

UNEVEN_FIELD = Argument(
    "uneven pulses",
    Choice(("refuse", "show")),
    "Solutions with uneven pulses on an even supply, or beside a second one: #NUM! with the reason, or the "
    "figures",
    default="refuse",
)

DRIVE_SETTINGS = NamedValues(
    (SOURCE_XR_FIELD, *drive_fields(), *FILTER_FIELDS, POWER_FACTOR_FIELD, UNEVEN_FIELD)
)


def accepts_uneven(settings: Mapping[str, object]) -> bool:
    """Whether doubtful solutions are to be shown, see `rectifier.doubts`."""
    return settings["uneven pulses"] == "show"


def front_end_values(settings: Mapping[str, object]) -> dict[str, Any]:
    """Fields of a `FrontEnd` from the names that concern the drive itself, without its filter."""
    return {
        "dc_capacitance_pu": settings["dc capacitance pu"],
        "reactor_xr": settings["reactor x/r"],
        "choke_xr": settings["choke x/r"],
        "transformer_pct": settings["transformer pct"],
        "transformer_xr": settings["transformer x/r"],
        "leakage_mismatch_pct": settings["leakage mismatch pct"],
        "load_kind": settings["load kind"],
        "diode_drop_pct": settings["diode drop pct"],
        "diode_resistance_pct": settings["diode resistance pct"],
        "capacitor_resistance_pct": settings["capacitor resistance pct"],
    }


def filter_of(values: Mapping[str, Any]) -> FilterRating | None:
    """The passive filter that settings, or a row of the schedule, describe.

    Raises
    ------
    InputError
        Some of a filter, but no capacitor; or values that do not fit each other.
    """
    if not values["filter capacitor pct"]:
        for name in ("filter reactor pct", "filter tuned order", "filter damping pct"):
            if values[name]:
                raise InputError(name, values[name], "0 where 'filter capacitor pct' is 0: no filter")
        return None
    return FilterRating(
        capacitor_pct=values["filter capacitor pct"],
        reactor_pct=values["filter reactor pct"],
        tuned_order=values["filter tuned order"],
        reactor_xr=values["filter reactor x/r"],
        shunt_resistance_pct=values["filter shunt resistance pct"],
        damping_pct=values["filter damping pct"],
    )


def supply_values(settings: Mapping[str, Any]) -> dict[str, Any]:
    """Unbalance and background distortion of the supply, as a `FrontEnd` takes them; what is blank is 0."""
    return {
        "unbalance_pct": settings["unbalance pct"] or 0.0,
        "unbalance_deg": settings["unbalance deg"],
        "background": tuple(
            (order, settings[pct], settings[deg]) for order, pct, deg in _BACKGROUND if settings[pct]
        ),
    }


MEASURED_ORDERS = frozenset((5, 7))


def utility_values(settings: Mapping[str, Any]) -> dict[str, Any]:
    """The same as a `Utility` takes them, with the orders that were left blank as unknown.

    Where the 5th and 7th are given, the background is: higher orders left blank are then zero.
    """
    blank = {order for order, pct, _ in _BACKGROUND if settings[pct] is None}
    blank = blank if blank & MEASURED_ORDERS else set()
    unbalance = {1} if settings["unbalance pct"] is None else set()
    return {**supply_values(settings), "unknown": frozenset(blank | unbalance)}
