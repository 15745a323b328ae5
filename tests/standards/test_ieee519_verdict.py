"""Verdicts of IEEE 519 for spectra: totals, orders, the opt-in multiplier."""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.standards.ieee519_verdict import judge_current, judge_voltage


def percent(**orders: float) -> np.ndarray:
    values = np.zeros(50)
    values[0] = 100.0
    for name, value in orders.items():
        values[int(name[1:]) - 1] = value
    return values


def test_current_orders_and_total() -> None:
    """Row below 20: 4, 4, 2 %, TDD 5 %; 3, 4, 0 % give a TDD of 5 %."""
    judgement = judge_current(percent(h5=3.0, h7=4.0), 15, 0.48)
    assert judgement.verdicts[0].value == pytest.approx(5.0)
    assert len(judgement.verdicts) == 50
    assert judgement.word == "PASS"
    assert judge_current(percent(h5=3.0, h7=4.1), 15, 0.48).word == "FAIL"


def test_multiplier_only_on_request_and_only_where_its_condition_holds() -> None:
    """5 and 7 at 1 %: order 11 may reach 2.8 % instead of 2 % (2014 Table 5, one source); TDD stays 5 %."""
    quiet, loud = percent(h5=1.0, h7=1.0, h11=2.7), percent(h5=1.1, h7=1.0, h11=2.7)
    assert judge_current(quiet, 15, 0.48, "2014").word == "FAIL"
    raised = judge_current(quiet, 15, 0.48, "2014", raise_other_limits=True)
    assert raised.word == "PASS"
    limits = {v.order: v.limit for v in raised.verdicts}
    assert (limits[None], limits[5], limits[11], limits[12]) == pytest.approx((5.0, 4.0, 2.8, 0.5))
    assert judge_current(loud, 15, 0.48, "2014", raise_other_limits=True).word == "FAIL"


def test_voltage() -> None:
    judgement = judge_voltage(percent(h5=4.0, h7=3.0), 0.48)
    assert (judgement.verdicts[0].value, judgement.verdicts[0].limit) == pytest.approx((5.0, 8.0))
    assert judgement.word == "PASS"
    assert [v.name for v in judge_voltage(percent(h5=4.0, h7=3.0), 13.8).failures] == [
        "voltage harmonic, order 5"
    ]


def test_bad_input() -> None:
    with pytest.raises(InputError, match="current_pct"):
        judge_current(np.zeros((2, 2)), 15, 0.48)
    with pytest.raises(InputError, match="isc_il"):
        judge_current(percent(), -1, 0.48)
    with pytest.raises(InputError, match="edition"):
        judge_voltage(percent(), 0.48, "2013")
