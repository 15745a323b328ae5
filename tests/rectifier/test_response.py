"""The derivative of the solution against differences of two solutions."""

from __future__ import annotations

import cmath
from dataclasses import replace

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.rectifier.impedance import Rational
from xlcalc.rectifier.passive_filter import FilterRating
from xlcalc.rectifier.response import emf_responses
from xlcalc.rectifier.steady_state import solve

SMALL = 1e-5
NATURAL = tuple((n, 1 if n % 6 == 1 else -1) for n in (1, 5, 7, 11, 13, 35))
DAMPED = {"capacitor_resistance_pct": 0.5}
CASES = {
    "six-pulse": FrontEnd(6, 1.0, reactor_pct=3.0),
    "discontinuous": FrontEnd(6, 1.0, **DAMPED),
    "choke": FrontEnd(6, 2.0, choke_pct=4.0, diode_resistance_pct=0.2, **DAMPED),
    "12-pulse": FrontEnd(12, 1.0, choke_pct=3.0),
    "unbalanced": FrontEnd(6, 1.0, reactor_pct=3.0, unbalance_pct=1.0, background=((5, 2.0, 40.0),)),
    "filter": FrontEnd(6, 1.0, reactor_pct=5.0, filter=FilterRating(20.0, 8.0, 4.7)),
    "power at every instant": FrontEnd(6, 1.0, reactor_pct=3.0, load_kind="power"),
    "film link": FrontEnd(6, 1.0, reactor_pct=1.0, dc_capacitance_pu=0.2),
    "constant current": FrontEnd(6, 1.0, reactor_pct=3.0, load_kind="current"),
}


def sequences(state) -> np.ndarray:
    a, b, c = (phase.phasors for phase in state.line_current)
    turn = cmath.exp(2j * cmath.pi / 3.0)
    return np.array([(a + turn * b + turn**2 * c) / 3.0, (a + turn**2 * b + turn * c) / 3.0])


def changed(circuit, order: int, sequence: int, step: complex):
    supply = circuit.supply
    if order == 1:
        grown = abs(1.0 + step)
        turned = replace(supply, volts=supply.volts * grown, angle_deg=np.degrees(cmath.phase(1.0 + step)))
        keep = cmath.exp(-1j * cmath.phase(1.0 + step)) / grown
        negative = supply.negative_sequence * keep
        return replace(circuit, supply=replace(turned, negative_sequence=negative)), keep
    return replace(circuit, supply=replace(supply, components=((order, sequence, step),))), 1.0


@pytest.mark.parametrize("name", CASES)
def test_it_is_the_difference_of_two_solutions(name: str) -> None:
    circuit = CASES[name].circuit()
    state = solve(circuit)
    places = [place for place in NATURAL if place[0] > 1]
    answer = emf_responses([state], places)[0]
    assert answer is not None
    volts = circuit.supply.volts / np.sqrt(3.0)
    for p, (order, sequence) in enumerate(places):
        for u, unit in enumerate((1.0, 1j)):
            up, down = (solve(changed(circuit, order, sequence, s * SMALL * unit)[0]) for s in (1, -1))
            measured = (sequences(up) - sequences(down)) / (2.0 * SMALL * volts)
            scale = np.abs(measured).max()
            assert np.abs(answer[u, p] - measured).max() < 2e-3 * scale


def test_the_fundamental_too() -> None:
    """More voltage, and the same voltage later: the current turns with it, order by order."""
    circuit = CASES["six-pulse"].circuit()
    state = solve(circuit)
    answer = emf_responses([state], [(1, 1)])[0]
    assert answer is not None
    volts = circuit.supply.volts / np.sqrt(3.0)
    up, down = (solve(changed(circuit, 1, 1, s * SMALL)[0]) for s in (1, -1))
    measured = (sequences(up) - sequences(down)) / (2.0 * SMALL * volts)
    assert np.abs(answer[0, 0] - measured).max() < 2e-3 * np.abs(measured).max()
    turned = 1j * np.arange(1, 51) * sequences(state) / volts
    assert np.abs(answer[1, 0] - turned).max() < 1e-6 * np.abs(turned).max()


def test_a_supply_with_a_capacitor() -> None:
    circuit = CASES["six-pulse"].circuit()
    bank = Rational.series_branch(0.001, 0.01).parallel(Rational((1.0,), (0.0, 0.4)))
    resistance, inductance, terms = bank.partial_fractions()
    supply = replace(circuit.supply, resistance=resistance, inductance=inductance, terms=terms)
    circuit = replace(circuit, supply=supply)
    answer = emf_responses([solve(circuit)], [(5, -1)])[0]
    assert answer is not None
    up, down = (solve(changed(circuit, 5, -1, s * SMALL)[0]) for s in (1, -1))
    measured = (sequences(up) - sequences(down)) / (2.0 * SMALL * circuit.supply.volts / np.sqrt(3.0))
    assert np.abs(answer[0, 0] - measured).max() < 2e-3 * np.abs(measured).max()


def test_many_states_of_different_shapes_at_once() -> None:
    states = [solve(front_end.circuit()) for front_end in CASES.values()]
    together = emf_responses(states, NATURAL)
    for state, answer in zip(states, together, strict=True):
        assert answer == pytest.approx(emf_responses([state], NATURAL)[0])


def test_a_change_that_breaks_the_symmetry_is_refused() -> None:
    state = solve(CASES["six-pulse"].circuit())
    with pytest.raises(InputError, match="place"):
        emf_responses([state], [(5, 1)])
    with pytest.raises(InputError, match="places"):
        emf_responses([state], [])
