"""Verdicts by percentiles: numpy's percentile, counts of days and weeks by hand, multipliers by the table.

The multipliers are those of `ieee519_statistics.csv`; limits of Isc/IL below 20 by edition 2014: order 5 4 %,
TDD 5 %, cross-checked in several secondary sources.
"""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.measurement.aggregation import Series
from xlcalc.measurement.judgement import (
    judge_ieee519_current,
    judge_ieee519_voltage,
    judge_levels,
)
from xlcalc.measurement.percentiles import percentile_bounds
from xlcalc.standards.statistics import IEEE_519, statistics

START = np.datetime64("2026-03-02T10:00", "ns")
SECONDS = {"3 s": 3, "10 min": 600}
WEEK = {"3 s": 7 * 28_800, "10 min": 1_008}
ISC_IL, KV, EDITION = 15.0, 13.8, "2014"


def series(length, count, fifth=1.0, phase="a", orders=50, flagged=None, keep=None):
    percent = np.full((count, orders), 0.01)
    percent[:, 0], percent[:, 4] = 100.0, fifth
    time = START + (np.arange(count) * SECONDS[length]).astype("timedelta64[s]")
    rows = slice(None) if keep is None else keep
    return Series(
        phase=phase,
        length=length,
        time=time[rows],
        percent=percent[rows],
        flagged=None if flagged is None else flagged[rows],
    )


def day(fifth=1.0, **more):
    return series("3 s", 28_800, fifth, **more)


def week(fifth=1.0, **more):
    return series("10 min", 1_008, fifth, **more)


def judged(*given, **more):
    return judge_ieee519_current(given, ISC_IL, KV, EDITION, phases=("a",), **more)


def raised(count, high, number):
    """A fifth of 1 % but for `number` values of `high`."""
    values = np.ones(count)
    values[np.random.default_rng(1).permutation(count)[:number]] = high
    return values


def test_percentile_is_that_of_numpy():
    values = np.random.default_rng(2).random((1_008, 3))
    for percent in (95, 99, 100, 50.5):
        bounds = percentile_bounds(values, percent, 1_008)
        expected = np.percentile(values, percent, axis=0, method="inverted_cdf")
        assert bounds.low.tolist() == bounds.high.tolist() == bounds.observed.tolist() == expected.tolist()


def test_multipliers_are_those_of_the_table():
    found = [
        (s.window, s.percentile, s.period, s.multiplier) for s in statistics(IEEE_519, "current", "2022")
    ]
    assert found == [("3 s", 99, "day", 2.0), ("10 min", 99, "week", 1.5), ("10 min", 95, "week", 1.0)]
    with pytest.raises(InputError, match="2014, 2022"):
        statistics(IEEE_519, "current", "1992")


@pytest.mark.parametrize(
    ("high", "number", "word", "rule"),
    [
        (5.9, 50, "PASS", ""),  # 50 of 1008 above 4 %: 95 % are 958, 958 keep it
        (5.9, 51, "FAIL", "95 % of 10 min"),
        (6.1, 10, "PASS", ""),  # 99 % are 998: 10 may exceed 1.5 x 4 %
        (6.1, 11, "FAIL", "99 % of 10 min"),
    ],
)
def test_a_week_of_ten_minutes(high, number, word, rule):
    judgement = judged(day(), week(raised(1_008, high, number)))
    assert judgement.word == word
    assert all(rule in failure.quantity for failure in judgement.failures)


@pytest.mark.parametrize(("number", "word"), [(288, "PASS"), (289, "FAIL")])
def test_a_day_of_three_seconds(number, word):
    """1 % of 28800 are 288; the limit is 2 x 4 %."""
    judgement = judged(day(raised(28_800, 8.1, number)), week())
    assert judgement.word == word
    assert {failure.order for failure in judgement.failures} <= {5, None}


def test_every_missing_value_counts_against_a_pass():
    """50 may exceed in a week: 40 do, so that 10 may be missing."""
    values = raised(1_008, 5.9, 40)
    low = np.flatnonzero(values == 1.0)
    passes = judged(day(), week(values, keep=np.setdiff1d(np.arange(1_008), low[:10])))
    assert passes.word == "PASS"
    assert "998 of 1008 values known" in passes.explanation
    doubt = judged(day(), week(values, keep=np.setdiff1d(np.arange(1_008), low[:11])))
    assert doubt.word == "NO VERDICT"
    assert "997 of 1008 values known" in doubt.reason


def test_an_hour_passes_nothing_and_can_fail():
    """Six values of 10 minutes are no week; 51 that exceed are too many for any week."""
    assert judged(day(), series("10 min", 6)).word == "NO VERDICT"
    assert judged(day(), series("10 min", 51, 5.0)).word == "FAIL"
    assert judged(day(), series("10 min", 50, 5.0)).word == "NO VERDICT"


def test_flagged_values_are_left_out_and_named():
    flags = np.zeros(1_008, bool)
    flags[:50] = True
    values = np.where(flags, 50.0, 1.0)
    judgement = judged(day(), week(values, flagged=flags))
    assert judgement.word == "PASS"
    assert "958 of 1008 values known, 50 flagged and left out" in judgement.explanation
    flags[:100] = True
    many = judged(day(), week(np.where(flags, 50.0, 1.0), flagged=flags))
    assert many.word == "NO VERDICT"
    assert "100 flagged and, being many, taken as missing" in many.reason


def test_what_was_not_measured_is_no_pass():
    only_week = judged(week())
    assert only_week.word == "NO VERDICT"
    assert "no 3 s values" in only_week.reason
    missing_phase = judge_ieee519_current([day(), week()], ISC_IL, KV, EDITION)
    assert missing_phase.word == "NO VERDICT"
    assert "phase b: no 10 min values" in missing_phase.reason
    short = judged(day(orders=40), week(orders=40))
    assert short.word == "NO VERDICT"
    assert "orders 41 to 50 not known" in short.reason
    assert judged(day(orders=40), week(5.0, orders=40)).word == "FAIL"


def test_a_rest_after_complete_days_can_only_fail():
    rest = np.ones(28_800 + 1_000)
    judgement = judged(series("3 s", rest.size, rest), week())
    assert judgement.word == "PASS"
    assert "this rest can only fail" in judgement.explanation
    rest[-300:] = 9.0
    assert judged(series("3 s", rest.size, rest), week()).word == "FAIL"


def test_near_an_edge_the_harder_row_counts():
    """Isc/IL 21 is near 20: order 5 at 5 % keeps 7 % but not 4 %."""
    judgement = judge_ieee519_current([day(), week(5.0)], 21.0, KV, EDITION, phases=("a",))
    assert judgement.word == "FAIL"
    assert "harder row Isc/IL < 20" in judgement.explanation


def test_voltage_and_en50160():
    """IEEE 519 at 13.8 kV: 3 % in 95 % of a week; EN 50160 LV: 6 % of order 5 (cross-checked)."""
    voltage = judge_ieee519_voltage([day(), week(raised(1_008, 3.1, 51))], 13.8, phases=("a",))
    assert voltage.word == "FAIL"
    assert judge_ieee519_voltage([day(), week()], 13.8, phases=("a",)).word == "PASS"
    assert judge_levels([week(raised(1_008, 6.1, 50))], phases=("a",)).word == "PASS"
    assert judge_levels([week(raised(1_008, 6.1, 51))], phases=("a",)).word == "FAIL"
    assert judge_levels([week(orders=40)], phases=("a",)).word == "PASS"
    assert "not known" in judge_levels([week(orders=20)], phases=("a",)).reason


def test_times_that_do_not_ascend_are_refused():
    good = week()
    with pytest.raises(InputError, match="each once"):
        Series(phase="a", length="10 min", time=good.time[[0, 1, 1]], percent=good.percent[:3])
    with pytest.raises(InputError, match="twice"):
        judged(week(), week())
