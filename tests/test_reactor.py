"""Reactor and rectifier relations."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlcalc import reactor
from xlcalc.core.errors import InputError, NoSolutionError


@given(
    st.floats(0.1, 100),
    st.floats(100, 1000),
    st.floats(0.5, 5000),
    st.sampled_from([16.7, 50.0, 60.0, 400.0]),
)
def test_percent_and_henry_are_inverse(pct: float, volts: float, amps: float, hz: float) -> None:
    henry = reactor.reactor_henry(pct, volts, amps, hz) * (1 - 1e-12)
    assert reactor.reactor_percent(henry, volts, amps, hz) == pytest.approx(pct, rel=1e-9)


@pytest.mark.parametrize(
    ("u_deg", "one_less_cos"),
    [(5, 0.00381), (10, 0.01519), (20, 0.06031), (30, 0.13397), (40, 0.23396)],
)
def test_overlap_follows_the_closed_form(u_deg: float, one_less_cos: float) -> None:
    """Tabulated 1 - cos(u) = 2 X I_d / (sqrt2 V) of a smooth direct current (computed table)."""
    x_pct = 100 * one_less_cos * 3 / 3.141592653589793
    assert reactor.overlap_deg(x_pct) == pytest.approx(u_deg, abs=0.01)


def test_the_percent_and_the_ohm_forms_agree() -> None:
    """480 V, Id 100 A, 3 % on 77.97 A: 0.10663 ohm, 14.40 degrees, 638.05 V (computed by hand)."""
    ohm = 0.03 * 480 / (3**0.5 * 77.97)
    assert ohm == pytest.approx(0.10663, rel=1e-4)
    assert reactor.commutation_overlap_deg(ohm, 100, 480) == pytest.approx(14.40, rel=1e-3)
    assert reactor.overlap_deg(3) == pytest.approx(14.40, rel=1e-3)
    assert reactor.bridge_dc_volts(480, ohm, 100) == pytest.approx(638.05, rel=1e-4)
    assert reactor.dc_volts(480, 3) == pytest.approx(638.05, rel=1e-4)


@given(st.floats(0.1, 40), st.floats(10, 100))
def test_part_load_is_proportional_reactance(x_pct: float, load_pct: float) -> None:
    scaled = x_pct * load_pct / 100
    assert reactor.overlap_deg(x_pct, load_pct) == pytest.approx(reactor.overlap_deg(scaled), rel=1e-9)
    assert reactor.dc_volts(480, x_pct, load_pct) == pytest.approx(reactor.dc_volts(480, scaled), rel=1e-9)


def test_overlap_of_sixty_degrees_is_the_end_of_the_relation() -> None:
    assert reactor.overlap_deg(reactor.MAX_OVERLAP_X_PCT) == pytest.approx(60)
    with pytest.raises(InputError, match=r"x_pct is 48;.*47\.75 %.*60 degrees"):
        reactor.overlap_deg(48)
    with pytest.raises(NoSolutionError, match="60 degrees"):
        reactor.commutation_overlap_deg(1.0, 500, 480)
    with pytest.raises(NoSolutionError, match="180 degrees"):
        reactor.commutation_overlap_deg(0.5, 100, 480, 175)


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: reactor.reactor_henry(-3, 460, 4, 60), "pct"),
        (lambda: reactor.reactor_henry(101, 460, 4, 60), "pct"),
        (lambda: reactor.reactor_henry(3, 0, 4, 60), "volts"),
        (lambda: reactor.reactor_henry(3, 460, -4, 60), "amps"),
        (lambda: reactor.reactor_henry(3, 460, 4, 60e3), "hz"),
        (lambda: reactor.reactor_percent(5.0, 460, 4, 60), "henry"),
        (lambda: reactor.reactor_percent("5 mH", 460, 4, 60), "henry"),
        (lambda: reactor.notch_depth_pct(0, 0), "source_pct"),
        (lambda: reactor.notch_depth_pct(1, -3), "reactor_pct"),
        (lambda: reactor.source_percent(0, 100e3), "short_circuit_va"),
        (lambda: reactor.source_percent(1e6, 2e6), "rated_va"),
        (lambda: reactor.dc_volts(480, 3, 0), "load_pct"),
        (lambda: reactor.dc_volts(float("nan"), 3), "volts"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument
