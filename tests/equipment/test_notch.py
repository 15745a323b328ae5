"""Notches in computed waveforms against the currents that make them, and the textbook relation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from xlcalc.equipment.notch import (
    Notch,
    deepest,
    judge_notch,
    notch_classes,
    notches,
    textbook_notch,
)
from xlcalc.errors import InputError
from xlcalc.rectifier.drive import BASE_HZ, FrontEnd, solve_front_end

POINTS = 20_000


def waves(front_end: FrontEnd) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """EMF, bus voltage and line current in per unit."""
    state = solve_front_end(front_end)
    _, current, volts = state.waveform(POINTS)
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
