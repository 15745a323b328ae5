"""Closed form of smooth-current spectra: identities and refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.rectifier.closed_form import ideal_spectrum, ideal_thd_pct


@pytest.mark.parametrize("overlap_deg", [0.0, 12.0, 60.0])
def test_against_a_sampled_waveform(overlap_deg: float) -> None:
    """Trapezoids of the commutation sampled finely, phase a positive from -60 degrees of its own EMF."""
    count = 360_000
    angle = np.arange(count) * 360.0 / count

    def rise(into: np.ndarray) -> np.ndarray:
        if overlap_deg == 0.0:
            return (into >= 0.0).astype(float)
        inside = np.radians(np.clip(into, 0.0, overlap_deg))
        return (1.0 - np.cos(inside)) / (1.0 - math.cos(math.radians(overlap_deg)))

    def block(start: float) -> np.ndarray:
        into = (angle - start) % 360.0
        return rise(into) - rise(into - 120.0)

    current = block(300.0) - block(120.0)
    ours = ideal_spectrum(6, overlap_deg).phasors
    theirs = np.fft.rfft(current)[1:51] * math.sqrt(2.0) / count
    assert np.abs(ours - theirs).max() < 2e-5


def test_higher_pulse_numbers_keep_the_six_pulse_phasors() -> None:
    six = ideal_spectrum(6, 15.0).phasors
    for pulses in (12, 18, 24, 48):
        kept = ideal_spectrum(pulses, 15.0).phasors
        present = np.abs(kept) > 1e-9
        assert np.allclose(kept[present], six[present])
        assert {int(h) % pulses for h in np.flatnonzero(present) + 1} <= {1, pulses - 1}


def test_truncated_sum_stays_below_the_infinite_one() -> None:
    for pulses in (6, 12, 18, 24):
        truncated = [ideal_spectrum(pulses, max_order=n).thd_pct for n in (50, 500, 5000)]
        assert truncated == sorted(truncated)
        assert truncated[-1] < ideal_thd_pct(pulses)
        assert truncated[-1] == pytest.approx(ideal_thd_pct(pulses), rel=0.01)


@pytest.mark.parametrize(
    ("arguments", "name"),
    [
        ((7,), "pulses"),
        ((0,), "pulses"),
        ((6.0,), "pulses"),
        ((6, -1.0), "overlap_deg"),
        ((6, 61.0), "overlap_deg"),
        ((6, "ten"), "overlap_deg"),
        ((6, 10.0, 0), "max_order"),
    ],
)
def test_refusals(arguments: tuple[object, ...], name: str) -> None:
    with pytest.raises(InputError) as refusal:
        ideal_spectrum(*arguments)  # type: ignore[arg-type]
    assert refusal.value.argument == name
