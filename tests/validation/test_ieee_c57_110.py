"""IEEE C57.110 example (spectrum recalled; results computed, published rounding 2.72-2.73)."""

from __future__ import annotations

import pytest

from xlcalc.equipment.transformer import added_load_watts, permitted_dry
from xlcalc.spectrum import Spectrum

SPECTRUM = Spectrum.from_orders(
    [(1, 0.978), (5, 0.171), (7, 0.108), (11, 0.044), (13, 0.028), (17, 0.015), (19, 0.0098)]
)


def test_harmonic_loss_factor() -> None:
    assert SPECTRUM.loss_factor == pytest.approx(2.724, rel=3e-3)


@pytest.mark.parametrize(("eddy_pu", "percent"), [(0.15, 90.35), (0.10, 92.98), (0.05, 96.13)])
def test_permitted_current_of_a_dry_transformer(eddy_pu: float, percent: float) -> None:
    """sqrt((1 + P_EC-R) / (1 + F_HL P_EC-R))."""
    assert permitted_dry(SPECTRUM, eddy_pu).value == pytest.approx(percent, abs=0.006)


def test_added_loss_from_the_printed_sums() -> None:
    """sum I_h^2 = 1.00043, sum I_h^2 h^2 = 2.72549, less the fundamental's 0.956484 in both."""
    ohmic, eddy = 1.00043 - 0.956484, 2.72549 - 0.956484
    expected = 1000.0 * (ohmic + 0.15 * eddy)
    assert added_load_watts(SPECTRUM, 1.0, 1000.0, 0.15) == pytest.approx(expected, abs=0.02)
