"""Reduction of synthetic signals, whose lines are known exactly, and numpy's transform."""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.measurement.groups import (
    harmonic_groups,
    harmonic_subgroups,
    interharmonic_groups,
    interharmonic_subgroups,
    thd_pct,
)
from xlcalc.measurement.recording import Channel, Recording
from xlcalc.measurement.reduction import reduced
from xlcalc.measurement.windows import windows

TONES = {
    1.0: (230.0, 10.0),
    3.5: (4.0, 70.0),
    5.0: (12.0, -30.0),
    7.1: (2.0, 5.0),
    7.0: (9.0, 100.0),
    49.0: (1.5, 0.0),
}
"""Order, rms and angle; 3.5 lies half way between two orders, 7.1 is the line above the seventh of 10."""


def signal(hz, rate, seconds, tones=TONES):
    t = np.arange(round(rate * seconds)) / rate
    return sum(
        np.sqrt(2.0) * rms * np.cos(2 * np.pi * h * hz * t + np.radians(deg))
        for h, (rms, deg) in tones.items()
    )


def recorded(*waves, rate, start=None, quantity="voltage"):
    channels = tuple(Channel(f"U{p}", quantity, p) for p, _ in zip("abc", waves, strict=False))
    return Recording(samples=np.column_stack(waves), rate=rate, channels=channels, start=start)


def expected_lines(tones, cycles, count):
    lines = np.zeros(count)
    for h, (rms, _) in tones.items():
        lines[round(h * cycles)] = rms
    return lines


@pytest.mark.parametrize(("hz", "rate"), [(50.0, 10_000), (49.5, 10_000), (50.5, 20_000), (49.93, 6_400)])
def test_lines_at_every_frequency(hz, rate):
    """On-line tones, interharmonics included: each line to 1e-9 of the fundamental, by their definition."""
    found = list(windows(recorded(signal(hz, rate, 1.3), rate=rate)))
    assert len(found) == int(1.3 * hz / 10)
    for window in found:
        assert window.hz == pytest.approx(hz, rel=1e-9)
        size = window.magnitude[0]
        np.testing.assert_allclose(size, expected_lines(TONES, 10, size.size), atol=1e-9 * 230)


def test_sixty_hertz_has_windows_of_twelve_cycles():
    tones = {1.0: (277.0, 0.0), 5.0: (9.0, 40.0), 5.25: (3.0, 0.0)}
    window = next(windows(recorded(signal(59.9, 15_360, 0.7, tones), rate=15_360)))
    assert window.cycles == 12
    np.testing.assert_allclose(window.magnitude[0], expected_lines(tones, 12, 607), atol=1e-9 * 277)


def test_one_window_exactly_and_numpy():
    """2000 samples of ten cycles, nothing around them: the transform of numpy."""
    wave = signal(50.0, 10_000, 0.2)
    (window,) = windows(recorded(wave, rate=10_000), hz=50.0)
    assert window.label == "10 cycles, IEC 61000-4-7"
    numpys = np.fft.rfft(wave)[: window.lines.shape[1]] * np.sqrt(2.0) / wave.size
    np.testing.assert_allclose(window.lines[0, 1:], numpys[1:], atol=1e-10)
    (found,) = windows(
        recorded(signal(50.0, 10_000, 0.2, {1.0: (230.0, 10.0), 5.0: (12.0, 0.0)}), rate=10_000)
    )
    assert found.hz == pytest.approx(50.0, rel=1e-8)
    assert found.magnitude[0, 50] == pytest.approx(12.0, rel=1e-9)


def test_groups_by_the_formulas_written_out():
    """Random lines; IEC 61000-4-7, each sum written out line by line."""
    c = np.random.default_rng(4).random(130)
    for n in (10, 12):
        k = 5 * n
        half = n // 2
        group = (
            c[k - half] ** 2 / 2 + sum(c[k + i] ** 2 for i in range(1 - half, half)) + c[k + half] ** 2 / 2
        )
        assert harmonic_groups(c, n, 5)[4] == pytest.approx(np.sqrt(group), rel=1e-12)
        subgroup = c[k - 1] ** 2 + c[k] ** 2 + c[k + 1] ** 2
        assert harmonic_subgroups(c, n, 5)[4] == pytest.approx(np.sqrt(subgroup), rel=1e-12)
        between = [c[k + i] ** 2 for i in range(1, n)]
        assert interharmonic_groups(c, n, 5)[5] == pytest.approx(np.sqrt(sum(between)), rel=1e-12)
        assert interharmonic_subgroups(c, n, 5)[5] == pytest.approx(np.sqrt(sum(between[1:-1])), rel=1e-12)
        assert len(between) == {10: 9, 12: 11}[n]


def test_groups_of_a_signal():
    """The line half way belongs to two groups with half its square; that beside the 7th to its subgroup."""
    window = next(windows(recorded(signal(49.9, 10_000, 0.6), rate=10_000)))
    size = window.magnitude[0]
    subgroups = harmonic_subgroups(size, 10)
    assert subgroups[[0, 4, 6]] == pytest.approx([230.0, 12.0, np.hypot(9.0, 2.0)], rel=1e-9)
    groups = harmonic_groups(size, 10)
    assert groups[[2, 3]] == pytest.approx([np.sqrt(8.0), np.sqrt(8.0)], rel=1e-9)
    assert interharmonic_groups(size, 10)[[3, 7]] == pytest.approx([4.0, 2.0], rel=1e-9)
    assert interharmonic_subgroups(size, 10)[[3, 7]] == pytest.approx([4.0, 0.0], abs=1e-7)
    harmonic = np.sqrt(12.0**2 + 9.0**2 + 2.0**2 + 1.5**2)
    assert thd_pct(subgroups) == pytest.approx(100.0 * harmonic / 230.0, rel=1e-9)


def test_drifting_frequency_is_followed():
    """49.5 to 50.5 Hz in 5 s: the phase is the integral, the fifth keeps its ratio to the fundamental."""
    t = np.arange(50_000) / 10_000
    phase = 2 * np.pi * (49.5 * t + 0.1 * t**2)
    wave = np.sqrt(2.0) * (230.0 * np.cos(phase) + 12.0 * np.cos(5 * phase + 1.0))
    found = list(windows(recorded(wave, rate=10_000)))
    for window in found[1:-1]:
        middle = window.start_s + 0.5 * window.cycles / window.hz
        assert window.hz == pytest.approx(49.5 + 0.2 * middle, abs=0.01)
        five = harmonic_subgroups(window.magnitude[0], 10, 5)[[0, 4]]
        assert five == pytest.approx([230.0, 12.0], rel=2e-3)


def test_step_of_amplitude():
    """A step half way in the sixth window: the windows before and after are exact, by hand."""
    wave = signal(50.0, 10_000, 2.0, {1.0: (100.0, 0.0), 5.0: (10.0, 0.0)})
    wave[11_000:] *= 2.0
    found = [harmonic_subgroups(w.magnitude[0], 10, 5)[4] for w in windows(recorded(wave, rate=10_000))]
    assert found[:5] == pytest.approx([10.0] * 5, rel=1e-9)
    assert 10.0 < found[5] < 20.0
    assert found[6:] == pytest.approx([20.0] * 4, rel=1e-9)


@pytest.mark.parametrize(("cycles", "hz"), [(1, 50.2), (3, 49.8), (7, 50.0)])
def test_short_capture_by_whole_cycles(cycles, hz):
    tones = {1.0: (100.0, 20.0), 5.0: (20.0, 50.0), 11.0: (7.0, 0.0)}
    wave = signal(hz, 20_000, (cycles + 0.4) / hz, tones)
    (window,) = windows(recorded(wave, rate=20_000))
    assert window.label.startswith(f"short capture: {cycles} whole cycle")
    assert window.hz == pytest.approx(hz, rel=1e-8)
    assert np.abs(window.phasors(0))[[0, 4, 10]] == pytest.approx([100.0, 20.0, 7.0], rel=1e-8)


@pytest.mark.parametrize("cycles", [1, 3])
def test_a_short_capture_is_reduced_by_its_orders(cycles):
    """Fewer lines between orders than a subgroup has: the orders themselves, and no value of 3 s."""
    tones = {1.0: (100.0, 20.0), 5.0: (20.0, 50.0), 7.0: (15.0, 0.0)}
    found = reduced(recorded(signal(50.0, 10_000, (cycles + 0.3) / 50.0, tones), rate=10_000))
    assert found.first.short
    assert found.rms[0, [0, 4, 6]] == pytest.approx([100.0, 20.0, 15.0], rel=1e-7)
    assert found.thd_pct[0, 0] == pytest.approx(25.0, rel=1e-7)
    assert not found.three.start_s.size


def test_a_dead_time_before_the_mains_is_passed_over():
    """Five seconds of a faint noise, then 60 Hz: the windows after it are right."""
    rng = np.random.default_rng(3)
    wave = np.concatenate([1e-3 * rng.standard_normal(16_000), signal(60.0, 3_200, 3.0, {1.0: (230.0, 0.0)})])
    found = list(windows(recorded(wave, rate=3_200)))
    assert {w.cycles for w in found} == {12}
    assert [w.magnitude[0, 12] for w in found[-5:]] == pytest.approx([230.0] * 5, rel=1e-6)


def test_a_voltage_that_was_not_connected_leaves_the_frequency_to_another():
    rng = np.random.default_rng(3)
    nothing = 1e-3 * rng.standard_normal(10_000)
    window = next(windows(recorded(nothing, signal(50.3, 10_000, 1.0, {1.0: (230.0, 0.0)}), rate=10_000)))
    assert window.hz == pytest.approx(50.3, rel=1e-9)


def test_orders_beyond_nyquist_are_missing():
    """1.6 kHz: 0.9 of 800 Hz is order 14 at 50 Hz."""
    window = next(windows(recorded(signal(50.0, 1_600, 1.0, {1.0: (1.0, 0.0)}), rate=1_600)))
    found = harmonic_subgroups(window.magnitude[0], 10)
    assert np.isfinite(found[:14]).all()
    assert np.isnan(found[14:]).all()
    assert np.isnan(thd_pct(found))


def test_missing_samples_leave_a_channel_out():
    wave = signal(50.0, 10_000, 1.0)
    gap = wave.copy()
    gap[5_000:5_010] = np.nan
    found = list(windows(recorded(wave, gap, rate=10_000)))
    assert [bool(np.isnan(w.lines[1]).any()) for w in found] == [False, False, True, False, False]
    assert all(np.isfinite(w.lines[0]).all() for w in found)


def test_a_dip_flags_its_window():
    wave = signal(50.0, 10_000, 1.0, {1.0: (230.0, 0.0)})
    wave[5_000:5_400] *= 0.5
    found = [w.flagged for w in windows(recorded(wave, rate=10_000), nominal_volts=400.0)]
    assert found == [False, False, True, False, False]


def test_the_row_begins_anew_at_the_tick():
    """49.8 Hz, tick 5 s after the start: 25 windows begin before it, 5 complete the second 3 s."""
    start = np.datetime64("2026-03-01T10:09:55")
    wave = signal(49.8, 6_400, 12.0, {1.0: (230.0, 0.0)})
    found = list(windows(recorded(wave, rate=6_400, start=start)))
    before = [w for w in found if w.interval == 0]
    assert (len(before), sum(w.extra for w in before)) == (30, 5)
    first = next(w for w in found if w.interval == 1)
    assert first.start_s == pytest.approx(5.0, abs=1e-9)


def test_refusals():
    with pytest.raises(NoSolutionError, match="less than a cycle"):
        list(windows(recorded(signal(50.0, 10_000, 0.01), rate=10_000)))
    with pytest.raises(NoSolutionError, match="constant or mostly missing"):
        list(windows(recorded(np.zeros(5_000), rate=10_000)))
    for hz in (16.7, 400.0):
        with pytest.raises(NoSolutionError, match="no fundamental near 50 or 60 Hz"):
            list(windows(recorded(signal(hz, 10_000, 1.0, {1.0: (230.0, 0.0)}), rate=10_000)))
    with pytest.raises(InputError, match="50 or 60"):
        list(windows(recorded(signal(50.0, 10_000, 1.0), rate=10_000), nominal_hz=55))
