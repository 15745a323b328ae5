"""From checked settings and a checked row of the schedule to a front end."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from xlcalc.core.errors import InputError
from xlcalc.rectifier.drive import AUTOTRANSFORMER, FrontEnd
from xlcalc.rectifier.passive_filter import FilterRating
from xlcalc.schema.fields import attributes
from xlcalc.schema.inputs.drive import DRIVES, FILTER_FIELDS, MODEL_FIELDS
from xlcalc.schema.tables import Values


def front_end_values(settings: Mapping[str, object]) -> dict[str, Any]:
    """Fields of a `FrontEnd` from names for all drives, without what a row of the schedule has of its own."""
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


def phase_shift_of(values: Mapping[str, Any]) -> float | None:
    """Phase shift of settings or of a row; blank cells of a table may be NaN."""
    shift = values["phase shift deg"]
    return None if shift is None or shift != shift else float(shift)


def front_end_of(row: Values, values: Mapping[str, Any]) -> FrontEnd:
    """The front end of a row; what it refuses goes by the name of the column."""
    try:
        return FrontEnd(
            row["pulses"],
            1.0,
            row["line reactor pct"],
            filter=filter_of(row),
            phase_shift_deg=phase_shift_of(row),
            **values,
        )
    except InputError as problem:
        spaced = problem.argument.replace("_xr", " x/r").replace("_", " ")
        raise problem.renamed(_COLUMNS.get(problem.argument, spaced)) from None


def isolation_remarks(front_ends: Iterable[FrontEnd]) -> tuple[str, ...]:
    """What a reader of a verdict must know of autotransformers ahead of the drives."""
    kinds = {front_end.pulses for front_end in front_ends if front_end.transformer_kind == AUTOTRANSFORMER}
    multi = sorted(pulses for pulses in kinds if pulses > 6)
    if not multi:
        return ()
    pulses = ", ".join(str(each) for each in multi)
    return (
        f"autotransformers of drives with {pulses} pulses isolate nothing: reactors that block the zero "
        "sequence of each bridge are taken as perfect",
    )
