"""Common practice, no source: a 15 hp, 460-480 V drive at full load.

The figures (about 112 % distortion with the 5th near 80 % bare; 45 % with a dc choke; 24 % with choke and 5 %
reactor; 7.3 % at 12 pulses; 4.3 % at 18) come without inputs, so they are a plausibility band and validate
nothing by themselves. One plausible parameter set (480 V, 12.5 kVA base, 12.6 kW, source 0.32 % with X/R 2,
choke 3.65 %, 70 uF/kW, diodes 0.9 V + 10 mohm, capacitor 30 mohm, windings 4.6 % and 4.0 %) on a balanced,
undistorted supply meets the first, second and fourth:

- choke + reactor reads 28 %, not 24 %: a background 5th of a few percent, or a larger reactor, is needed;
- 45 % with a choke goes with a 5th near 37 %, not 30 %, on any balanced supply;
- 18 pulses read 3.3 %; half a percent of unbalance lifts that to 4.4 %.
"""

from __future__ import annotations

import math

import pytest

from xlcalc.rectifier.drive import FrontEnd, solve_front_ends
from xlcalc.rectifier.result import SteadyState

BASE_OHMS = 480.0**2 / 12_500.0
DRIVE = {
    "source_pct": 0.32,
    "source_xr": 2.0,
    "load_pct": 100.0 * 12.6 / 12.5,
    "dc_capacitance_pu": 2.0 * math.pi * 60.0 * 70e-6 * 12.6 * BASE_OHMS,
    "diode_drop_pct": 100.0 * 0.9 / 480.0,
    "diode_resistance_pct": 100.0 * 0.010 / BASE_OHMS,
    "capacitor_resistance_pct": 100.0 * 0.030 / BASE_OHMS,
    "load_kind": "power",
}
CHOKE = {**DRIVE, "choke_pct": 3.65}
FRONT_ENDS = {
    "bare": FrontEnd(6, **DRIVE),
    "dc choke": FrontEnd(6, **CHOKE),
    "dc choke + 5 % reactor": FrontEnd(6, reactor_pct=5.0, **CHOKE),
    "12-pulse": FrontEnd(12, transformer_pct=4.6, **CHOKE),
    "18-pulse": FrontEnd(18, transformer_pct=4.0, **CHOKE),
    "18-pulse, 0.5 % unbalance": FrontEnd(18, transformer_pct=4.0, unbalance_pct=0.5, **CHOKE),
    "reactor, background 5th 3 %": FrontEnd(6, reactor_pct=5.0, background=((5, 3.0, -35.0),), **CHOKE),
}
COMMON_PRACTICE = {  # distortion in percent, and how far this parameter set is from it in points
    "bare": (112.0, 1.5),
    "dc choke": (45.0, 1.5),
    "dc choke + 5 % reactor": (24.0, 5.0),
    "12-pulse": (7.3, 0.1),
    "18-pulse": (4.3, 1.1),
    "18-pulse, 0.5 % unbalance": (4.3, 0.2),
    "reactor, background 5th 3 %": (24.0, 2.0),
}
INDEPENDENT = {  # mean distortion and 5th of an event-driven solver for the same set, for the first phase set
    "bare": (111.3, 81.4),
    "dc choke": (44.1, 36.6),
    "dc choke + 5 % reactor": (28.4, 26.2),
    "12-pulse": (7.29, 0.0),
    "18-pulse": (3.33, 0.0),
    "18-pulse, 0.5 % unbalance": (4.40, None),
    "reactor, background 5th 3 %": (25.5, 23.0),
}


@pytest.fixture(scope="module")
def states() -> dict[str, SteadyState]:
    found = dict(zip(FRONT_ENDS, solve_front_ends(FRONT_ENDS.values()), strict=True))
    for name, state in found.items():
        assert isinstance(state, SteadyState), name
        low, high = min(state.thd_pct), max(state.thd_pct)
        fifth = max(phase.percent[4] for phase in state.line_current)
        practice = COMMON_PRACTICE[name][0]
        print(f"{name:28} THD {low:6.2f} to {high:6.2f} %  5th {fifth:5.1f} %  practice {practice} %")
    return found


@pytest.mark.parametrize("name", FRONT_ENDS)
def test_beside_common_practice(states: dict[str, SteadyState], name: str) -> None:
    value, within = COMMON_PRACTICE[name]
    assert sum(states[name].thd_pct) / 3.0 == pytest.approx(value, abs=within)


@pytest.mark.parametrize("name", FRONT_ENDS)
def test_against_an_independent_solver(states: dict[str, SteadyState], name: str) -> None:
    distortion, fifth = INDEPENDENT[name]
    digits = 0.05 if distortion > 10.0 else 0.006
    assert sum(states[name].thd_pct) / 3.0 == pytest.approx(distortion, abs=digits + 0.05)
    if fifth is not None:
        mean = sum(phase.percent[4] for phase in states[name].line_current) / 3.0
        assert mean == pytest.approx(fifth, abs=0.06)


@pytest.mark.parametrize(
    ("mismatch_pct", "twelve", "eighteen"),
    [(5.0, (7.32, 0.6), (3.35, 0.3)), (10.0, (7.41, 1.2), (3.42, 0.7))],
)
def test_leakage_mismatch(
    mismatch_pct: float, twelve: tuple[float, float], eighteen: tuple[float, float]
) -> None:
    """The independent solver's sensitivities: distortion and the 5th that no longer cancels."""
    fronts = [
        FrontEnd(12, transformer_pct=4.6, leakage_mismatch_pct=mismatch_pct, **CHOKE),
        FrontEnd(18, transformer_pct=4.0, leakage_mismatch_pct=mismatch_pct, **CHOKE),
    ]
    for state, (distortion, fifth) in zip(solve_front_ends(fronts), (twelve, eighteen), strict=True):
        assert isinstance(state, SteadyState)
        assert state.thd_pct[0] == pytest.approx(distortion, abs=0.02)
        assert state.line_current[0].percent[4] == pytest.approx(fifth, abs=0.06)
