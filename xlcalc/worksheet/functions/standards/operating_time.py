"""Functions for operating time: states with their share of it."""

from __future__ import annotations

import numpy as np

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray
from xlcalc.schema.kinds import Number
from xlcalc.schema.values import Grid
from xlcalc.standards.statistics import duration_curve, kept_for
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.number_ranges import Row
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

CATEGORY = "Operating time"
VALUES = Argument(
    "values",
    Row(blanks=True),
    "Value in each state, such as the TDD of each case; blank where the state takes no time",
)
SHARES = Argument(
    "shares_pct",
    Row(blanks=True, negative=False),
    "Share of the time of each state, percent, together 100; blank or 0: the state is left out",
)


def _states(values: FloatArray, shares_pct: FloatArray) -> tuple[list[float], list[float]]:
    if values.size != shares_pct.size:
        raise InputError("shares_pct", f"{shares_pct.size} cells", f"as many as the {values.size} values")
    present = np.nan_to_num(shares_pct) > 0.0
    missing = np.flatnonzero(present & np.isnan(values))
    if missing.size:
        share = shares_pct[missing[0]]
        raise InputError(
            "values", f"blank in state {missing[0] + 1}", f"a number, as its share is {share:g} %"
        )
    return values[present].tolist(), shares_pct[present].tolist()


def _percentile(values: FloatArray, shares_pct: FloatArray, percent: float) -> float:
    return kept_for(*_states(values, shares_pct), percent)


def _curve(values: FloatArray, shares_pct: FloatArray) -> Grid:
    return [[value, reached] for value, reached in duration_curve(*_states(values, shares_pct))]


_BY_HAND = "6000, 2400 and 360 h of 8760 h, by hand"

FUNCTIONS = (
    WorksheetFunction(
        name="HD_TIME_PERCENTILE",
        category=CATEGORY,
        summary="Value that is not exceeded in a share of the time, from states that each take a part of it",
        gives="the value of one of the states",
        arguments=(
            VALUES,
            SHARES,
            Argument("percent", Number(0, 100, "%", above=True), "Share of the time", default=95.0),
        ),
        implementation=_percentile,
        examples=(
            Example("=HD_TIME_PERCENTILE({3;4.5;8},{68.5;27.4;4.1})", 4.5, _BY_HAND),
            Example("=HD_TIME_PERCENTILE({3;4.5;8},{68.5;27.4;4.1},99)", 8.0, _BY_HAND),
        ),
        notes="A state that reaches over the mark counts whole. An estimate of the percentile that a "
        "recorder would find: within a state nothing varies.",
    ),
    WorksheetFunction(
        name="HD_DURATION_CURVE",
        category=CATEGORY,
        summary="States in falling order, each with the share of the time in which its value is exceeded",
        gives="rows of value, and percent of the time in which it is reached or exceeded",
        arguments=(VALUES, SHARES),
        implementation=_curve,
        shape=Shape(None, ("value", "reached or exceeded % of time")),
        examples=(Example("=INDEX(HD_DURATION_CURVE({3;8;4.5},{70;5;25}),2,2)", 30.0, "5 + 25, by hand"),),
    ),
)
