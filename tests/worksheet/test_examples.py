"""The worked example of every function, evaluated as a user would type it."""

from __future__ import annotations

import pytest

from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.worksheet.catalogue import FUNCTIONS

EXAMPLES = [
    pytest.param(example, id=f"{name}-{number}")
    for name, function in FUNCTIONS.items()
    for number, example in enumerate(function.examples)
]


@pytest.mark.parametrize("example", EXAMPLES)
def test_example(example):
    result = evaluate_formula(example.formula, FUNCTIONS)
    if isinstance(example.result, str):
        assert result == example.result
    else:
        assert result == pytest.approx(example.result, rel=2e-4)
