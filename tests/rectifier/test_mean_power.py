"""A load of constant mean power: its current is the power over the mean voltage of the DC link."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.circuit import Load
from xlcalc.rectifier.compiled.batch import Attempt, run_batch
from xlcalc.rectifier.compiled.packing import pack
from xlcalc.rectifier.doubts import doubt_of, second_state
from xlcalc.rectifier.drive import FrontEnd, solve_front_end, solve_front_ends
from xlcalc.rectifier.passive_filter import FilterRating
from xlcalc.rectifier.result import OrbitPoint, SteadyState
from xlcalc.rectifier.steady_state import solve, solve_many
from xlcalc.rectifier.trace import waveforms

CASES = {
    "bare": FrontEnd(6, 1.0),
    "no capacitor resistance": FrontEnd(6, 1.0, reactor_pct=3.0, capacitor_resistance_pct=0.0),
    "choke, small capacitor": FrontEnd(6, 1.0, choke_pct=4.0, dc_capacitance_pu=1.0),
    "film link": FrontEnd(6, 1.0, dc_capacitance_pu=0.17, capacitor_resistance_pct=2.0),
    "12-pulse, unbalanced, mismatched": FrontEnd(
        12, 1.0, choke_pct=3.0, unbalance_pct=2.0, leakage_mismatch_pct=10.0
    ),
    "even background": FrontEnd(6, 1.0, reactor_pct=3.0, background=((2, 1.0, 30.0), (5, 2.0, 10.0))),
    "filter": FrontEnd(6, 1.0, reactor_pct=5.0, filter=FilterRating(20.0, 8.0, 4.7)),
}


def apart(a: SteadyState, b: SteadyState) -> float:
    """Largest difference of any order in per unit of the fundamental."""
    return float(np.abs(a.line_phasors - b.line_phasors).max() / np.abs(b.line_phasors).max())


@pytest.mark.parametrize("name", CASES)
def test_it_is_the_solution_of_a_constant_current_that_takes_the_power(name: str) -> None:
    circuit = replace(CASES[name], load_pct=80.0).circuit()
    state = solve(circuit)
    assert state.stable
    assert state.dc_watts == pytest.approx(0.8, rel=1e-9)
    assert abs(state.power_imbalance) < 1e-8
    held = solve(replace(circuit, load=Load("current", 0.8 / state.dc_volts_mean)))
    assert apart(state, held) < 1e-9
    assert held.dc_watts == pytest.approx(0.8, rel=1e-9)
    assert state.multiplier == pytest.approx(held.multiplier, abs=1e-6)
    assert np.abs(waveforms(state, 96)[1] - waveforms(held, 96)[1]).max() < 1e-8


def test_a_circuit_solved_in_a_batch_is_the_circuit_solved_alone() -> None:
    fronts = [replace(CASES["bare"], load_pct=pct) for pct in (30.0, 60.0, 110.0)]
    for front, together in zip(fronts, solve_front_ends(fronts), strict=True):
        assert isinstance(together, SteadyState)
        assert apart(together, solve_front_end(front)) < 1e-10


@pytest.mark.parametrize("name", CASES)
def test_every_start_leads_to_one_state(name: str) -> None:
    """From four capacitor voltages and load currents at rest, and from the solution of another load."""
    circuit = CASES[name].circuit()
    state, packed = solve(circuit), pack(circuit)
    for volts, amps in ((0.9, 0.2), (1.2, 1.0), (1.5, 0.7), (2.0, 0.05)):
        rest = OrbitPoint(
            0.11,
            np.zeros(6 * packed.bridges),
            np.array([volts]),
            np.zeros(4 * packed.terms),
            np.zeros(packed.bridges, np.int64),
            amps,
        )
        for sectors in {packed.sectors, 6}:
            found = run_batch([circuit], [packed], 50, Attempt(120, (rest,), sectors))[0]
            assert isinstance(found, SteadyState), found
            assert apart(found, state) < 1e-8
    other = replace(CASES[name], load_pct=70.0).circuit()
    warm = solve_many([circuit], near={circuit: solve(other)})[0]
    assert isinstance(warm, SteadyState)
    assert apart(warm, state) < 1e-9


def test_up_to_the_most_that_the_supply_gives_and_not_beyond() -> None:
    """The largest power is that of the best constant current, here found by trying many of them."""
    most = 0.0
    for amps in np.linspace(0.2, 1.4, 241):
        held = solve(replace(FrontEnd(6, 40.0).circuit(), load=Load("current", float(amps))))
        most = max(most, held.dc_watts)
    below = solve_front_end(FrontEnd(6, 40.0, load_pct=99.5 * most))
    assert below.dc_watts == pytest.approx(0.995 * most, rel=1e-9)
    with pytest.raises(NoSolutionError, match=r"cannot supply this load: .* 9[89]% of it"):
        solve_front_end(FrontEnd(6, 40.0, load_pct=100.9 * most))


def test_even_pulses_where_an_instantaneous_load_makes_uneven_ones() -> None:
    even = FrontEnd(6, 0.5, reactor_pct=3.0, dc_capacitance_pu=2.0)
    state = solve_front_end(even)
    assert not state.uneven
    assert doubt_of(state) == ""
    assert state.line_current[0].percent[1] == 0.0
    uneven = solve_front_end(replace(even, load_kind="power", capacitor_resistance_pct=0.0))
    assert uneven.uneven
    assert "uneven" in doubt_of(uneven)
    assert "'mean power'" in doubt_of(uneven)


def test_a_second_state_of_an_instantaneous_load_is_found() -> None:
    """ngspice from rest settles to 111.8 % distortion, the symmetric solution is stable too."""
    state = solve_front_end(FrontEnd(6, 0.5, reactor_pct=3.0, dc_capacitance_pu=1.5, load_kind="power"))
    assert state.stable
    assert state.thd_pct[0] == pytest.approx(45.1, abs=0.1)
    assert second_state(state) is not None
    assert second_state(state).thd_pct[0] == pytest.approx(111.8, abs=0.3)
    assert "two steady states, with 45.1 % and 112.0 %" in doubt_of(state)
    assert second_state(solve_front_end(CASES["choke, small capacitor"])) is None
