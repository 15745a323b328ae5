"""From a row of the schedule to the power of its DC link, the base of all percent values, and to a drive."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.equipment.motor_efficiency import BASIS, typical_efficiency_pct
from xlcalc.equipment.nameplate import habit
from xlcalc.network.nodal import NodalNetwork
from xlcalc.schema.assembly.front_end import front_end_of
from xlcalc.schema.nameplate import ByNameplate
from xlcalc.schema.tables import Values
from xlcalc.studies.duty.front_end import input_link_watts
from xlcalc.studies.plant import ScheduledDrive


def drive_of(row: Values, values: Mapping[str, Any], network: NodalNetwork) -> ScheduledDrive:
    """A row of the schedule on its bus of a network, with the settings of its front end."""
    bus = row["bus"]
    watts = watts_of(row, network.volts(bus) if bus in network.buses else 0.0)
    row = at_rating(row, watts)
    try:
        front_end = front_end_of(
            row, {"choke_pct": row["dc choke pct"], "load_pct": row["load pct"], **values}
        )
    except InputError as problem:
        raise problem.renamed(f"{problem.argument} of drive {row['tag']}") from None
    return ScheduledDrive(row["tag"], watts, front_end, bus, row["quantity"])


WATTS_PER_UNIT: Final = {"kW": 1000.0, "hp": 745.699872}
INPUT_AMPS: Final = "A"
"""Unit of a rating that is an input current."""
REACTORS: Final = ("line reactor pct", "dc choke pct")
SHOWN_TAGS = 4


def shaft_watts(rating: float, unit: str) -> float:
    """Shaft output in W of a rating in kW or hp.

    Raises
    ------
    InputError
        The rating is an input current.
    """
    if unit not in WATTS_PER_UNIT:
        raise InputError("unit", repr(unit), "kW or hp: an input current says nothing of the shaft")
    return rating * WATTS_PER_UNIT[unit]


def efficiency_pct(rating: float, unit: str, given: float | None = None) -> float:
    """The given efficiency; where it is blank, the typical one of the rating."""
    return typical_efficiency_pct(shaft_watts(rating, unit)) if given is None else given


def link_watts(rating: float, unit: str, efficiency: float | None = None) -> float:
    """Rated power of the DC link in W from a shaft output."""
    return shaft_watts(rating, unit) * 100.0 / efficiency_pct(rating, unit, efficiency)


def watts_of(row: Values, volts: float) -> float:
    """Rated power of the DC link of a row in W, on a bus of `volts`.

    Raises
    ------
    InputError
        The rating is an input current from which no power follows.
    """
    if row["unit"] != INPUT_AMPS:
        return link_watts(row["rating"], row["unit"], row["efficiency pct"])
    return amps_watts(row, volts, habit("supply of the input current", "declared").typical)


def amps_watts(row: Values, volts: float, strength: float) -> float:
    """The same from an input current that was stated on a supply of that R_sce."""
    if volts <= 0.0:
        raise InputError(f"volts of drive {row['tag']}", None, "the line voltage of its input current")
    try:
        front_end = front_end_of(row, {"choke_pct": row["dc choke pct"]})
        return input_link_watts(front_end, volts, row["rating"], strength)
    except NoSolutionError as problem:
        raise InputError(f"rating of drive {row['tag']}", row["rating"], f"a drive ({problem})") from None


def at_rating(row: Values, watts: float) -> Values:
    """The row with the typical percent of its rating where a nameplate gives only words."""
    words = {
        name: float(value.at(watts / 1e3)) for name in REACTORS if isinstance(value := row[name], ByNameplate)
    }
    return {**row, **words} if words else row


def assumed_efficiencies(drives: Iterable[Mapping[str, Any]]) -> str:
    """A sentence on the drives without a typed efficiency; empty where all have one.

    Parameters
    ----------
    drives : iterable of mapping
        Checked rows of `drives`.
    """
    found = [row for row in drives if row["efficiency pct"] is None and row["unit"] != INPUT_AMPS]
    if not found:
        return ""
    shown = [f"{row['tag']} {efficiency_pct(row['rating'], row['unit']):.1f} %" for row in found[:SHOWN_TAGS]]
    more = f" and {len(found) - SHOWN_TAGS} more" if len(found) > SHOWN_TAGS else ""
    return f"efficiency assumed: {', '.join(shown)}{more} ({BASIS})"
