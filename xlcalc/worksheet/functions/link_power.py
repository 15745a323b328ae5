"""From the shaft rating of a drive to the power of its DC link, the base of all its percent values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from xlcalc import plausible
from xlcalc.equipment.motor_efficiency import BASIS, typical_efficiency_pct
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.kinds import Choice, Number
from xlcalc.worksheet.registry import Example, WorksheetFunction

CATEGORY = "Plant and PCC"
WATTS_PER_UNIT: Final = {"kW": 1000.0, "hp": 745.699872}
RATING = Number(0, 1e5, "kW or hp", above=True, usual=plausible.RATING_KW)
UNIT = Choice(("kW", "hp"))
EFFICIENCY_PCT = Number(50, 100, "%", usual=plausible.EFFICIENCY_PCT)
EFFICIENCY_DOC = "Shaft output per DC-link power; blank: typical for the rating"
SHOWN_TAGS = 4


def shaft_watts(rating: float, unit: str) -> float:
    """Shaft output in W of a rating in kW or hp."""
    return rating * WATTS_PER_UNIT[unit]


def efficiency_pct(rating: float, unit: str, given: float | None = None) -> float:
    """The given efficiency; where it is blank, the typical one of the rating."""
    return typical_efficiency_pct(shaft_watts(rating, unit)) if given is None else given


def link_watts(rating: float, unit: str, efficiency: float | None = None) -> float:
    """Rated power of the DC link in W."""
    return shaft_watts(rating, unit) * 100.0 / efficiency_pct(rating, unit, efficiency)


def assumed_efficiencies(drives: Iterable[Mapping[str, Any]]) -> str:
    """A sentence on the drives without a typed efficiency; empty where all have one.

    Parameters
    ----------
    drives : iterable of mapping
        Checked rows of `drives`.
    """
    found = [row for row in drives if row["efficiency pct"] is None]
    if not found:
        return ""
    shown = [f"{row['tag']} {efficiency_pct(row['rating'], row['unit']):.1f} %" for row in found[:SHOWN_TAGS]]
    more = f" and {len(found) - SHOWN_TAGS} more" if len(found) > SHOWN_TAGS else ""
    return f"efficiency assumed: {', '.join(shown)}{more} ({BASIS})"


FUNCTIONS = (
    WorksheetFunction(
        name="HD_LINK_KW",
        category=CATEGORY,
        summary="Rated DC-link power of a drive from its shaft rating",
        gives="kW",
        arguments=(
            Argument("rating", RATING, "Rated shaft output"),
            Argument("shaft_unit", UNIT, "Unit of the rating"),
            Argument("efficiency_pct", EFFICIENCY_PCT, EFFICIENCY_DOC, default=None),
        ),
        implementation=lambda rating, unit, efficiency: link_watts(rating, unit, efficiency) / 1e3,
        examples=(
            Example('=HD_LINK_KW(100,"hp",95)', 78.4947, "100 x 0.745699872 / 0.95, by hand"),
            Example(
                '=HD_LINK_KW(75,"kW")',
                82.2549,
                "75 / (0.940 x 0.97): IE2, 4-pole, 75 kW of IEC 60034-30-1 and 3 % drive losses, by hand",
            ),
        ),
        notes=f"Without an efficiency: {BASIS}.",
    ),
    WorksheetFunction(
        name="HD_TYPICAL_EFFICIENCY_PCT",
        category=CATEGORY,
        summary="Efficiency from DC link to shaft that stands for one that was not given",
        gives="percent",
        arguments=(
            Argument("rating", RATING, "Rated shaft output"),
            Argument("shaft_unit", UNIT, "Unit of the rating"),
        ),
        implementation=efficiency_pct,
        examples=(Example('=HD_TYPICAL_EFFICIENCY_PCT(75,"kW")', 91.18, "94.0 % x 0.97, by hand"),),
        notes=f"{BASIS}; interpolated over the logarithm of the rating.",
    ),
)
