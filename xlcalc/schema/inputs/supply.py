"""Names of the supply's unbalance and background distortion, and what they mean to the engine."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from xlcalc.core import plausible
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.owners import IN_FRONT_END, IN_UTILITY
from xlcalc.schema.inputs.quantities import ANGLE, X_OVER_R
from xlcalc.schema.kinds import Number


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

BACKGROUND_PCT = Number(0, 30, "%", usual=plausible.BACKGROUND_PCT)
_BACKGROUND = tuple(
    (order, f"background {ordinal(order)} pct", f"background {ordinal(order)} deg")
    for order in BACKGROUND_ORDERS
)


def supply_fields(level_pct: float | None = 0.0) -> tuple[Field, ...]:
    """Unbalance and background distortion of the supply.

    Blank levels are zero for one drive, and not known (None) for a plant.
    """
    unknown = "" if level_pct is not None else "; blank: not known"
    return (
        Field(
            "unbalance pct",
            Number(0, 20, "%", usual=plausible.UNBALANCE_PCT),
            f"Negative-sequence voltage of the supply{unknown}",
            default=level_pct,
            fills=IN_UTILITY("unbalance_pct"),
        ),
        Field(
            "unbalance deg",
            ANGLE,
            "Angle of the negative-sequence voltage",
            default=0.0,
            fills=IN_UTILITY("unbalance_deg"),
        ),
        *(
            Field(name, kind, f"Background voltage of order {order}: {what}", default=default)
            for order, pct, deg in _BACKGROUND
            for name, kind, what, default in (
                (pct, BACKGROUND_PCT, f"percent{unknown}", level_pct),
                (deg, ANGLE, "angle, cosine reference", 0.0),
            )
        ),
    )


SOURCE_XR_FIELD = Field(
    "source x/r", X_OVER_R, "X/R of the source", default=10.0, fills=IN_FRONT_END("source_xr")
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
