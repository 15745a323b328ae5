"""Rules of a drive schedule as a pandera schema, made from the declared columns of `drives`.

The only module that knows pandera.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd
import pandera.pandas as pa
from pandera.errors import SchemaErrors

from xlcalc.bulk.sites.site import VOLTS_TOLERANCE
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.kinds import Choice, Number, Whole

KEY, PLACE, VOLTS_RATIO = "key of the drive", "place", "volts over nominal"
Failure = tuple[int, str, object, str]


def failures(rows: pd.DataFrame, places: set[str]) -> Iterator[Failure]:
    """Row, field, value and valid range of every value that breaks a rule.

    Parameters
    ----------
    rows : DataFrame
        Fields of the schedule and the columns `KEY` (site and tag), `PLACE` (site and bus) and `VOLTS_RATIO`.
    places : set of str
        What may stand in `PLACE`.
    """
    try:
        schema(places).validate(rows, lazy=True)
    except SchemaErrors as problem:
        cases: pd.DataFrame = problem.failure_cases
        valid = {field.name: field.kind.valid for field in DRIVES.fields}
        shared = {
            KEY: ("tag", "each tag once"),
            PLACE: ("bus", "a bus of the site"),
            VOLTS_RATIO: ("volts", f"within {VOLTS_TOLERANCE:.0%} of the nominal voltage of the bus"),
        }
        numbers = rows.index.tolist()
        cells = {name: dict(zip(numbers, rows[name].tolist(), strict=True)) for name in valid if name in rows}
        for column, case, index in zip(cases["column"], cases["failure_case"], cases["index"], strict=True):
            field, text = shared.get(column, (column, valid.get(column, "")))
            yield int(index), field, cells[field][index] if field in cells else case, text


def schema(places: set[str]) -> pa.DataFrameSchema:
    """All rules; a value that is missing where it may be is no failure. A unit was read with its rating."""
    columns = {field.name: _column(field) for field in DRIVES.fields if field.name not in ("bus", "unit")}
    columns[KEY] = pa.Column(nullable=True, unique=True, report_duplicates="all")
    columns[PLACE] = pa.Column(nullable=False, checks=pa.Check.isin(sorted(places)))
    columns[VOLTS_RATIO] = pa.Column(
        float, nullable=True, checks=pa.Check.in_range(1.0 - VOLTS_TOLERANCE, 1.0 + VOLTS_TOLERANCE)
    )
    return pa.DataFrameSchema(columns)


def _column(field: Field) -> Any:
    kind = field.kind
    checks: list[Any] = []
    dtype: Any = None
    if isinstance(kind, Number):
        dtype = float
        checks = [pa.Check.in_range(kind.low, kind.high, include_min=not kind.above)]
    elif isinstance(kind, Whole):
        dtype = float
        low, step = kind.low, kind.step
        checks = [pa.Check.in_range(low, kind.high), pa.Check(lambda s, step=step: s % step == 0.0)]
    elif isinstance(kind, Choice):
        checks = [pa.Check.isin(kind.options)]
    return pa.Column(dtype, checks=checks, nullable=not field.required, required=field.required)
