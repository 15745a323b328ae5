"""Conductors: skin effect against Kelvin functions, proximity effect, permitted current, added loss."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment.conductor import Conductor, skin_ratio

COPPER_240 = Conductor(75.4e-6, 0.0184, 0.030)


@given(st.floats(0.01, 9.9))
def test_skin_effect_in_kelvin_functions(x: float) -> None:
    """(x/2) (ber bei' - bei ber') / (ber'^2 + bei'^2) with x = sqrt2 a/delta, the form of handbooks."""
    ber, bei, berp, beip = (float(f(x)) for f in (special.ber, special.bei, special.berp, special.beip))
    ratio = x / 2 * (ber * beip - bei * berp) / (berp**2 + beip**2)
    assert float(skin_ratio(x / math.sqrt(2))) == pytest.approx(ratio, rel=1e-9)


def test_skin_effect_of_thick_conductors() -> None:
    """a/(2 delta) + 1/4 for a conductor much thicker than the skin."""
    assert float(skin_ratio(500.0)) == pytest.approx(250.25, rel=1e-5)
    assert float(skin_ratio(0.0)) == pytest.approx(1.0)


def test_radius_from_the_resistance() -> None:
    """A copper rod of 20 mm: R = rho / (pi a^2), delta = sqrt(rho / (pi mu0 f)) = 8.5 mm at 60 Hz."""
    rho, a = 1.724e-8, 0.01
    delta = math.sqrt(rho / (math.pi * 4e-7 * math.pi * 60.0))
    assert 1e3 * delta == pytest.approx(8.5, abs=0.05)
    rod = Conductor(rho / (math.pi * a**2))
    assert float(rod.resistance_ratio(60.0)) == pytest.approx(float(skin_ratio(a / delta)))


def test_proximity_against_the_low_frequency_form() -> None:
    """x^4/(192 + 0.8 x^4) in the place of the exact skin function, below x = 2 (IEC 60287-1-1, recalled)."""
    x4 = (8e-7 * math.pi * 50.0 / 75.4e-6) ** 2
    skin = x4 / (192 + 0.8 * x4)
    near = (0.0184 / 0.030) ** 2
    expected = 1 + skin + skin * near * (0.312 * near + 1.18 / (skin + 0.27))
    assert float(COPPER_240.resistance_ratio(50.0)) == pytest.approx(expected, rel=1e-4)


@given(st.floats(0.0, 2500.0), st.floats(0.1, 500.0), st.floats(1.0, 4.0))
def test_ratio_grows_with_frequency_and_nearness(hz: float, more: float, gap: float) -> None:
    near = Conductor(75.4e-6, 0.0184, 0.0184 * gap)
    far = Conductor(75.4e-6, 0.0184, 0.0184 * gap * 1.2)
    alone = Conductor(75.4e-6)
    low, high = near.resistance_ratio([hz, hz + more])
    assert low <= high
    assert near.resistance_ratio(hz) >= far.resistance_ratio(hz) >= alone.resistance_ratio(hz) >= 1.0


def test_permitted_current_carries_the_loss_of_the_fundamental() -> None:
    current = Spectrum.from_orders([(1, 100.0), (5, 30.0), (7, 20.0)])
    scale = COPPER_240.permitted_pct(current, 50.0) / 100.0 * 100.0 / current.rms
    ratios = COPPER_240.resistance_ratio([50.0, 250.0, 350.0])
    loss = sum(r * (scale * i) ** 2 for r, i in zip(ratios, (100.0, 30.0, 20.0), strict=True))
    assert loss == pytest.approx(ratios[0] * 100.0**2)
    assert COPPER_240.permitted_pct(Spectrum.from_orders([(1, 7.0)]), 50.0) == pytest.approx(100.0)


def test_added_loss_by_hand() -> None:
    """A thin wire: 3 x 10 ohm/km x 0.01 km x (30^2 + 20^2) A^2 = 390 W, without skin effect."""
    current = Spectrum.from_orders([(1, 100.0), (5, 30.0), (7, 20.0)])
    assert Conductor(1e-2).added_watts(current, 50.0, 10.0) == pytest.approx(390.0, rel=1e-4)


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: Conductor(0.0), "ohm_per_m"),
        (lambda: Conductor(1e-4, 0.02), "spacing_m"),
        (lambda: Conductor(1e-4, None, 0.02), "diameter_m"),
        (lambda: Conductor(1e-4, 0.02, 0.01), "spacing_m"),
        (lambda: COPPER_240.resistance_ratio(-1.0), "hz"),
        (lambda: skin_ratio(np.array([-1.0])), "radius_over_depth"),
        (lambda: COPPER_240.permitted_pct(Spectrum(np.zeros(5)), 50.0), "current"),
        (lambda: COPPER_240.added_watts(Spectrum.from_orders([(1, 1.0)]), 50.0, -1.0), "metres"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument
