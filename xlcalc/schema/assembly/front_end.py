"""From checked settings and a checked row of the schedule to a front end."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from xlcalc.errors import InputError
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.rectifier.passive_filter import FilterRating
from xlcalc.schema.tables import Values


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


_COLUMNS = {"reactor_pct": "line reactor pct", "choke_pct": "dc choke pct"}


def check_filter(row: Values) -> None:
    """Raises `InputError` where the passive filter of a row is incomplete or does not suit its front end."""
    front_end_of(row, {})


def front_end_of(row: Values, values: Mapping[str, Any]) -> FrontEnd:
    """The front end of a row; what it refuses goes by the name of the column."""
    try:
        return FrontEnd(row["pulses"], 1.0, row["line reactor pct"], filter=filter_of(row), **values)
    except InputError as problem:
        spaced = problem.argument.replace("_xr", " x/r").replace("_", " ")
        raise problem.renamed(_COLUMNS.get(problem.argument, spaced)) from None
