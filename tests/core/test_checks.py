"""Checks of single numbers."""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError


@pytest.mark.parametrize("value", ["4", None, True, [4], 4 + 1j])
def test_what_is_no_number_is_of_the_wrong_kind(value: object) -> None:
    for check in (lambda: number("x", value), lambda: whole_number("x", value, least=1)):
        with pytest.raises(InputError) as caught:
            check()
        assert caught.value.wrong_kind


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), 0.0, -1, 10.5])
def test_outside_the_range(value: float) -> None:
    with pytest.raises(InputError, match=r"x is .*; valid: above 0 up to 10 kV") as caught:
        number("x", value, unit="kV", above=0, most=10)
    assert not caught.value.wrong_kind


@pytest.mark.parametrize("value", [2.5, 0, 7, float("nan"), float("inf")])
def test_whole_numbers_only(value: float) -> None:
    with pytest.raises(InputError, match="a whole number from 1 to 6"):
        whole_number("x", value, least=1, most=6)


def test_numpy_numbers_count() -> None:
    assert number("x", np.float64(2.5)) == 2.5
    assert whole_number("x", np.int64(5), least=1) == whole_number("x", 5.0, least=1) == 5
