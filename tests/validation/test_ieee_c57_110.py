"""IEEE C57.110 example (spectrum recalled; results computed, published rounding 2.72-2.73)."""

from __future__ import annotations

import pytest

from xlcalc.spectrum import Spectrum

SPECTRUM = Spectrum.from_orders(
    [(1, 0.978), (5, 0.171), (7, 0.108), (11, 0.044), (13, 0.028), (17, 0.015), (19, 0.0098)]
)


def test_harmonic_loss_factor() -> None:
    assert SPECTRUM.loss_factor == pytest.approx(2.724, rel=3e-3)


@pytest.mark.parametrize(("eddy_pu", "current_pu"), [(0.15, 0.9035), (0.10, 0.9298), (0.05, 0.9613)])
def test_permitted_current_of_a_dry_transformer(eddy_pu: float, current_pu: float) -> None:
    """sqrt((1 + P_EC-R) / (1 + F_HL P_EC-R))."""
    permitted = ((1 + eddy_pu) / (1 + SPECTRUM.loss_factor * eddy_pu)) ** 0.5
    assert permitted == pytest.approx(current_pu, rel=3e-3)
