"""12- and 18-pulse sets against unbalance and background distortion (data/multipulse_supply.csv).

Computed with an independent piecewise-linear solver: 400 V, 50 Hz, 100 A, 20 mF, bridges with 5 % leakage on
their share of the balanced set's own fundamental, shifts +-15 and 0, +-20 degrees.
"""

from __future__ import annotations

import cmath
import csv
import math
from functools import cache
from pathlib import Path

import pytest

from xlcalc.rectifier.circuit import Bridge, Circuit, DCLink, Load, ThreePhaseSource
from xlcalc.rectifier.steady_state import solve

SHIFTS = {12: (-15.0, 15.0), 18: (-20.0, 0.0, 20.0)}
BACKGROUND = {  # order, per unit, degrees in the sine convention
    "bg5=2%@0": [(5, 0.02, 0.0)],
    "bg5=2%@180": [(5, 0.02, 180.0)],
    "bg5=2.5@180+bg7=1.5@0": [(5, 0.025, 180.0), (7, 0.015, 0.0)],
}

with (Path(__file__).parent / "data" / "multipulse_supply.csv").open() as file:
    ROWS = list(csv.DictReader(file))


def circuit(pulses: int, leakage: float, case: str) -> Circuit:
    background = tuple(
        (order, size * cmath.exp(1j * math.radians(angle + 90.0 * (order - 1))))
        for order, size, angle in BACKGROUND.get(case, [])
    )
    unbalance = float(case[3:-1]) / 100.0 if case.startswith("u2") else 0.0
    return Circuit(
        ThreePhaseSource(400.0, 50.0, negative_sequence=unbalance, background=background),
        DCLink(20e-3),
        Load("current", 100.0),
        tuple(Bridge(shift, leakage) for shift in SHIFTS[pulses]),
    )


@cache
def leakage_henry(pulses: int, percent: float) -> float:
    """Leakage of that percentage on the fundamental current of one bridge of the balanced set."""
    amps = 78.0
    for _ in range(6):
        bridge_ohms = 400.0 / math.sqrt(3.0) / (amps / len(SHIFTS[pulses]))
        henry = percent / 100.0 * bridge_ohms / (2.0 * math.pi * 50.0)
        amps = solve(circuit(pulses, henry, "balanced")).line_current[0].fundamental
    return henry


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['pulses']}-{row['case']}")
def test_row(row: dict[str, str]) -> None:
    pulses = int(row["pulses"])
    state = solve(circuit(pulses, leakage_henry(pulses, float(row["x_pct"])), row["case"]))
    for phase, name in enumerate("ABC"):
        assert state.thd_pct[phase] == pytest.approx(float(row[f"THD_{name}"]), abs=0.02)
    assert state.dc_volts_mean == pytest.approx(float(row["Vdc"]), abs=0.1)
    percent = state.line_current[0].percent
    for key, text in row.items():
        if key.startswith("A_I"):
            assert percent[int(key[3:]) - 1] == pytest.approx(float(text), abs=0.01), key
