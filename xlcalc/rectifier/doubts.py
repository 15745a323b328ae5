"""Why a running drive need not be in the steady state that was found for it.

A circuit whose load draws a constant current, one that rises with the voltage or a constant mean power has
one steady state only, with the symmetry of its supply: reactors, diodes and capacitors let no difference
between two solutions grow. Constant power at every instant does; it is the only load that is looked into.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Final

import numpy as np

from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.compiled.batch import Attempt, run_batch, settle
from xlcalc.rectifier.compiled.packing import pack
from xlcalc.rectifier.result import SteadyState
from xlcalc.rectifier.steady_state import at_rest, solve_many

SLOW: Final = 0.7
"""Multiplier of 60 degrees above which second states have been seen."""

SECOND_CYCLES: Final = 20
SAME_STATE: Final = 1e-3
"""Of the fundamental."""

REMEMBERED: Final = 128
_INSTANTANEOUS: Final = (
    "a load of constant power at every instant does this, an inverter does not: load kind 'mean power' fits"
)


def doubt_of(state: SteadyState) -> str:
    """Why a running drive need not be in this state, one plain sentence; empty where nothing is known."""
    if not state.stable:
        return f"the solution is unstable (multiplier {state.multiplier:.3f} per {state.symmetry})"
    if state.uneven:
        return (
            f"the pulses are uneven: the current repeats itself after {state.symmetry} only, though the "
            f"supply does so after {state.expected_symmetry}; {_INSTANTANEOUS}"
        )
    if state.circuit.load.kind != "power":
        return ""
    if uneven_on_even_supply(state):
        return f"on an even supply the pulses of this drive are uneven; {_INSTANTANEOUS}"
    other = second_state(state)
    if other is None:
        return ""
    return (
        f"there are two steady states, with {max(state.thd_pct):.1f} % and {max(other.thd_pct):.1f} % "
        f"distortion of the current, and nothing tells which one a drive takes; {_INSTANTANEOUS}"
    )


@lru_cache(maxsize=REMEMBERED)
def second_state(known: SteadyState) -> SteadyState | None:
    """A second stable steady state, settled from rest at w t = 0; None where none was found.

    Only where one can be: with a load of constant power at every instant, and a multiplier that is not small.
    """

    circuit = known.circuit
    slow = abs(known.multiplier) > SLOW**known.sectors
    if circuit.load.kind != "power" or known.uneven or not slow:
        return None
    packed = pack(circuit)
    settled = settle(packed, at_rest(packed, known), SECOND_CYCLES)
    fundamental = np.abs(known.line_phasors[:, 0]).max()
    for sectors in (6, 3, 2, 1):
        if sectors % packed.sectors:
            continue
        result = run_batch([circuit], [packed], known.max_order, Attempt(0, (settled,), sectors))[0]
        if isinstance(result, SteadyState) and result.stable:
            apart = np.abs(result.line_phasors - known.line_phasors).max() / fundamental
            if apart > SAME_STATE:
                return result
    return None


@lru_cache(maxsize=REMEMBERED)
def uneven_on_even_supply(known: SteadyState) -> bool:
    """Whether the circuit has no stable solution with the symmetry of an even supply, given such a one.

    Only a load of constant power at every instant can be without.
    """
    circuit = known.circuit
    if circuit.load.kind != "power" or known.expected_sectors == 1:
        return False
    supply = circuit.supply
    even = replace(
        supply,
        negative_sequence=0j,
        background=tuple((order, value) for order, value in supply.background if order % 2),
        components=tuple(
            (order, sequence, value)
            for order, sequence, value in supply.components
            if order % 2 and (order - sequence) % 3 == 0
        ),
    )
    result = solve_many([replace(circuit, supply=even)], known.max_order)[0]
    return isinstance(result, NoSolutionError) or result.uneven
