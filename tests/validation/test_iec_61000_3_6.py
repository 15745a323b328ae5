"""IEC TR 61000-3-6:2008: planning levels and the summation law (one secondary source; products computed)."""

from __future__ import annotations

import pytest

from xlcalc.standards.order_limits import order_table
from xlcalc.studies.sources import Summation, combined


@pytest.mark.parametrize(("column", "level"), [("MV", 1.092), ("HV-EHV", 0.816)])
def test_planning_level_of_order_25(column: str, level: float) -> None:
    limit = order_table("iec61000_3_6").limit(25, column)
    assert limit is not None
    assert limit.value == pytest.approx(level, rel=1e-3)


@pytest.mark.parametrize(
    ("values", "order", "total"),
    [
        ([10, 10], 7, 16.407),
        ([10, 10], 11, 14.142),
        ([5, 3], 5, 6.645),
        ([5, 3], 3, 8.0),
        ([2] * 10, 13, 2 * 10**0.5),
    ],
)
def test_summation_law(values: list[float], order: int, total: float) -> None:
    assert combined(values, order) == pytest.approx(total, rel=1e-4)


def test_the_arithmetic_sum_bounds_the_law() -> None:
    for order in range(2, 51):
        assert combined([5, 3, 1], order) <= combined([5, 3, 1], order, Summation.ARITHMETIC) == 9
