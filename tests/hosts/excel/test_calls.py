"""Calls that Excel makes again in a full recalculation are not computed again."""

from __future__ import annotations

import pytest

from xlcalc.hosts.excel.wrappers import wrapper
from xlcalc.hosts.memo import Memo
from xlcalc.schema.kinds import Number
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.registry import Example, WorksheetFunction


def declared(implementation, volatile=False):
    return WorksheetFunction(
        name="HD_TRIAL",
        category="Trial",
        summary="A trial",
        gives="something",
        arguments=(Argument("x", Number(-10, 10), "A number"),),
        implementation=implementation,
        examples=(Example("=HD_TRIAL(1)", 1.0),),
        volatile=volatile,
    )


@pytest.mark.parametrize(("volatile", "times"), [(False, 1), (True, 3)])
def test_equal_calls_are_computed_once_unless_volatile(volatile, times):
    seen = []
    call = wrapper(declared(lambda x: seen.append(x) or x, volatile), Memo())
    assert [call([[2.0]]) for _ in range(3)] == [2.0] * 3
    assert len(seen) == times
    call([["2"]])
    assert len(seen) == times
