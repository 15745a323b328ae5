"""Refusals of the circuit in SI units."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from xlcalc.core.errors import InputError
from xlcalc.rectifier.circuit import Bridge, Circuit, DCLink, Diode, Load, Reactor, ThreePhaseSource

SUPPLY = ThreePhaseSource(480.0, 60.0, 1e-4)
LINK = DCLink(1e-3)
LOAD = Load("power", 1e4)


@pytest.mark.parametrize(
    ("make", "argument"),
    [
        (lambda: ThreePhaseSource(0.0, 60.0), "volts"),
        (lambda: ThreePhaseSource(480.0, -60.0), "hz"),
        (lambda: ThreePhaseSource(480.0, 60.0, -1e-4), "source inductance"),
        (lambda: ThreePhaseSource(480.0, 60.0, 1e-4, math.nan), "source resistance"),
        (lambda: ThreePhaseSource("480", 60.0), "volts"),
        (lambda: ThreePhaseSource(480.0, 60.0, negative_sequence=0.21), "negative_sequence"),
        (lambda: ThreePhaseSource(480.0, 60.0, negative_sequence=complex(math.nan)), "negative_sequence"),
        (lambda: ThreePhaseSource(480.0, 60.0, background=((1, 0.01),)), "background order"),
        (lambda: ThreePhaseSource(480.0, 60.0, background=((5, 0.01), (5, 0.02))), "background order"),
        (lambda: ThreePhaseSource(480.0, 60.0, background=((5, 0.31),)), "background of order 5"),
        (lambda: Bridge(math.inf), "shift_deg"),
        (lambda: Bridge(0.0, -1e-3), "leakage inductance"),
        (lambda: Bridge(0.0, 1e-3, 0.0, -1e-3), "choke inductance"),
        (lambda: Reactor(-1e-3), "reactor inductance"),
        (lambda: DCLink(0.0), "capacitance"),
        (lambda: DCLink(1e-3, -0.1), "capacitor resistance"),
        (lambda: Load("power", 0.0), "load power"),
        (lambda: Load("torque", 1.0), "load kind"),
        (lambda: Diode(-0.7), "diode forward voltage"),
        (lambda: Circuit(SUPPLY, LINK, LOAD, ()), "bridges"),
        (lambda: Circuit(ThreePhaseSource(480.0, 60.0), LINK, LOAD), "ac inductance"),
        (lambda: Circuit(SUPPLY, LINK, LOAD, (Bridge(), Bridge(30.0))), "leakage inductance"),
        (lambda: Circuit(ThreePhaseSource(480.0, 60.0, 10.0), LINK, LOAD), "source inductance"),
    ],
)
def test_refusals_name_the_argument(make: Callable[[], object], argument: str) -> None:
    with pytest.raises(InputError) as refusal:
        make()
    assert refusal.value.argument == argument


def test_base_follows_the_load() -> None:
    assert Circuit(SUPPLY, LINK, LOAD).base_ohms == pytest.approx(480.0**2 / 1e4)
    current = Circuit(SUPPLY, LINK, Load("current", 20.0))
    assert current.load_watts == pytest.approx(1.35 * 480.0 * 20.0)
    resistance = Circuit(SUPPLY, LINK, Load("resistance", 30.0))
    assert resistance.load_watts == pytest.approx((1.35 * 480.0) ** 2 / 30.0)
