"""The verdict type."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlcalc.core.errors import InputError
from xlcalc.standards.loader import Limit, Origin, Verified
from xlcalc.standards.verdict import Judgement, Verdict, printed, within

ORIGIN = Origin("Standard", "2001", "Table 1", Verified.CROSS_CHECKED)
MEMORY = dataclasses.replace(ORIGIN, clause="Table 2", verified=Verified.FROM_MEMORY, confidence="high")
LOW = dataclasses.replace(MEMORY, confidence="low")


def verdict(value: float, limit: float, origin: Origin = ORIGIN, order: int | None = 5) -> Verdict:
    return Verdict.against("current harmonic", order, value, Limit(limit, origin))


def test_the_limit_itself_passes() -> None:
    assert verdict(4.0, 4.0).passes is True
    assert verdict(4.0001, 4.0).passes is False


def test_the_binding_item_has_the_smallest_relative_margin() -> None:
    """1.4 of 1.5 binds although 9 of 12 has the larger margin in points and 0.2 of 0.3 the smaller."""
    items = (verdict(9, 12, order=5), verdict(1.4, 1.5, order=17), verdict(0.2, 0.3, order=35))
    judgement = Judgement(items)
    assert judgement.binding.order == 17
    assert judgement.passes is True
    assert "PASS: binding current harmonic, order 17: 1.40 % against 1.5 %" in judgement.summary


def test_one_failure_fails_all() -> None:
    judgement = Judgement((verdict(1, 2), verdict(3, 2), verdict(1, 2, LOW)))
    assert judgement.passes is False
    assert len(judgement.failures) == 1
    assert judgement.summary.startswith("FAIL: 1 of 3 limits exceeded; binding")


def test_low_confidence_gives_no_pass_or_fail_unless_accepted() -> None:
    assert verdict(1, 2, LOW).passes is None
    assert verdict(3, 2, LOW).word == "NO VERDICT"
    assert Judgement((verdict(1, 2), verdict(1, 2, LOW))).passes is None
    assert dataclasses.replace(verdict(3, 2, LOW), accept_low_confidence=True).passes is False


def test_a_verdict_from_an_unverified_row_says_so() -> None:
    assert Judgement((verdict(1, 2),)).note == ""
    note = Judgement((verdict(1, 2), verdict(1, 2, MEMORY), verdict(1, 3, MEMORY))).note
    assert note == "Verify against a licensed copy: Standard-2001 Table 2: from memory (high)."


def test_nothing_judged_is_no_pass() -> None:
    with pytest.raises(InputError, match="one verdict or more"):
        Judgement(())


@given(st.floats(1e-3, 1e4), st.floats(-2e-3, 2e-3))
def test_the_printed_digits_never_contradict_the_verdict(limit: float, away: float) -> None:
    value = limit * (1.0 + away)
    for show in (None, "{:.2f}".format, "{:.4g}".format, "{:.0f}".format):
        left, right = printed(value, limit, show)
        assert (float(left) <= float(right)) is within(value, limit)


def test_digits_are_added_only_where_they_are_needed() -> None:
    assert printed(12.004, 12.0) == ("12.004", "12")
    assert printed(12.0000004, 12.0) == ("12.0000004", "12")
    assert printed(12.0 + 1e-12, 12.0) == ("12.00", "12")
    assert printed(11.6, 12.0) == ("11.60", "12")
    assert printed(1.0951, 1.0953) == ("1.095", "1.0953")
    assert "12.004 % against 12 %, FAIL" in Verdict.against("TDD", None, 12.004, Limit(12.0, ORIGIN)).text


def test_a_total_that_lacks_orders_fails_but_never_passes() -> None:
    low = Verdict.against("TDD", None, 3.0, Limit(5.0, ORIGIN), at_least=True)
    high = Verdict.against("TDD", None, 6.0, Limit(5.0, ORIGIN), at_least=True)
    assert (low.word, high.word) == ("NO VERDICT", "FAIL")
    assert "at least 3.00 % against 5 %, NO VERDICT" in low.text
    gap = "orders 14 to 50 not given"
    assert Judgement((low,), gaps=(gap,)).reason == gap
    failing = Judgement((high, low), gaps=(gap,))
    assert failing.word == "FAIL"
    assert failing.reason == ""
    assert failing.summary.endswith(gap)
