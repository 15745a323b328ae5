"""Passive filters of a schedule: whether the columns of a row fit each other."""

from __future__ import annotations

import pandas as pd

from xlcalc.bulk.layout import Layout
from xlcalc.bulk.problems import Problem, shown
from xlcalc.errors import InputError
from xlcalc.worksheet.functions.drive_settings import FILTER_FIELDS
from xlcalc.worksheet.functions.plant import check_filter

_DEFAULTS = {field.name: float(str(field.default)) for field in FILTER_FIELDS}
_PART_OF_A_FILTER = ["filter capacitor pct", "filter reactor pct", "filter tuned order", "filter damping pct"]


def misfits(rows: pd.DataFrame, layout: Layout) -> list[Problem]:
    """A problem for each row whose filter is incomplete or does not suit its front end.

    `rows` are sound otherwise; blank cells stand for the defaults.
    """
    filled = rows.fillna({**_DEFAULTS, "line reactor pct": 0.0})
    given = (filled[_PART_OF_A_FILTER] > 0.0).any(axis=1)
    problems = []
    for row, values in filled[given].iterrows():
        try:
            check_filter(
                {str(name): value for name, value in values.items()} | {"pulses": int(values["pulses"])}
            )
        except InputError as problem:
            heading = layout.heading(problem.argument)
            problems.append(Problem(int(str(row)), heading, shown(problem.value), problem.valid))
    return problems
