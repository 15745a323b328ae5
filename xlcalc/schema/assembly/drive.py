"""From a row of the schedule to the power of its DC link, the base of all percent values, and to a drive."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from xlcalc.equipment.motor_efficiency import BASIS, typical_efficiency_pct
from xlcalc.errors import InputError
from xlcalc.schema.assembly.front_end import front_end_of
from xlcalc.schema.tables import Values
from xlcalc.studies.plant import ScheduledDrive


def drive_of(row: Values, values: Mapping[str, Any]) -> ScheduledDrive:
    """A row of the schedule with the settings of its front end."""
    watts = link_watts(row["rating"], row["unit"], row["efficiency pct"])
    try:
        front_end = front_end_of(
            row, {"choke_pct": row["dc choke pct"], "load_pct": row["load pct"], **values}
        )
    except InputError as problem:
        raise problem.renamed(f"{problem.argument} of drive {row['tag']}") from None
    return ScheduledDrive(row["tag"], watts, front_end, row["bus"], row["quantity"])


WATTS_PER_UNIT: Final = {"kW": 1000.0, "hp": 745.699872}
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
