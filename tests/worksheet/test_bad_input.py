"""Every argument of every function refuses what it must, naming the argument; generated from the registry."""

from __future__ import annotations

from functools import cache

import pytest

from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.schema.values import CellError, ErrorCode, Value
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.registry import WorksheetFunction

CASES = [
    pytest.param(function, index, bad, id=f"{name}-{argument.name}-{number}")
    for name, function in FUNCTIONS.items()
    for index, argument in enumerate(function.arguments)
    for number, bad in enumerate(argument.kind.bad_values)
]
REQUIRED = [
    pytest.param(function, index, id=f"{name}-{argument.name}")
    for name, function in FUNCTIONS.items()
    for index, argument in enumerate(function.arguments)
    if argument.required
]


@cache
def good_arguments(function: WorksheetFunction) -> tuple[Value, ...]:
    """Raw arguments of the function's first example, captured as the function receives them."""
    seen: list[list[Value]] = []

    class Recorder:
        name, min_args, max_args = function.name, function.min_args, function.max_args
        volatile, shape = function.volatile, function.shape

        def __call__(self, raw: list[Value]) -> Value:
            seen.append(list(raw))
            return function(raw)

    evaluate_formula(function.examples[0].formula, {**FUNCTIONS, function.name: Recorder()})
    return tuple(seen[-1])


@pytest.mark.parametrize(("function", "index", "bad"), CASES)
def test_bad_value_is_refused_by_name(function, index, bad):
    raw = list(good_arguments(function))
    raw += [None] * (index + 1 - len(raw))
    raw[index] = bad.raw
    result = function(raw)
    assert isinstance(result, CellError), result
    assert result.code == (ErrorCode.VALUE if bad.wrong_kind else ErrorCode.NUM)
    assert function.arguments[index].name in result.reason
    assert "valid:" in result.reason


@pytest.mark.parametrize(("function", "index"), REQUIRED)
def test_blank_required_argument_is_reported_as_missing(function, index):
    raw = list(good_arguments(function))
    raw[index] = None
    result = function(raw)
    assert isinstance(result, CellError)
    assert result.code == ErrorCode.VALUE
    assert f"{function.arguments[index].name} is missing" in result.reason


@pytest.mark.parametrize("function", FUNCTIONS.values(), ids=FUNCTIONS)
def test_an_error_in_any_argument_passes_through(function):
    error = CellError(ErrorCode.DIV0, "from elsewhere")
    for index in range(len(function.arguments)):
        raw = list(good_arguments(function))
        raw += [None] * (index + 1 - len(raw))
        raw[index] = error
        assert function(raw) == error
        raw[index] = [[1.0, error]]
        assert function(raw) == error


@pytest.mark.parametrize("function", FUNCTIONS.values(), ids=FUNCTIONS)
def test_wrong_argument_count_is_an_error(function):
    if function.max_args is not None:
        result = function([1.0] * (function.max_args + 1))
        assert isinstance(result, CellError)
        assert "takes" in result.reason
    if function.min_args:
        assert isinstance(function([]), CellError)


def test_every_argument_states_unit_or_range():
    for function in FUNCTIONS.values():
        for argument in function.arguments:
            assert isinstance(argument, Argument)
            assert argument.kind.valid
