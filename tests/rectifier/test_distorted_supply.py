"""A supply whose voltage other loads have distorted: any order, any sequence."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.network.sequence import components
from xlcalc.rectifier.circuit import Circuit, ThreePhaseSource
from xlcalc.rectifier.drive import BASE_HZ, FrontEnd
from xlcalc.rectifier.steady_state import solve, solve_many

SOURCE, RESISTANCE = 0.03, 0.003


def on(front_end: FrontEnd, supply: ThreePhaseSource) -> Circuit:
    return replace(front_end.circuit(), supply=supply)


@pytest.mark.parametrize("pulses", [6, 12])
@pytest.mark.parametrize("negative", [0j, 0.01 + 0.005j])
@pytest.mark.parametrize("background", [(), ((5, 0.02 + 0j), (7, 0.01j))])
def test_half_the_source_impedance_seen_as_distortion(pulses, negative, background) -> None:
    """Thevenin: half the impedance, and in the EMF what the other half takes, give the same current.

    Exact but for orders above 50, which the EMF leaves out.
    """
    front_end = FrontEnd(pulses=pulses, source_pct=1.0, reactor_pct=3.0, choke_pct=2.0)
    whole = solve(on(front_end, ThreePhaseSource(1.0, BASE_HZ, SOURCE, RESISTANCE, negative, background)))
    current = components(np.array([s.phasors for s in whole.line_current]))
    emf = components(np.array([s.phasors for s in whole.source_emf]))
    order = np.arange(1, 51)
    seen = (emf - 0.5 * (RESISTANCE + 1j * order * SOURCE) * current) * np.sqrt(3.0)
    turn = np.exp(-1j * np.angle(seen[1, 0]) * order)
    relative = seen * turn / abs(seen[1, 0])
    parts = tuple(
        (int(h), sequence, complex(relative[row, h - 1]))
        for h in order[1:]
        for row, sequence in ((1, 1), (2, -1))
        if abs(relative[row, h - 1]) > 1e-9
    )
    supply = ThreePhaseSource(
        abs(seen[1, 0]),
        BASE_HZ,
        0.5 * SOURCE,
        0.5 * RESISTANCE,
        complex(relative[2, 0]) if negative else 0j,
        (),
        float(np.degrees(np.angle(seen[1, 0]))),
        parts,
    )
    half = solve(on(front_end, supply))
    for phase in range(3):
        difference = half.line_current[phase].phasors - whole.line_current[phase].phasors
        assert np.max(np.abs(difference)) < 5e-4 * whole.line_current[phase].fundamental


def test_natural_components_are_background() -> None:
    front_end = FrontEnd(pulses=6, source_pct=1.0, reactor_pct=3.0)
    supply = front_end.circuit().supply
    a = solve(on(front_end, replace(supply, background=((5, 0.02 + 0.01j), (7, 0.01j)))))
    b = solve(on(front_end, replace(supply, components=((5, -1, 0.02 + 0.01j), (7, 1, 0.01j)))))
    np.testing.assert_allclose(a.line_current[0].phasors, b.line_current[0].phasors, atol=1e-9)


def test_a_start_nearby_changes_no_result() -> None:
    front_end = FrontEnd(pulses=6, source_pct=1.0, reactor_pct=3.0)
    supply = replace(front_end.circuit().supply, components=((5, -1, 0.01 + 0j),))
    first = on(front_end, supply)
    second = on(front_end, replace(supply, components=((5, -1, 0.03 + 0j),)))
    cold = solve(second)
    warm = solve_many([second], near={second: solve(first)})[0]
    np.testing.assert_allclose(warm.line_current[0].phasors, cold.line_current[0].phasors, atol=1e-9)


@pytest.mark.parametrize(
    "parts", [((201, 1, 0.1j),), ((5, 0, 0.1j),), ((5, 1, 0.1j), (5, 1, 0.2j)), ((5, 1, 2.0 + 0j),)]
)
def test_refusals(parts) -> None:
    with pytest.raises(InputError, match="components"):
        ThreePhaseSource(1.0, 60.0, components=parts)


def test_more_orders_than_the_kernels_hold_are_refused() -> None:
    parts = tuple((order, 1, 0.001 + 0j) for order in range(2, 52))
    assert len(ThreePhaseSource(1.0, 60.0, components=parts[:49]).components) == 49
    with pytest.raises(InputError, match="at most 49"):
        ThreePhaseSource(1.0, 60.0, components=parts)
