"""3,000 random plausible six-pulse drives: even pulses, solved, and one state from any start.

A circuit of a symmetric source, resistances, inductances, capacitors and diodes that carries a constant
current has one steady state, with the symmetry of its source: the energy of the difference of two solutions
can only fall (such circuits are incrementally passive). What is counted here is what a study would meet.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from xlcalc.rectifier.compiled.batch import Attempt, run_batch, settle
from xlcalc.rectifier.compiled.packing import pack
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.rectifier.drive import FrontEnd, solve_front_ends
from xlcalc.rectifier.result import OrbitPoint, SteadyState

COUNT = 3000
STARTS = 150
EVEN_PCT = 0.1


def drives(count: int) -> list[FrontEnd]:
    random = np.random.default_rng(13)

    def log(low: float, high: float) -> float:
        return float(np.exp(random.uniform(np.log(low), np.log(high))))

    return [
        FrontEnd(
            6,
            log(0.3, 5.0),
            reactor_pct=float(random.choice([0.0, random.uniform(0.0, 5.0)])),
            choke_pct=float(random.choice([0.0, random.uniform(0.0, 5.0)])),
            load_pct=float(random.uniform(30.0, 110.0)),
            dc_capacitance_pu=log(0.2, 8.0),
        )
        for _ in range(count)
    ]


@pytest.fixture(scope="module")
def solved() -> list[tuple[FrontEnd, SteadyState | Exception]]:
    fronts = drives(COUNT)
    return list(zip(fronts, solve_front_ends(fronts), strict=True))


def test_all_are_solved(solved: list[tuple[FrontEnd, SteadyState | Exception]]) -> None:
    """Asked for: fewer than 2 % unsolved where the capacitor has 1 pu or more."""
    unsolved = [front for front, state in solved if not isinstance(state, SteadyState)]
    assert not unsolved
    for front, state in solved:
        assert isinstance(state, SteadyState)
        assert state.dc_watts == pytest.approx(front.load_pct / 100.0, rel=1e-8)
        assert abs(state.power_imbalance) < 1e-7


def test_no_even_orders_and_nothing_doubtful(
    solved: list[tuple[FrontEnd, SteadyState | Exception]],
) -> None:
    for front, state in solved:
        assert isinstance(state, SteadyState)
        assert max(state.line_current[0].percent[1::2]) < EVEN_PCT, front
        assert doubt_of(state) == "", front


def test_the_instantaneous_load_is_never_uneven_without_a_word() -> None:
    """The same drives: about one in ten is uneven or has a second state, and each of them says so."""
    fronts = [replace(front, load_kind="power") for front in drives(600)]
    uneven = second = 0
    for front, state in zip(fronts, solve_front_ends(fronts), strict=True):
        if not isinstance(state, SteadyState):
            assert "steady state" in str(state) or "unstable" in str(state)
            assert "'mean power'" in str(state)
            continue
        even = max(state.line_current[0].percent[1::2]) > EVEN_PCT
        assert not even or "uneven" in doubt_of(state), front
        uneven += even
        second += "two steady states" in doubt_of(state)
    assert uneven > 20
    assert second > 2


def test_one_state_from_any_start(solved: list[tuple[FrontEnd, SteadyState | Exception]]) -> None:
    """Plain running from rest at five capacitor voltages, then Newton's method over whole cycles.

    The load current starts anywhere from half of what is needed to twice that.
    """
    random = np.random.default_rng(7)
    for front, state in solved[:STARTS]:
        assert isinstance(state, SteadyState)
        circuit = front.circuit()
        packed = pack(circuit)
        for volts in (0.8, 1.1, 1.3, 1.45, 1.8):
            amps = float(random.uniform(0.5, 2.0)) * state.orbit_point.load_current
            rest = OrbitPoint(0.0, np.zeros(6), np.array([volts]), np.zeros(0), np.zeros(1, np.int64), amps)
            start = settle(packed, rest, int(random.integers(1, 20)))
            found = run_batch([circuit], [packed], 50, Attempt(0, (start,), 6))[0]
            assert isinstance(found, SteadyState), (front, volts, amps, found)
            apart = np.abs(found.line_phasors - state.line_phasors).max()
            assert apart < 1e-7 * np.abs(state.line_phasors[0, 0]), (front, volts, amps)
