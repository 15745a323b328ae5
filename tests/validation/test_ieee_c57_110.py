"""IEEE C57.110 example (spectrum recalled; results computed, published rounding 2.72-2.73).

Liquid-filled types have no published example here: the recalled equations are written out a second time.
"""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment.transformer import (
    LiquidTransformer,
    added_load_watts,
    permitted_dry,
    permitted_liquid,
    stray_loss_factor,
)

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


def test_stray_loss_factor() -> None:
    """sum I_h^2 h^0.8 / sum I_h^2 of the same spectrum, order by order."""
    squares = {
        1: 0.956484,
        5: 0.029241,
        7: 0.011664,
        11: 0.001936,
        13: 0.000784,
        17: 0.000225,
        19: 0.00009604,
    }
    expected = sum(i2 * h**0.8 for h, i2 in squares.items()) / sum(squares.values())
    assert stray_loss_factor(SPECTRUM) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("eddy", "stray", "no_load", "oil", "gradient"),
    [(0.15, 0.10, 0.20, 55.0, 10.0), (0.08, 0.20, 0.15, 45.0, 20.0), (0.30, 0.05, 0.30, 55.0, 25.0)],
)
def test_permitted_current_of_a_liquid_filled_transformer(
    eddy: float, stray: float, no_load: float, oil: float, gradient: float
) -> None:
    """P_LL = I^2 (1 + F_HL P_EC-R + F_HL-STR P_OSL-R); top oil with ((P_LL + P_NL) / (P_LL-R + P_NL))^0.8.

    The largest current on a fine grid at which top oil and winding both stay within their rated rises.
    """
    load = np.linspace(0.3, 1.0, 700_001)
    losses = load**2 * (1.0 + 2.7243 * eddy + stray_loss_factor(SPECTRUM) * stray)
    winding = load**2 * (1.0 + 2.7243 * eddy) / (1.0 + eddy)
    top_oil = oil * ((losses + no_load) / (1.0 + eddy + stray + no_load)) ** 0.8
    hottest = top_oil + gradient * winding**0.8
    allowed = load[(top_oil <= oil) & (hottest <= oil + gradient)].max()
    tank = LiquidTransformer(eddy, stray, no_load, oil, gradient)
    assert permitted_liquid(tank, SPECTRUM).value == pytest.approx(100.0 * allowed, abs=0.01)
