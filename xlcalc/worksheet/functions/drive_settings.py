"""Names that the `settings` range of the drive functions understands."""

from __future__ import annotations

from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.kinds import Choice, Number
from xlcalc.worksheet.ranges import NamedValues

X_OVER_R = Number(0, 1000, above=True)
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

DRIVE_FIELDS = (
    Argument("dc capacitance pu", Number(0, 1000, above=True), "w C Zb of the DC link", default=5.0),
    Argument("source x/r", X_OVER_R, "X/R of the source", default=10.0),
    Argument("reactor x/r", X_OVER_R, "X/R of the line reactor", default=25.0),
    Argument("choke x/r", X_OVER_R, "X/R of the DC choke", default=25.0),
    Argument(
        "transformer pct",
        Number(0, 50, "%"),
        "Leakage reactance of the phase-shifting transformer, per bridge on its share of the rating",
        default=5.0,
    ),
    Argument("transformer x/r", X_OVER_R, "X/R of the phase-shifting transformer", default=15.0),
    Argument(
        "leakage mismatch pct", Number(0, 100, "%"), "Difference of leakage between bridges", default=0.0
    ),
    Argument(
        "load kind",
        Choice(("power", "current", "resistance")),
        "What the inverter keeps constant",
        default="power",
    ),
    Argument("unbalance pct", Number(0, 10, "%"), "Negative-sequence voltage of the supply", default=0.0),
    Argument("unbalance deg", ANGLE, "Angle of the negative-sequence voltage", default=0.0),
    *(
        Argument(
            f"background {ordinal(order)} {unit}",
            kind,
            f"Background voltage of order {order}: {what}",
            default=0.0,
        )
        for order in BACKGROUND_ORDERS
        for unit, kind, what in (
            ("pct", Number(0, 20, "%"), "percent"),
            ("deg", ANGLE, "angle, cosine reference"),
        )
    ),
)

POWER_FACTOR_FIELD = Argument(
    "power factor at",
    Choice(("source", "terminals")),
    "Where the voltage of the power factor is taken: ahead of or behind the source reactance",
    default="source",
)

DRIVE_SETTINGS = NamedValues((*DRIVE_FIELDS, POWER_FACTOR_FIELD))
