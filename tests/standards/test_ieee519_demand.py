"""The maximum demand current: by hand, from its definition as a meter manual states it."""

from __future__ import annotations

import math

import pytest

from xlcalc.core.errors import InputError
from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.schema.values import CellError, Value
from xlcalc.standards.ieee519_demand import demand_amps, maximum_demand
from xlcalc.worksheet.catalogue import FUNCTIONS

YEAR = [81.0, 79.0, 84.0, 88.0, 92.0, 97.0, 104.0, 103.0, 95.0, 88.0, 83.0, 86.0]
"""Adds up to 1080."""


def test_mean_of_the_maxima_and_stated_growth() -> None:
    assert maximum_demand(YEAR) == 90.0
    assert maximum_demand(YEAR, 10.0) == pytest.approx(99.0)
    assert maximum_demand(YEAR, -20.0) == pytest.approx(72.0)
    assert maximum_demand([0.0] * 11 + [12.0]) == 1.0


@pytest.mark.parametrize(
    ("maxima", "growth", "words"),
    [
        (YEAR[:11], 0, "11 values"),
        ([*YEAR, 90.0], 0, "13 values"),
        ([*YEAR[:11], math.nan], 0, "month 12 of monthly_maxima"),
        ([*YEAR[:11], -1.0], 0, "month 12 of monthly_maxima"),
        ([0.0] * 12, 0, "all 0"),
        (YEAR, -91, "growth_pct"),
    ],
)
def test_anything_else_than_twelve_maxima_is_refused(maxima: list[float], growth: float, words: str) -> None:
    with pytest.raises(InputError, match=words):
        maximum_demand(maxima, growth)


@pytest.mark.parametrize(
    ("demand", "unit", "kv", "factor", "amps"),
    [
        (1000.0, "kVA", 13.8, None, 41.8370),
        (1.0, "MVA", 13.8, None, 41.8370),
        (900.0, "kW", 13.8, 0.9, 41.8370),
        (0.9, "MW", 13.8, 0.9, 41.8370),
        (500.0, "kVA", 0.48, None, 601.407),
    ],
)
def test_current_of_a_demand(demand: float, unit: str, kv: float, factor: float | None, amps: float) -> None:
    assert demand_amps(demand, unit, kv, factor) == pytest.approx(amps, rel=1e-5)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((900.0, "kW", 13.8), "power_factor is missing"),
        ((900.0, "kW", 13.8, 90.0), "power_factor is 90"),
        ((900.0, "kVA", 13.8, 0.9), "power_factor is 0.9; valid: left out for kVA"),
        ((900.0, "hp", 13.8, 0.9), "unit is hp"),
        ((900.0, "kVA", 13800.0), "kv is 13800"),
        ((0.0, "kVA", 13.8), "demand is 0"),
    ],
)
def test_a_demand_without_a_current_is_refused(arguments: tuple[object, ...], words: str) -> None:
    with pytest.raises(InputError, match=words):
        demand_amps(*arguments)  # type: ignore[arg-type]


def call(name: str, *arguments: Value) -> Value:
    return FUNCTIONS[name](list(arguments))


def test_worksheet_functions_take_rows_columns_and_blocks() -> None:
    column: Value = [[value] for value in YEAR]
    block: Value = [list(YEAR[:6]), list(YEAR[6:])]
    assert call("HD_DEMAND_AMPS", [list(YEAR)]) == call("HD_DEMAND_AMPS", column) == 90.0
    assert call("HD_DEMAND_AMPS", block, 10.0) == pytest.approx(99.0)
    twelve = call("HD_DEMAND_AMPS_FROM_POWER", column, "kVA", 13.8, None, 10.0)
    assert twelve == pytest.approx(99.0 / (math.sqrt(3) * 13.8))
    assert evaluate_formula('=HD_DEMAND_AMPS_FROM_POWER(90,"kW",13.8,0.9)', FUNCTIONS) == pytest.approx(
        100.0 / (math.sqrt(3) * 13.8)
    )


@pytest.mark.parametrize(
    ("months", "words"),
    [
        ([[v] for v in YEAR[:11]], "monthly_maxima is 11 values; valid: a range of 12 numbers"),
        ([[v] for v in [*YEAR, 90.0]], "13 values"),
        ([*([v] for v in YEAR[:11]), [None]], "with a blank cell"),
        ([*([v] for v in YEAR[:11]), [""]], "with a blank cell"),
        ([*([v] for v in YEAR[:11]), ["88 A"]], "'88 A', which is no number"),
        (90.0, "1 value"),
    ],
)
def test_a_sheet_with_a_month_too_few_is_refused_in_words(months: Value, words: str) -> None:
    result = call("HD_DEMAND_AMPS", months)
    assert isinstance(result, CellError)
    assert words in result.reason


def test_kilowatts_without_a_power_factor_are_refused_in_words() -> None:
    result = call("HD_DEMAND_AMPS_FROM_POWER", 900.0, "kW", 13.8)
    assert isinstance(result, CellError)
    assert "power_factor is missing" in result.reason
