"""Aggregation, unbalance, powers and notches of synthetic recordings, by hand and by numpy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.measurement.aggregation import aggregate
from xlcalc.measurement.quantities import (
    measured_notches,
    phase_power,
    three_phase_power,
    triple,
    unbalance_of_magnitudes_pct,
    unbalance_pct,
)
from xlcalc.measurement.recording import Channel, Recording
from xlcalc.measurement.windows import windows

RATE = 6_400


def tone(t, hz, *parts):
    return sum(np.sqrt(2.0) * rms * np.cos(2 * np.pi * h * hz * t + np.radians(deg)) for h, rms, deg in parts)


def one_channel(wave, **more):
    return Recording(samples=wave[:, None], rate=RATE, channels=(Channel("Ua", "voltage", "a"),), **more)


def test_three_seconds_are_the_root_of_the_mean_square():
    """IEC 61000-4-30: 15 windows; a fifth of 6 V in the first 1 s, then 2 V: sqrt((5 x 36 + 10 x 4) / 15)."""
    t = np.arange(6 * RATE) / RATE
    wave = tone(t, 50.0, (1, 230.0, 0.0)) + np.where(t < 1.0, 6.0, 2.0) / 6.0 * tone(t, 50.0, (5, 6.0, 0.0))
    found = aggregate(windows(one_channel(wave), hz=50.0), "3 s")
    assert found.start_s == pytest.approx([0.0, 3.0])
    assert found.values[:, 0, 4] == pytest.approx([np.sqrt(220.0 / 15.0), 2.0], rel=1e-9)
    assert found.coverage.tolist() == [[1.0], [1.0]]


def test_ten_minutes_cut_at_the_tick_with_a_gap():
    """Windows stand in for a recording of 20 minutes: 3000 of 200 ms each 10 minutes, 300 of them missing."""
    t = np.arange(2 * RATE) / RATE
    (first, *_) = windows(one_channel(tone(t, 50.0, (1, 230.0, 0.0), (5, 4.0, 0.0))), hz=50.0)
    row = [
        replace(first, start_s=0.2 * k, interval=k // 3000, position=k % 3000, flagged=k == 4000)
        for k in range(6000)
    ]
    for k in range(300):
        row[k] = replace(row[k], lines=np.full_like(first.lines, np.nan))
    found = aggregate(row, "10 min")
    assert found.values[:, 0, 4] == pytest.approx([4.0, 4.0], rel=1e-9)
    assert found.coverage[:, 0] == pytest.approx([0.9, 1.0])
    assert found.flagged.tolist() == [False, True]


def test_unbalance_from_phasors_and_from_magnitudes_agree():
    """By geometry: the line-to-line magnitudes fix the triangle, and with it the ratio of the sequences."""
    turn = np.exp(2j * np.pi / 3)
    positive, negative = 230.0, 7.0 * np.exp(0.7j)
    phases = np.array(
        [positive + negative, positive / turn + negative * turn, positive * turn + negative / turn]
    )
    lines = phases - np.roll(phases, -1)
    assert unbalance_pct(phases) == pytest.approx(100.0 * 7.0 / 230.0, rel=1e-12)
    assert unbalance_pct(lines) == pytest.approx(100.0 * 7.0 / 230.0, rel=1e-12)
    assert unbalance_of_magnitudes_pct(np.abs(lines)) == pytest.approx(100.0 * 7.0 / 230.0, rel=1e-9)
    with pytest.raises(NoSolutionError, match="swapped"):
        unbalance_pct(phases[[0, 2, 1]])
    with pytest.raises(InputError, match="triangle"):
        unbalance_of_magnitudes_pct([100.0, 1.0, 1.0])


def three_phases():
    t = np.arange(RATE) / RATE
    waves, channels = [], []
    for quantity, parts in (
        ("voltage", ((1, 230.0, 0), (5, 5.0, 10))),
        ("current", ((1, 10.0, -30), (5, 3.0, 40))),
    ):
        for k, phase in enumerate("abc"):
            waves.append(tone(t - k / 3 / 49.9, 49.9, *parts))
            channels.append(Channel(f"{quantity} {phase}", quantity, phase))
    return Recording(samples=np.column_stack(waves), rate=RATE, channels=tuple(channels))


def test_powers_against_the_mean_of_the_samples():
    """P is the mean of the product of the samples, S that of their rms values (numpy); P1 and DPF by hand."""
    recording = three_phases()
    window = list(windows(recording))[1]
    power = phase_power(recording, window, "b")
    active = 230.0 * 10.0 * np.cos(np.radians(30)) + 5.0 * 3.0 * np.cos(np.radians(30))
    assert power.active == pytest.approx(active, rel=1e-9)
    exact = np.arange(10_000) / 49_900
    volts, amps = (
        tone(exact, 49.9, *p) for p in (((1, 230.0, 0), (5, 5.0, 10)), ((1, 10.0, -30), (5, 3.0, 40)))
    )
    assert power.active == pytest.approx(np.mean(volts * amps), rel=1e-9)
    assert power.apparent == pytest.approx(np.sqrt(np.mean(volts**2) * np.mean(amps**2)), rel=1e-9)
    assert power.displacement_factor == pytest.approx(np.cos(np.radians(30)), rel=1e-9)
    whole = three_phase_power(recording, window, four_wire=False)
    assert whole.active == pytest.approx(3.0 * active, rel=1e-9)
    column = recording.index("current", "a")
    assert triple(recording, "voltage") == (0, 1, 2)
    assert unbalance_pct([window.phasors(k)[0] for k in (0, 1, 2)]) == pytest.approx(0.0, abs=1e-7)
    assert window.crest_factor[column] == pytest.approx(
        np.max(np.abs(amps)) / np.sqrt(np.mean(amps**2)), rel=1e-3
    )
    with pytest.raises(InputError, match="phase is n"):
        phase_power(recording, window, "n")


def test_notch_of_known_depth_and_area():
    """Rectangular notches of 40 % from 60 to 66 degrees in ab, upward and downward: area by hand."""
    rate, hz, nominal = 100_000.0, 50.0, 480.0
    angle = 2 * np.pi * hz * np.arange(int(2 * rate / hz)) / rate
    there = np.sqrt(2.0) * nominal * np.array([np.sin(angle - k * 2 * np.pi / 3) for k in range(3)])
    there += 0.03 * np.sqrt(2.0) * nominal * np.sin(5 * angle)
    degrees = np.degrees(angle) % 180.0
    cut = (degrees >= 60.0) & (degrees < 66.0)
    volts = there.copy()
    volts[0, cut] *= 0.6
    found = measured_notches(volts, rate, hz, nominal)
    assert len(found) == 4
    first = int(np.flatnonzero(cut)[0])
    area = 0.4 * there[0, first : first + int(cut.sum() / 4)].sum() / rate
    for notch in found:
        assert notch.depth_pct == pytest.approx(40.0, abs=0.5)
        assert notch.area_vs == pytest.approx(area, rel=0.04)
        assert notch.width_s == pytest.approx(6.0 / 360.0 / hz, rel=0.04)
    assert measured_notches(there, rate, hz, nominal) == ()
    with pytest.raises(InputError, match="100 samples a cycle"):
        measured_notches(volts[:, ::50], 2_000.0, hz, nominal)
