"""Passive filters of a schedule: whether the columns of a row fit each other."""

from __future__ import annotations

import pandas as pd

from xlcalc.bulk.problems import Problem, shown
from xlcalc.errors import InputError
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.worksheet.functions.drive_settings import FILTER_FIELDS, filter_of

_DEFAULTS = {field.name: float(str(field.default)) for field in FILTER_FIELDS}


def misfits(rows: pd.DataFrame) -> list[Problem]:
    """A problem for each row whose filter is incomplete or does not suit its front end.

    `rows` are sound otherwise; blank cells stand for the defaults.
    """
    filled = rows.fillna(_DEFAULTS)
    given = (filled[["filter capacitor pct", "filter reactor pct", "filter tuned order"]] > 0.0).any(axis=1)
    given |= filled["filter damping pct"] > 0.0
    problems = []
    for row, values in filled[given].iterrows():
        try:
            FrontEnd(
                int(values["pulses"]),
                1.0,
                float(values["line reactor pct"]) if pd.notna(values["line reactor pct"]) else 0.0,
                filter=filter_of({name: float(values[name]) for name in _DEFAULTS}),
            )
        except InputError as problem:
            name = problem.argument.replace("reactor_pct", "line reactor pct").replace("_", " ")
            problems.append(Problem(int(str(row)), name, shown(problem.value), problem.valid))
    return problems
