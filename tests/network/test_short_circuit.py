"""Short-circuit arithmetic."""

from __future__ import annotations

import pytest

from xlcalc.core.errors import InputError
from xlcalc.network import short_circuit as sc


def test_series_combination_is_the_sum_of_reciprocals() -> None:
    assert sc.series_level([500e6, 30e6, 20e6]) == pytest.approx(1 / (1 / 500e6 + 1 / 30e6 + 1 / 20e6))
    assert sc.series_level([7e6]) == pytest.approx(7e6, rel=1e-15)


def test_the_utility_in_series_lowers_the_resonance() -> None:
    transformer = sc.transformer_level(1e6, 5)
    alone = sc.resonance_order(transformer, 300e3)
    assert sc.resonance_order(sc.series_level([transformer, 100e6]), 300e3) < alone


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: sc.transformer_level(0, 5), "rating_va"),
        (lambda: sc.transformer_level(1e6, 0), "impedance_pct"),
        (lambda: sc.transformer_level(1e6, 500), "impedance_pct"),
        (lambda: sc.series_level([]), "levels_va"),
        (lambda: sc.series_level([1e6, -1e6]), "levels_va"),
        (lambda: sc.short_circuit_amps(1e6, 0), "volts"),
        (lambda: sc.resonance_order(1e6, 0), "capacitor_var"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument
