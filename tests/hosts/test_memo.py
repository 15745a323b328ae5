"""Equal calls are computed once in a program with live cells; what a cell tells apart stays apart."""

from __future__ import annotations

import pytest

from xlcalc.hosts import memo as memo_module
from xlcalc.hosts.memo import Memo
from xlcalc.schema.values import CellError, ErrorCode


@pytest.fixture
def calls():
    memo, computed = Memo(), []

    def call(*arguments):
        def compute():
            computed.append(arguments)
            return float(len(computed))

        return memo.result("HD_X", arguments, compute)

    call.computed = computed
    return call


def test_equal_arguments_are_computed_once(calls):
    assert [calls(1.0, [[2.0, "a"]]), calls(1.0, [[2.0, "a"]])] == [1.0, 1.0]
    assert len(calls.computed) == 1


@pytest.mark.parametrize(("one", "other"), [(1.0, True), (0.0, None), ("", None), ("1", 1.0)])
def test_types_are_told_apart_alone_and_in_ranges(calls, one, other):
    assert calls(one) != calls(other)
    assert calls([[5.0, one]]) != calls([[5.0, other]])


def test_error_among_the_arguments_is_computed_anew(calls):
    error = CellError(ErrorCode.NA)
    assert calls(error) != calls(error)


def test_it_does_not_grow_without_end(calls, monkeypatch):
    monkeypatch.setattr(memo_module, "SIZE", 2)
    assert [calls(1.0), calls(2.0), calls(3.0), calls(1.0), calls(3.0)] == [1.0, 2.0, 3.0, 4.0, 3.0]
