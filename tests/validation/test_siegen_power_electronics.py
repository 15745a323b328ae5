"""University of Siegen, *Power Electronics* course (CC BY 4.0): six-pulse bridge with smooth current.

Exam summer 2025, task 4: dc current 50 A, line current 40.82 A, fundamental 38.98 A, distortion 31.086 %.
Lecture 4: peak-to-peak dc ripple of the ideal six-pulse rectifier 14.03 % of the mean.
"""

from __future__ import annotations

import math

import pytest

from xlcalc.rectifier.circuit import Bridge, Circuit, DCLink, Load, ThreePhaseSource
from xlcalc.rectifier.closed_form import ideal_spectrum, ideal_thd_pct
from xlcalc.rectifier.steady_state import solve
from xlcalc.rectifier.trace import waveforms


def test_bridge_with_50_amperes() -> None:
    assert 50.0 * ideal_spectrum(6).fundamental == pytest.approx(38.98, abs=0.01)
    assert ideal_thd_pct(6) == pytest.approx(31.086, abs=0.01)
    rms = 50.0 * ideal_spectrum(6, max_order=20_000).rms
    assert rms == pytest.approx(40.82, abs=0.01)


def test_engine_with_smooth_current_approaches_the_ideal_bridge() -> None:
    """Choke of 290 %, hardly any reactance: rectified voltage and current of the ideal bridge."""
    state = solve(
        Circuit(
            ThreePhaseSource(1.0, 1.0 / (2.0 * math.pi), 1e-5),
            DCLink(50.0),
            Load("current", 1.0 / 1.35),
            (Bridge(choke_inductance=2.9),),
        )
    )
    assert state.line_current[0].fundamental * 1.35 == pytest.approx(38.98 / 50.0, rel=2e-3)
    assert state.line_current[0].thd_pct == pytest.approx(ideal_spectrum(6).thd_pct, abs=0.15)
    _, _, volts = waveforms(state, 3600)
    rectified = volts.max(axis=0) - volts.min(axis=0)
    ripple = 100.0 * (rectified.max() - rectified.min()) / rectified.mean()
    assert ripple == pytest.approx(14.03, abs=0.05)
    assert state.dc_volts_mean == pytest.approx(rectified.mean(), rel=1e-4)
