"""Properties of the periodic steady state that need no reference."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.rectifier.circuit import (
    LOAD_KINDS,
    Bridge,
    Circuit,
    DCLink,
    Diode,
    Load,
    LoadKind,
    Reactor,
    ThreePhaseSource,
)
from xlcalc.rectifier.drive import FrontEnd, solve_front_end
from xlcalc.rectifier.result import SteadyState
from xlcalc.rectifier.steady_state import solve, solve_many
from xlcalc.rectifier.trace import waveforms

HZ = 1.0 / (2.0 * math.pi)
INSTANTANEOUS: Any = {"load_kind": "power", "capacitor_resistance_pct": 0.0}
EVERY_PULSE_NUMBER = [6, 12, 18, 24]


def phasors(state: SteadyState) -> np.ndarray:
    return np.array([phase.phasors for phase in state.line_current])


def apart(a: np.ndarray, b: np.ndarray) -> float:
    """Largest difference of any order in per unit of the fundamental."""
    return float(np.abs(a - b).max() / np.abs(b).max())


percents = st.floats(0.0, 3.0)
angles = st.floats(-180.0, 180.0)


@st.composite
def circuits(draw: st.DrawFn) -> Circuit:
    """One to three bridges on any usual supply; a load of constant current or resistance is always stable."""
    count = draw(st.integers(1, 3))
    source = draw(st.floats(0.003, 0.1))
    reactor = draw(st.sampled_from([0.0, 0.03, 0.05]))
    choke = draw(st.sampled_from([0.0, 0.02, 0.08])) * count
    background = tuple(
        (order, cmath.rect(draw(percents) / 100.0, math.radians(draw(angles))))
        for order in draw(st.sets(st.sampled_from([2, 5, 7, 11, 13]), max_size=2))
    )
    return Circuit(
        ThreePhaseSource(
            1.0,
            HZ,
            source,
            source / 8.0,
            cmath.rect(draw(percents) / 100.0, math.radians(draw(angles))),
            background,
        ),
        DCLink(draw(st.floats(0.5, 20.0)), draw(st.sampled_from([0.0, 0.002]))),
        draw(st.sampled_from([Load("current", 0.74), Load("resistance", 1.8), Load("current", 0.2)])),
        tuple(
            Bridge(
                60.0 / count * k,
                (0.05 + 0.01 * k) * count if count > 1 else 0.0,
                0.003,
                choke,
                choke / 25.0,
            )
            for k in range(count)
        ),
        Reactor(reactor, reactor / 25.0),
        Diode(draw(st.sampled_from([0.0, 0.002])), draw(st.sampled_from([0.0, 0.001]))),
    )


@settings(max_examples=40, deadline=None)
@given(circuits())
def test_power_of_source_load_and_losses_agree(circuit: Circuit) -> None:
    state = solve(circuit)
    assert abs(state.power_imbalance) < 1e-6
    by_orders = sum(
        float(np.real(np.vdot(current.phasors, emf.phasors)))
        for current, emf in zip(state.line_current, state.source_emf, strict=True)
    )
    assert by_orders == pytest.approx(state.source_watts, rel=1e-6)


@settings(max_examples=30, deadline=None)
@given(circuits(), angles)
def test_a_shift_of_the_time_origin_turns_every_order(circuit: Circuit, angle: float) -> None:
    shifted = solve(replace(circuit, supply=replace(circuit.supply, angle_deg=angle)))
    state = solve(circuit)
    turned = np.array([phase.rotated(angle).phasors for phase in state.line_current])
    assert apart(phasors(shifted), turned) < 1e-7
    assert shifted.dc_volts_mean == pytest.approx(state.dc_volts_mean, rel=1e-9)


@settings(max_examples=20, deadline=None)
@given(circuits(), st.randoms(use_true_random=False))
def test_the_order_of_the_bridges_does_not_matter(circuit: Circuit, random: object) -> None:
    bridges = list(circuit.bridges)
    random.shuffle(bridges)  # type: ignore[attr-defined]
    assert apart(phasors(solve(replace(circuit, bridges=tuple(bridges)))), phasors(solve(circuit))) < 1e-8


@settings(max_examples=20, deadline=None)
@given(circuits())
def test_turning_the_negative_sequence_renames_the_phases(circuit: Circuit) -> None:
    """120 degrees later phase a sees what phase c saw; background in natural sequence stays the same."""
    supply = circuit.supply
    turned = replace(supply, negative_sequence=supply.negative_sequence * cmath.exp(-2j * math.pi / 3.0))
    renamed = phasors(solve(replace(circuit, supply=turned)))
    order = np.arange(1, 51)
    original = phasors(solve(circuit)) * np.exp(2j * math.pi / 3.0 * order)
    assert apart(renamed, original[[1, 2, 0]]) < 1e-7


def test_matched_twelve_pulse_set_cancels_to_rounding() -> None:
    current = solve_front_end(FrontEnd(12, 0.5, choke_pct=4.0)).line_current[0]
    for order in (5, 7, 17, 19, 29, 31, 41, 43):
        assert current.percent[order - 1] < 1e-10
    assert current.percent[10] > 3.0


@pytest.mark.parametrize("pulses", EVERY_PULSE_NUMBER)
def test_third_harmonic_of_unbalance_does_not_cancel(pulses: int) -> None:
    state = solve_front_end(FrontEnd(pulses, 0.5, reactor_pct=3.0, unbalance_pct=1.0))
    third = [phase.percent[2] for phase in state.line_current]
    assert min(third) > 3.0
    balanced = solve_front_end(FrontEnd(pulses, 0.5, reactor_pct=3.0))
    assert balanced.line_current[0].percent[2] == 0.0


def test_symmetric_solution_agrees_with_the_full_cycle() -> None:
    """A trace of unbalance and of a 2nd forces the map over 360 degrees; the solution hardly moves."""
    front_end = FrontEnd(12, 0.5, choke_pct=4.0)
    symmetric = solve_front_end(front_end)
    general = solve_front_end(replace(front_end, unbalance_pct=1e-9, background=((2, 1e-9, 0.0),)))
    assert (symmetric.symmetry, general.symmetry) == ("60 degrees", "360 degrees")
    assert apart(phasors(general), phasors(symmetric)) < 1e-8
    assert general.multiplier == pytest.approx(abs(symmetric.multiplier) ** 6, rel=1e-5)


def test_waveform_has_the_spectrum() -> None:
    state = solve_front_end(FrontEnd(18, 0.5, choke_pct=4.0, unbalance_pct=1.0, leakage_mismatch_pct=5.0))
    _, current, volts = waveforms(state, 8192)
    for samples, spectra in ((current, state.line_current), (volts, state.terminal_voltage)):
        ours = np.fft.rfft(samples, axis=1)[:, 1:51] * (math.sqrt(2.0) / 8192)
        assert apart(ours, np.array([phase.phasors for phase in spectra])) < 1e-5
    assert np.sqrt(np.mean(current**2, axis=1)) == pytest.approx(state.line_rms, rel=1e-6)
    assert np.sqrt(np.mean(volts**2, axis=1)) == pytest.approx(state.terminal_rms, rel=1e-5)


def test_zero_sequence_background_drives_no_current() -> None:
    plain = FrontEnd(6, 0.5, reactor_pct=3.0)
    state = solve_front_end(replace(plain, background=((3, 5.0, 20.0),)))
    assert apart(phasors(state), phasors(solve_front_end(plain))) < 1e-12
    assert state.terminal_voltage[0].percent[2] == pytest.approx(5.0, rel=0.02)


def test_period_doubling_is_found_and_reported() -> None:
    """Stiff, weakly damped source and constant power: large and small pulses in turn, and even orders."""
    circuit = FrontEnd(6, 0.4, dc_capacitance_pu=5.2, **INSTANTANEOUS).circuit()
    symmetric = solve(circuit, accept_unstable=True)
    assert not symmetric.stable
    assert symmetric.multiplier < -1.0
    state = solve(circuit)
    assert state.stable
    assert (state.expected_symmetry, state.symmetry) == ("60 degrees", "120 degrees")
    assert state.line_current[0].percent[1] > 10.0
    assert symmetric.line_current[0].percent[1] == 0.0


def test_constant_power_on_an_undamped_filter_has_no_steady_state() -> None:
    with pytest.raises(NoSolutionError, match="unstable"):
        solve_front_end(
            FrontEnd(
                6, 1.0, reactor_pct=5.0, choke_pct=30.0, source_xr=4.0, dc_capacitance_pu=2.0, **INSTANTANEOUS
            )
        )


@pytest.mark.parametrize("load_kind", ["mean power", "power"])
@pytest.mark.parametrize("front_end", [FrontEnd(6, 80.0), FrontEnd(12, 300.0)])
def test_more_load_than_the_circuit_can_supply(front_end: FrontEnd, load_kind: LoadKind) -> None:
    with pytest.raises(NoSolutionError, match="cannot supply this load"):
        solve_front_end(replace(front_end, load_kind=load_kind))


def test_batch_keeps_order_and_places_failures() -> None:
    good, bad = FrontEnd(6, 1.0).circuit(), FrontEnd(6, 80.0).circuit()
    results = solve_many([good, bad, good, FrontEnd(12, 1.0).circuit()])
    assert results[0] is results[2]
    assert isinstance(results[1], NoSolutionError)
    assert isinstance(results[3], SteadyState)
    assert solve_many([]) == []


@pytest.mark.parametrize("max_order", [0, 201, 5.0, True])
def test_bad_order(max_order: object) -> None:
    with pytest.raises(InputError, match="max_order"):
        solve(FrontEnd(6, 1.0).circuit(), max_order)  # type: ignore[arg-type]


def test_random_front_ends_end_solved_or_refused_with_a_reason() -> None:
    """A sample of the whole valid range; 20,000 were run once."""
    random = np.random.default_rng(2)

    def log(low: float, high: float) -> float:
        return float(np.exp(random.uniform(np.log(low), np.log(high))))

    fronts = [
        FrontEnd(
            int(random.choice([6, 12, 18, 24, 48])),
            log(0.05, 30.0),
            reactor_pct=float(random.choice([0.0, 3.0, 20.0])),
            choke_pct=float(random.choice([0.0, 4.0, 60.0])),
            load_pct=log(1.0, 200.0),
            dc_capacitance_pu=log(0.02, 100.0),
            source_xr=log(0.5, 100.0),
            transformer_pct=log(0.5, 30.0),
            unbalance_pct=float(random.choice([0.0, 0.5, 20.0])),
            background=((int(random.choice([2, 5, 7, 25])), log(0.05, 30.0), 40.0),),
            leakage_mismatch_pct=float(random.choice([0.0, 20.0])),
            load_kind=str(random.choice(LOAD_KINDS)),  # type: ignore[arg-type]
        )
        for _ in range(150)
    ]
    solved = 0
    for result in solve_many([front.circuit() for front in fronts]):
        if isinstance(result, NoSolutionError):
            assert (
                "cannot supply" in str(result) or "steady state" in str(result) or "unstable" in str(result)
            )
            continue
        solved += 1
        assert result.residual < 1e-10
        assert abs(result.power_imbalance) < 1e-5
        assert result.stable
    assert solved > 90
