"""Generators: the constructed case of the typical six-pulse spectrum, rotor heating, capability."""

from __future__ import annotations

import math

import pytest

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment.generator import (
    generator_voltage,
    negative_sequence_equivalent,
)

TYPICAL = {5: 0.175, 7: 0.110, 11: 0.045, 13: 0.029, 17: 0.015, 19: 0.010, 23: 0.009, 25: 0.008}
HALF_LOAD = Spectrum.from_orders([(1, 50.0), *((h, 50.0 * i) for h, i in TYPICAL.items())])


def test_typical_spectrum_on_a_generator_at_half_load() -> None:
    """Constructed: X''d 15 %, the typical six-pulse spectrum (recalled) at 50 % load."""
    volts = generator_voltage(HALF_LOAD, 100.0, 0.15)
    expected = {5: 6.56, 7: 5.78, 11: 3.71, 13: 2.83, 17: 1.91, 19: 1.43, 23: 1.55, 25: 1.50}
    assert {h: round(float(volts.percent[h - 1]), 2) for h in TYPICAL} == pytest.approx(expected, abs=0.006)
    assert volts.thd_pct == pytest.approx(10.42, abs=0.006)


def test_rotor_sees_pairs_at_one_order() -> None:
    """5 and 7 at the 6th, 11 and 13 at the 12th: weights sqrt(3) and sqrt(6)."""
    for pair, weight in (((5, 7), math.sqrt(3)), ((11, 13), math.sqrt(6)), ((2, 4), math.sqrt(1.5))):
        for h in pair:
            current = Spectrum.from_orders([(1, 100.0), (h, 20.0)])
            assert negative_sequence_equivalent(current, 100.0) == pytest.approx(20.0 * math.sqrt(weight))


def test_unbalance_adds_as_a_square_and_triplens_do_not_count() -> None:
    current = Spectrum.from_orders([(1, 100.0), (3, 50.0)])
    assert negative_sequence_equivalent(current, 100.0, 8.0) == pytest.approx(8.0)


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: generator_voltage(HALF_LOAD, 0.0, 0.15), "rated_amps"),
        (lambda: generator_voltage(HALF_LOAD, 100.0, 15.0), "subtransient_pu"),
        (lambda: negative_sequence_equivalent(HALF_LOAD, 100.0, -1.0), "negative_sequence_amps"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument
