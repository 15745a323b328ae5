"""Between Calc and a function: values both ways, errors in every cell of an array, equal calls once."""

from __future__ import annotations

import math

import pytest

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.hosts.libreoffice import bridge
from xlcalc.schema.kinds import Number
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction


def declared(implementation, shape=None, volatile=False):
    return WorksheetFunction(
        name="HD_TRIAL",
        category="Trial",
        summary="A trial",
        gives="something",
        arguments=(
            Argument("x", Number(-10, 10), "A number"),
            Argument("y", Number(0, 9), "Another", default=2.0),
        ),
        implementation=implementation,
        examples=(Example("=HD_TRIAL(1)", 1.0),),
        shape=shape,
        volatile=volatile,
    )


@pytest.fixture
def method(monkeypatch):
    def make(implementation, **options):
        monkeypatch.setattr(bridge, "FUNCTIONS", {"HD_TRIAL": declared(implementation, **options)})
        return bridge.FunctionBridge().method("HD_TRIAL")

    return make


def test_equal_calls_are_computed_once_and_types_are_told_apart(method):
    seen = []
    call = method(lambda x, y: seen.append((x, y)) or x + y)
    assert [call(None, 1.0, None), call(None, 1.0, None)] == [3.0, 3.0]
    with pytest.raises(bridge.ErrorValue, match="x is TRUE, which is no number"):
        call(None, True, None)
    assert len(seen) == 1


def test_volatile_function_is_computed_anew(method):
    seen = []
    call = method(lambda x, y: seen.append(x) or x, volatile=True)
    call(None, 1.0, None)
    call(None, 1.0, None)
    assert len(seen) == 2


def test_left_out_and_blank_are_the_default(method):
    call = method(lambda x, y: y)
    assert call(None, 1.0, None) == call(None, 1.0, "") == call(None, 1.0, (("",),)) == 2.0
    assert call(None, ((1.0,),), 3.0) == 3.0


def test_error_values(method):
    assert math.isnan(method(lambda x, y: math.inf)(None, 1.0, None))
    with pytest.raises(bridge.ErrorValue, match="x is 'text'"):
        method(lambda x, y: x)(None, "text", None)

    def impossible(x, y):
        raise NoSolutionError("none")

    assert math.isnan(method(impossible)(None, 1.0, None))


def test_error_fills_the_array(method):
    def refused(x, y):
        raise InputError("x", x, "another")

    call = method(refused, shape=Shape(3, ("a", "b")))
    assert all(math.isnan(cell) for row in call(None, 1.0, None) for cell in row)
    assert [len(row) for row in call(None, 1.0, None)] == [2, 2, 2]
    open_ended = method(refused, shape=Shape(None, ("a", "b")))
    assert len(open_ended(None, ((1.0,),), None)) == 1


def test_array_cells_are_plain(method):
    call = method(lambda x, y: [[x, None], ["a", math.nan]], shape=Shape(2, ("a", "b")))
    (first, second) = call(None, 1.0, None)
    assert first == (1.0, "")
    assert second[0] == "a"
    assert math.isnan(second[1])
