"""Smooth direct current: textbook p-pulse distortion and an independently computed overlap table.

The infinite sum for six pulses is confirmed by two textbook exercises (31.084 % and 31.086 %); truncated
sums and the overlap table (data/smooth_current_overlap.csv) were computed from the sampled waveform, not
from our formula.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from xlcalc.rectifier.circuit import Bridge, Circuit, DCLink, Load, ThreePhaseSource
from xlcalc.rectifier.closed_form import ideal_spectrum, ideal_thd_pct
from xlcalc.rectifier.steady_state import solve

with (Path(__file__).parent / "data" / "smooth_current_overlap.csv").open() as file:
    OVERLAP = list(csv.DictReader(file))


@pytest.mark.parametrize(
    ("pulses", "infinite", "to_25", "to_40", "to_50"),
    [
        (6, 31.0842, 29.0363, 29.6794, 30.0153),
        (12, 15.2194, 13.2936, 13.8632, 14.1732),
        (18, 10.1075, 7.8932, 8.8188, 8.8188),
        (24, 7.5705, 5.9079, 5.9079, 6.6027),
    ],
)
def test_ideal_distortion(pulses: int, infinite: float, to_25: float, to_40: float, to_50: float) -> None:
    assert ideal_thd_pct(pulses) == pytest.approx(infinite, abs=1e-4)
    for order, expected in {25: to_25, 40: to_40, 50: to_50}.items():
        assert ideal_spectrum(pulses, max_order=order).thd_pct == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("row", OVERLAP, ids=lambda row: row["u_deg"])
def test_overlap(row: dict[str, str]) -> None:
    spectrum = ideal_spectrum(6, float(row["u_deg"]))
    assert spectrum.fundamental == pytest.approx(float(row["I1rms/Id"]), abs=1e-5)
    assert spectrum.thd_pct == pytest.approx(float(row["THD50"]), abs=1e-3)
    for order in (5, 7, 11, 13, 17, 19, 23, 25):
        assert spectrum.percent[order - 1] == pytest.approx(float(row[f"I{order}"]), abs=1e-3)


@pytest.mark.parametrize("overlap_deg", [10.0, 25.0, 40.0])
def test_engine_with_a_large_choke_meets_the_closed_form(overlap_deg: float) -> None:
    """1 - cos u = sqrt 2 X I_d / V_LL per unit; magnitudes and angles."""
    current = 1.0 / 1.35
    reactance = (1.0 - math.cos(math.radians(overlap_deg))) / (math.sqrt(2.0) * current)
    state = solve(
        Circuit(
            ThreePhaseSource(1.0, 1.0 / (2.0 * math.pi), reactance),
            DCLink(100.0),
            Load("current", current),
            (Bridge(choke_inductance=3.0),),
        )
    )
    ours = state.line_current[0].phasors / current
    ideal = ideal_spectrum(6, overlap_deg).phasors
    assert np.max(np.abs(ours - ideal)) / abs(ideal[0]) < 0.01
