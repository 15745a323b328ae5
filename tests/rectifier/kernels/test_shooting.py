"""The derivative of the period map and the symmetry map, against plain running of the same kernels."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from xlcalc.rectifier.compiled.buffers import Buffers
from xlcalc.rectifier.compiled.packing import pack
from xlcalc.rectifier.drive import FrontEnd, solve_front_end
from xlcalc.rectifier.kernels.layout import WORK
from xlcalc.rectifier.kernels.shooting import turn_back
from xlcalc.rectifier.result import OrbitPoint
from xlcalc.rectifier.steady_state import solve

CASES = {
    "discontinuous": FrontEnd(6, 0.5),
    "choke": FrontEnd(6, 0.5, choke_pct=4.0, capacitor_resistance_pct=0.3),
    "commutation": FrontEnd(6, 5.0, choke_pct=4.0, diode_drop_pct=0.2, diode_resistance_pct=0.1),
    "overlap beyond 60 degrees": FrontEnd(6, 60.0, choke_pct=30.0, load_kind="current"),
    "unbalanced 12-pulse": FrontEnd(12, 0.5, choke_pct=4.0, unbalance_pct=2.0),
    "mismatched 18-pulse, distorted": FrontEnd(
        18, 0.5, choke_pct=2.0, leakage_mismatch_pct=5.0, background=((5, 2.0, 10.0), (7, 1.0, 0.0))
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_a_small_disturbance_dies_out_as_the_multiplier_says(name: str) -> None:
    """The capacitor voltage is disturbed; what remains shrinks by the multiplier per run over the map."""
    circuit = CASES[name].circuit()
    state = solve(circuit)
    point = state.orbit_point
    packed = pack(circuit)
    repeats = 12
    rests = []
    for maps in (repeats, 2 * repeats):
        disturbed = replace(point, volts=point.volts + 1e-5)
        rests.append(_distance_after(packed.net, state.sectors, disturbed, point, maps))
    if rests[0] < 1e-10:
        assert abs(state.multiplier) < 0.4
        return
    shrinks = (rests[1] / rests[0]) ** (1.0 / repeats)
    assert shrinks == pytest.approx(abs(state.multiplier), rel=0.1)


def _distance_after(net: np.ndarray, sectors: int, start: OrbitPoint, goal: OrbitPoint, maps: int) -> float:
    """Plain running only: no iteration of Newton's method."""
    buffers = Buffers.from_points([start], 1)
    buffers.run(net, sectors, maps, True, np.ones(1, np.int64), max_iterations=0)
    reached = buffers.point(0)
    return float(max(np.abs(reached.currents - goal.currents).max(), abs(reached.volts[0] - goal.volts[0])))


def test_renaming_after_60_degrees_six_times_is_the_identity() -> None:
    """Once, the upper diode of phase a takes the lower one of phase c."""
    random = np.random.default_rng(0)
    space = np.zeros(1, WORK)[0]
    y = random.uniform(size=12)
    mask = np.array([0b100011, 0b010100])
    states = random.uniform(size=8)
    turned, turned_states, turned_mask = y.copy(), states.copy(), mask.copy()
    turn_back(space, turned, turned_states, turned_mask, 1)
    assert turned[0] == y[5]
    assert turned[3] == y[2]
    alpha, beta = states[0::4] + 1j * states[1::4], states[2::4] + 1j * states[3::4]
    turned_back = 0.5 * alpha + math.sqrt(0.75) * beta
    assert turned_states[0::4] + 1j * turned_states[1::4] == pytest.approx(turned_back)
    for _ in range(5):
        turn_back(space, turned, turned_states, turned_mask, 1)
    assert np.array_equal(turned, y)
    assert turned_states == pytest.approx(states)
    assert np.array_equal(turned_mask, mask)


def test_solution_repeats_over_a_plain_cycle() -> None:
    state = solve_front_end(CASES["mismatched 18-pulse, distorted"])
    packed = pack(state.circuit)
    point = state.orbit_point
    assert _distance_after(packed.net, 6, point, point, 3) < 1e-9


def test_newton_counts_few_iterations() -> None:
    for front_end in CASES.values():
        assert solve_front_end(front_end).iterations <= 8


def test_buffers_start_cold_at_one_angle() -> None:
    buffers = Buffers.cold(3, 2, 5, 0)
    assert buffers.current.shape == (3, 2, 3, 5)
    assert np.ptp(buffers.theta) == 0.0
