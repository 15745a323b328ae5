"""Six-pulse bridges on a stiff dc bus, with and without dc choke (data/stiff_bus.csv).

Computed with an independent piecewise-linear solver. Reactances are in percent on the case's own fundamental
current, 100 w L I1 / (V / sqrt 3); no resistance; phi is the sine-convention angle relative to the
fundamental.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from xlcalc.rectifier.circuit import Bridge, Circuit, DCLink, Load, ThreePhaseSource
from xlcalc.rectifier.result import SteadyState
from xlcalc.rectifier.steady_state import solve
from xlcalc.rectifier.trace import waveforms

HZ = 1.0 / (2.0 * math.pi)

with (Path(__file__).parent / "data" / "stiff_bus.csv").open() as file:
    ROWS = list(csv.DictReader(file))


def on_own_base(xac_pct: float, xdc_pct: float) -> SteadyState:
    """1 V, 1 rad/s, 1/1.35 A: repeat until the reactances fit the fundamental they lead to."""
    base = math.sqrt(3.0) * 0.577
    for _ in range(12):
        state = solve(
            Circuit(
                ThreePhaseSource(1.0, HZ, xac_pct / 100.0 / base),
                DCLink(3000.0),
                Load("current", 1.0 / 1.35),
                (Bridge(choke_inductance=xdc_pct / 100.0 / base),),
            )
        )
        found = math.sqrt(3.0) * state.line_current[0].fundamental
        if abs(found - base) < 1e-9:
            return state
        base = found
    raise AssertionError("the base does not settle")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['xac%']}-{row['xdc%']}")
def test_row(row: dict[str, str]) -> None:
    state = on_own_base(float(row["xac%"]), float(row["xdc%"]))
    current = state.line_current[0]
    assert current.thd_pct == pytest.approx(float(row["THD50"]), abs=0.05)
    for order in (5, 7, 11, 13, 17, 19, 23, 25, 29, 31):
        assert current.percent[order - 1] == pytest.approx(float(row[f"I{order}"]), abs=0.05), order
    phi = np.degrees(np.angle(current.phasors))
    for order in (5, 7, 11, 13):
        sine = phi[order - 1] - order * phi[0] - 90.0 * (order - 1)
        off = (sine - float(row[f"phi{order}"]) + 180.0) % 360.0 - 180.0
        assert math.radians(abs(off)) * current.percent[order - 1] < 0.1, order
    assert state.source_displacement_power_factor == pytest.approx(float(row["DPF"]), abs=2e-4)
    assert state.source_power_factor == pytest.approx(float(row["PF"]), abs=5e-4)
    assert state.dc_volts_mean == pytest.approx(float(row["Vdc/VLL"]), abs=2e-4)
    _, waveform, _ = waveforms(state, 3600)
    assert max(waveform[0]) / state.line_rms[0] == pytest.approx(float(row["crest"]), abs=2e-3)
