"""Transformers: loss factors, permitted currents and their limits, K ratings, added loss."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment.transformer import (
    LiquidTransformer,
    Winding,
    added_load_watts,
    european_factor_k,
    k_rating,
    permitted_dry,
    permitted_liquid,
    stray_loss_factor,
)

SINE = Spectrum.from_orders([(1, 10.0)])
DISTORTED = Spectrum.from_orders([(1, 100.0), (5, 30.0), (7, 15.0), (11, 8.0)])
OIL = LiquidTransformer(eddy_pu=0.08, stray_pu=0.15, no_load_pu=0.25, top_oil_k=55.0, gradient_k=25.0)

spectra = st.lists(st.floats(0.0, 80.0), min_size=12, max_size=12).map(
    lambda harmonics: Spectrum.from_orders([(1, 100.0), *enumerate(harmonics, start=2)])
)
shares = st.floats(0.0, 1.0)


def test_a_sine_loads_fully() -> None:
    assert stray_loss_factor(SINE) == 1.0
    assert permitted_dry(SINE, 0.15).value == pytest.approx(100.0)
    assert permitted_liquid(OIL, SINE).value == pytest.approx(100.0)
    assert european_factor_k(SINE, 0.1).value == 1.0
    assert added_load_watts(SINE, 10.0, 500.0, 0.1, 0.1) == 0.0


def test_two_orders_by_hand() -> None:
    """I^2 = 1 + 0.04; F_HL = (1 + 1)/1.04; F_STR = (1 + 0.04 * 5^0.8)/1.04."""
    current = Spectrum.from_orders([(1, 1.0), (5, 0.2)])
    assert stray_loss_factor(current) == pytest.approx((1 + 0.04 * 5**0.8) / 1.04)
    assert permitted_dry(current, 0.5).value == pytest.approx(100 * math.sqrt(1.5 / (1 + 0.5 * 2 / 1.04)))
    loss = 1 + 0.08 * 2 / 1.04 + 0.15 * (1 + 0.04 * 5**0.8) / 1.04
    assert OIL.load_loss(current, 1.0) == pytest.approx(loss)
    assert OIL.top_oil_rise(current, 1.0) == pytest.approx(55 * ((loss + 0.25) / 1.48) ** 0.8)
    assert OIL.winding_gradient(current, 1.0) == pytest.approx(25 * ((1 + 0.16 / 1.04) / 1.08) ** 0.8)


@given(current=spectra, eddy=shares, stray=shares, no_load=shares)
def test_no_permitted_liquid_load_is_too_warm_or_too_cool(
    current: Spectrum, eddy: float, stray: float, no_load: float
) -> None:
    transformer = LiquidTransformer(eddy, stray, no_load, 55.0, 25.0)
    permitted = permitted_liquid(transformer, current).value / 100.0

    def rises(load: float) -> tuple[float, float]:
        oil = transformer.top_oil_rise(current, load)
        return oil, oil + transformer.winding_gradient(current, load)

    oil, winding = rises(permitted)
    assert oil <= 55.0 + 1e-6
    assert winding <= 80.0 + 1e-6
    assert permitted <= 1.0 + 1e-12
    warmer = rises(1.001 * permitted)
    assert warmer[0] > 55.0 - 1e-9 or warmer[1] > 80.0 - 1e-9


@given(current=spectra, eddy=shares)
def test_dry_permitted_load_carries_the_rated_loss(current: Spectrum, eddy: float) -> None:
    """I^2 (1 + F_HL P) = 1 + P, with the loss summed order by order."""
    permitted = permitted_dry(current, eddy).value / 100.0
    scale = permitted / current.rms
    loss = sum((scale * i) ** 2 * (1 + eddy * h**2) for h, i in enumerate(current.magnitude, start=1))
    assert loss == pytest.approx(1 + eddy)


@given(current=spectra, eddy=shares)
def test_factor_k_carries_the_loss_of_the_rated_current(current: Spectrum, eddy: float) -> None:
    """Loss of the distorted current over that of a sine of the same rms value is K^2 but for the eddy
    loss of the fundamental, which the factor counts on the whole current."""
    factor = european_factor_k(current, eddy, Winding.FOIL).value
    extra = sum(i**2 * n**1.5 for n, i in enumerate(current.magnitude, start=1) if n > 1) / current.rms**2
    assert factor**2 == pytest.approx(1 + eddy / (1 + eddy) * extra)
    assert factor <= european_factor_k(current, eddy, Winding.WIRE).value + 1e-12


def test_k_rating_rounds_up() -> None:
    assert [k_rating(k).value for k in (0.5, 1, 1.01, 4, 9.5, 20, 50)] == [1, 1, 4, 4, 13, 20, 50]
    with pytest.raises(NoSolutionError, match="51"):
        k_rating(51)


def test_added_loss_is_the_difference_to_the_fundamental_alone() -> None:
    whole = OIL.load_loss(DISTORTED, DISTORTED.rms / 100.0)
    alone = OIL.load_loss(SINE, 1.0)
    assert added_load_watts(DISTORTED, 100.0, 2000.0, 0.08, 0.15) == pytest.approx(2000.0 * (whole - alone))


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: permitted_dry(SINE, -0.1), "eddy_pu"),
        (lambda: permitted_dry(SINE.scaled(0.0), 0.1), "current"),
        (lambda: LiquidTransformer(0.1, 0.1, 0.1, 0.0, 25.0), "top_oil_k"),
        (lambda: LiquidTransformer(0.1, -0.1, 0.1, 55.0, 25.0), "stray_pu"),
        (lambda: european_factor_k(SINE, -1.0), "eddy_ratio"),
        (lambda: k_rating(-1), "k_factor"),
        (lambda: added_load_watts(SINE, 0.0, 1.0, 0.1), "rated_amps"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument
