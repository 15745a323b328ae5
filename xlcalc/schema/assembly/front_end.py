"""From checked settings and a checked row of the schedule to a front end."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from xlcalc.errors import InputError
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.rectifier.passive_filter import FilterRating
from xlcalc.schema.fields import attributes
from xlcalc.schema.inputs.drive import DRIVES, FILTER_FIELDS, MODEL_FIELDS
from xlcalc.schema.tables import Values


def front_end_values(settings: Mapping[str, object]) -> dict[str, Any]:
    """Fields of a `FrontEnd` from the names that concern the drive itself, without its filter."""
    return attributes(MODEL_FIELDS, settings, FrontEnd)


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
    return FilterRating(**attributes(FILTER_FIELDS, values, FilterRating))


_COLUMNS = attributes(DRIVES.fields, {field.name: field.name for field in DRIVES.fields}, FrontEnd)
"""Column of the schedule by attribute."""


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
