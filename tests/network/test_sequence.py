"""Sequence turns against the ampere-turn balance of a delta-wye transformer in the time domain."""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.core.spectrum import Spectrum
from xlcalc.network.sequence import components, phases_of, to_common_frame

SAMPLES = 720


@pytest.fixture
def phases() -> np.ndarray:
    """Unbalanced three-wire currents of all orders: the phases sum to zero."""
    rng = np.random.default_rng(7)
    values = rng.normal(size=(3, 50)) + 1j * rng.normal(size=(3, 50))
    return values - values.mean(axis=0)


def test_components_round_trip(phases: np.ndarray) -> None:
    np.testing.assert_allclose(phases_of(components(phases)), phases, atol=1e-12)


def test_dy1_transformer_in_the_time_domain(phases: np.ndarray) -> None:
    """Dy1, 1:1 in line voltage: primary line A carries (i_a - i_b) / sqrt3, and so on in turn.

    The secondary voltage lags by 30 degrees, so that the load's waveform comes 30 degrees (60 samples) later.
    """
    secondary = np.array([np.roll(Spectrum(row).samples(SAMPLES), SAMPLES // 12) for row in phases])
    primary = (secondary - np.roll(secondary, -1, axis=0)) / np.sqrt(3)
    turned = to_common_frame(phases, -30.0)
    for row, expected in zip(turned, primary, strict=True):
        np.testing.assert_allclose(Spectrum(row).samples(SAMPLES), expected, atol=1e-10)


def test_two_groups_thirty_degrees_apart_cancel_5_7_17_19_and_keep_11_13_23_25() -> None:
    orders = [h for h in range(1, 50) if h % 6 in (1, 5)]
    one = Spectrum.from_orders([(h, 1 / h) for h in orders])
    balanced = np.array([one.rotated(-120.0 * k).phasors for k in range(3)])
    total = np.abs((to_common_frame(balanced, 30.0) + balanced)[0])
    for h in orders:
        expected = 2 / h if h % 12 in (1, 11) else 0.0
        assert total[h - 1] == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("count", [7, 99, 100, 101, 102, 360, 4001])
def test_samples_are_the_sum_of_cosines(count: int) -> None:
    """Few points are summed, many come from an inverse FFT: both are the definition."""
    random = np.random.default_rng(3)
    spectrum = Spectrum(random.normal(size=50) + 1j * random.normal(size=50))
    angle = 2.0 * np.pi * np.arange(count) / count
    expected = sum(
        np.sqrt(2.0) * abs(value) * np.cos(h * angle + np.angle(value))
        for h, value in enumerate(spectrum.phasors, start=1)
    )
    assert spectrum.samples(count) == pytest.approx(expected, abs=1e-11)
