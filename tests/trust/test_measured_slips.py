"""Slips in a log of an instrument: what cannot be what it is said to be has no verdict, and says why.

What is expected follows from the slip: the values of a channel that is not connected, a hundredth of what was
measured, or a base of another voltage level. Values are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from xlcalc.measurement.aggregation import Series
from xlcalc.measurement.judgement import judge_ieee519_current, judge_levels
from xlcalc.standards.verdict import FAIL, NO_VERDICT, PASS

Change = Callable[[Series], Series]
TEN, THREE = "10 min", "3 s"
COUNT = {TEN: 1_008, THREE: 28_800}


def series(phase: str, length: str, fundamental: float, fifth: float) -> Series:
    """A week of 10-minute values, or a day of 3 s values; order 5 as given, the others small."""
    count = COUNT[length]
    percent = np.full((count, 50), 0.05)
    percent[:, 0], percent[:, 4] = fundamental, fifth
    step = np.timedelta64(600 if length == TEN else 3, "s")
    time = np.datetime64("2026-03-02T00:00:00") + np.arange(count) * step
    return Series(
        phase=phase,
        length=length,
        time=time,
        percent=percent,
        total=None,
        flagged=np.zeros(count, bool),
    )


def times(factor: float) -> Change:
    return lambda one: replace(one, percent=factor * one.percent)


def total(value: float) -> Change:
    return lambda one: replace(one, total=np.full(one.time.size, value))


def dead(one: Series) -> Series:
    return times(0.0)(one) if one.phase == "b" else one


SLIPS: dict[str, tuple[Change, str]] = {
    "a channel that is not connected": (dead, "phase b, 10 min values: every order is 0 all the time"),
    "fractions": (times(0.01), "phase a, 10 min values: the fundamental is at most"),
    "a transformer of 120/5 left out": (times(1 / 24), "is it the ratio of a transformer"),
    "a total that is a fraction": (total(0.05), "the total distortion is 0.05 % at 2026-03-02T00:00:00"),
}


def voltages(change: Change, fifth: float = 4.0) -> tuple[str, str]:
    found = judge_levels([change(series(phase, TEN, 100.0, fifth)) for phase in "abc"], "LV")
    return found.word, found.reason


def currents(change: Change) -> tuple[str, str]:
    week = [change(series(phase, length, 60.0, 6.0)) for phase in "abc" for length in (TEN, THREE)]
    found = judge_ieee519_current(week, 60.0, 0.48)
    return found.word, found.reason


def test_what_was_measured_is_judged() -> None:
    assert voltages(lambda one: one)[0] == PASS
    assert voltages(total(6.1))[0] == PASS
    assert voltages(lambda one: one, fifth=25.0)[0] == FAIL
    assert currents(lambda one: one)[0] == PASS


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_has_no_verdict(name: str) -> None:
    change, said = SLIPS[name]
    word, reason = voltages(change)
    assert word == NO_VERDICT
    assert said in reason


def test_fractions_without_a_fundamental() -> None:
    def slip(one: Series) -> Series:
        percent = 0.01 * one.percent
        percent[:, 0] = np.nan
        return replace(one, percent=percent)

    word, reason = voltages(slip)
    assert word == NO_VERDICT
    assert "did you mean 4 %" in reason


def test_a_base_of_another_voltage_level() -> None:
    """60 A of 2,300 A, which are those of the low-voltage side of 12.47 kV."""
    word, reason = currents(times(0.48 / 12.47))
    assert word == NO_VERDICT
    assert "a base of another voltage level" in reason
