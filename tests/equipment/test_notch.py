"""Notches in computed waveforms against the currents that make them, and the textbook relation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.equipment.notch import (
    Notch,
    deepest,
    judge_notch,
    line_notches,
    notch_classes,
    notches,
    textbook_notch,
)
from xlcalc.rectifier.drive import BASE_HZ, FrontEnd, solve_front_end
from xlcalc.rectifier.trace import waveforms

POINTS = 20_000


def waves(front_end: FrontEnd) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """EMF, bus voltage and line current in per unit."""
    state = solve_front_end(front_end)
    _, current, volts = waveforms(state, POINTS)
    return np.array([phase.samples(POINTS) for phase in state.source_emf]), volts, current


@pytest.mark.parametrize(("source", "reactor"), [(1.0, 3.0), (2.0, 2.0), (5.0, 3.0)])
def test_depth_is_the_divider_and_area_the_flux_of_the_source(source: float, reactor: float) -> None:
    """The area is L_s times the change of the current difference of the two phases, whatever its shape."""
    emf, volts, current = waves(FrontEnd(6, source, reactor, 4.0, source_xr=25.0, reactor_xr=25.0))
    found = notches(emf, volts, current, BASE_HZ, 1.0)
    assert len(found) == 6
    change = np.max(np.abs(np.diff(current, axis=1)))
    for notch in found:
        assert notch.depth_pct == pytest.approx(100 * source / (source + reactor), rel=1e-6)
    on = np.all(np.abs(current) > 1e-6 * np.abs(current).max(), axis=0)
    first = int(np.flatnonzero(on & ~np.roll(on, 1))[0])
    last = first + int(np.flatnonzero(~on[first:])[0])
    swing = current[:, last - 1] - current[:, first]
    flux = source / 100.0 * (swing.max() - swing.min())
    resistive = source / 25.0 / 100.0 * 2.0 * (last - first) / (BASE_HZ * POINTS)
    assert found[0].area_vs == pytest.approx(flux, abs=source / 100.0 * 4 * change + resistive)
    assert deepest(found).area_vs == pytest.approx(found[0].area_vs, rel=0.01)


def test_smooth_direct_current_gives_the_textbook_area() -> None:
    """2 I_d L_s: a resistor as load behind a choke of 300 %, so that the current is smooth."""
    front_end = FrontEnd(
        6, 2.0, 3.0, 300.0, load_kind="resistance", dc_capacitance_pu=1.0, source_xr=500.0, reactor_xr=500.0
    )
    state = solve_front_end(front_end)
    emf, volts, current = waves(front_end)
    dc_amps = state.dc_watts / state.dc_volts_mean
    found = deepest(notches(emf, volts, current, BASE_HZ, 1.0))
    textbook = textbook_notch(0.02, 0.03, dc_amps, 1.0)
    assert found.depth_pct == pytest.approx(textbook.depth_pct, rel=1e-3)
    assert found.area_vs == pytest.approx(textbook.area_vs, rel=0.006)
    overlap = found.width_s
    assert found.crest_depth_pct == pytest.approx(40.0 * math.sin(overlap), rel=0.005)


def test_separate_pulses_do_not_notch_the_bus() -> None:
    emf, volts, current = waves(FrontEnd(6, 0.5))
    assert notches(emf, volts, current, BASE_HZ, 1.0) == ()
    assert deepest(()) == Notch(0.0, 0.0, 0.0, 0.0)


def test_each_run_of_commutation_is_one_notch_and_the_largest_ratio_its_depth() -> None:
    """A cosine that lacks a half for 30 points and a quarter for the next 20; by hand."""
    count = 3600
    angle = 2.0 * math.pi * np.arange(count) / count
    whole = np.array([np.cos(angle - 2.0 * math.pi / 3.0 * x) for x in range(3)])
    notched, flags = whole.copy(), np.zeros((3, count), bool)
    notched[1, 1190:1220] *= 0.5
    notched[1, 1220:1240] *= 0.75
    flags[1, 1190:1240] = True
    flags[0, -10:] = flags[0, :10] = True  # over the end of the cycle, and nothing is missing there
    first, second = sorted(line_notches(whole, notched, flags, 50.0, 1.0), key=lambda one: one.depth_pct)
    assert (first.depth_pct, first.area_vs) == (0.0, 0.0)
    assert first.width_s == pytest.approx(20 / count / 50.0)
    assert second.depth_pct == pytest.approx(50.0)
    assert second.width_s == pytest.approx(50 / count / 50.0)
    missing = 0.5 * whole[1, 1190:1220].sum() + 0.25 * whole[1, 1220:1240].sum()
    assert second.area_vs == pytest.approx(missing / count / 50.0)
    assert 1190 <= second.deepest_at < 1220


def test_commutations_without_a_gap_are_refused() -> None:
    """Overlap of more than 60 degrees: the currents do not say where one ends."""
    everywhere = np.ones((3, 900))
    with pytest.raises(InputError, match="all phases at every point"):
        notches(everywhere, everywhere, everywhere, 50.0, 400.0)


def test_area_limit_goes_with_the_voltage() -> None:
    """480 V: 22 800 V us in a general system; 690 V: times 690/480."""
    notch = Notch(19.0, 19.0, 25e-3, 1e-4)
    assert [judge_notch(notch, "general", v).word for v in (480.0, 690.0)] == ["FAIL", "PASS"]
    assert notch_classes() == ("special", "general", "dedicated")
    assert "one source" in judge_notch(notch, "general", 480.0).note


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: textbook_notch(0.0, 0.0, 1.0, 1.0), "source_henry"),
        (lambda: textbook_notch(1e-3, 0.0, 0.0, 1.0), "dc_amps"),
        (lambda: notches(np.zeros((3, 10)), np.zeros((3, 10)), np.zeros((3, 10)), 50, 400), "currents"),
        (lambda: notches(np.zeros((3, 9)), np.zeros((3, 900)), np.zeros((3, 900)), 50, 400), "emf"),
        (lambda: judge_notch(Notch(1, 1, 1, 1), "office", 480.0), "system_class"),
        (lambda: judge_notch(Notch(1, 1, 1, 1), "general", 0.0), "nominal_volts"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument
