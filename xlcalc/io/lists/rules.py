"""Which values of a drive schedule break a rule: declared ranges, tags that stand twice, unknown buses."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from xlcalc.io.plants.site import VOLTS_TOLERANCE
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.kinds import Choice, Number, Whole

KEY, PLACE, VOLTS_RATIO = "key of the drive", "place", "volts over nominal"
Failure = tuple[int, str, object, str]


def failures(rows: pd.DataFrame, places: set[str]) -> Iterator[Failure]:
    """Row, field, value and valid range of every value that breaks a rule.

    A value that is missing where it may be breaks none. A unit was read with its rating.

    Parameters
    ----------
    rows : DataFrame
        Fields of the schedule and the columns `KEY` (site and tag), `PLACE` (site and bus) and `VOLTS_RATIO`.
    places : set of str
        What may stand in `PLACE`.
    """
    for field in DRIVES.fields:
        if field.name not in ("bus", "unit"):
            yield from _failed(rows, _outside(field, rows[field.name]), field.name, field.kind.valid)
    twice = rows[KEY].notna() & rows[KEY].duplicated(keep=False)
    yield from _failed(rows, twice.to_numpy(), "tag", "each tag once")
    yield from _failed(rows, ~rows[PLACE].isin(places).to_numpy(), "bus", "a bus of the site")
    ratio = rows[VOLTS_RATIO].to_numpy(dtype=float)
    far = (ratio < 1.0 - VOLTS_TOLERANCE) | (ratio > 1.0 + VOLTS_TOLERANCE)
    yield from _failed(rows, far, "volts", f"within {VOLTS_TOLERANCE:.0%} of the nominal voltage of the bus")


def _failed(rows: pd.DataFrame, wrong: np.ndarray, field: str, valid: str) -> Iterator[Failure]:
    for number, value in rows.loc[wrong, field].items():
        yield int(str(number)), field, value, valid


def _outside(field: Field, values: pd.Series) -> np.ndarray:
    """Which values are missing where one is required, or outside the range of their kind."""
    missing = values.isna().to_numpy()
    wrong = missing if field.required else np.zeros(len(values), dtype=bool)
    kind = field.kind
    if isinstance(kind, Choice):
        return wrong | (~values.isin(kind.options).to_numpy() & ~missing)
    if isinstance(kind, Number | Whole):
        numbers = values.to_numpy(dtype=float)
        below = numbers <= kind.low if isinstance(kind, Number) and kind.above else numbers < kind.low
        wrong = wrong | below | (numbers > kind.high)
        if isinstance(kind, Whole):
            wrong = wrong | ((numbers % kind.step != 0.0) & ~missing)
    return wrong
