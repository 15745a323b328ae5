from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.rectifier.drive import FrontEnd, solve_front_end
from xlcalc.rectifier.passive_filter import FilterRating, PassiveFilter
from xlcalc.rectifier.trace import waveforms

BARE = FrontEnd(6, 1.0, reactor_pct=4.0, capacitor_resistance_pct=0.5)
TUNED = replace(BARE, filter=FilterRating(20.0, 8.0, 4.7))


def test_a_capacitor_that_hardly_exists_changes_nothing() -> None:
    split = replace(BARE, reactor_pct=3.0, filter=FilterRating(0.1, 1.0, 30.0, shunt_resistance_pct=50.0))
    plain, filtered = solve_front_end(BARE), solve_front_end(split)
    assert filtered.thd_pct[0] == pytest.approx(plain.thd_pct[0], rel=0.02)
    assert filtered.dc_volts_mean == pytest.approx(plain.dc_volts_mean, rel=1e-3)


def test_the_filter_takes_the_order_it_is_tuned_to() -> None:
    plain, filtered = (solve_front_end(x).line_current[0] for x in (replace(BARE, reactor_pct=12.0), TUNED))
    assert filtered.percent[4] < 0.4 * plain.percent[4]


def test_currents_ahead_of_the_filter_and_through_it_meet_kirchhoff() -> None:
    """At every order: source current = bridge current + shunt current, with the shunt's own impedance."""
    state = solve_front_end(replace(TUNED, unbalance_pct=1.0, background=((5, 2.0, 30.0),)))
    assert TUNED.filter is not None
    passive = TUNED.filter.per_unit()
    orders = np.arange(1, 51)
    line = np.array([phase.phasors for phase in state.line_current])
    terminal = np.array([phase.phasors for phase in state.terminal_voltage])
    node = terminal - passive.series.at(1j * orders) * line
    shunt = node / passive.shunt.at(1j * orders)
    assert line - state.rectifier_current == pytest.approx(shunt, abs=1e-9)


def test_power_is_accounted_for() -> None:
    for front_end in (TUNED, replace(TUNED, load_pct=30.0), replace(TUNED, unbalance_pct=2.0)):
        assert abs(solve_front_end(front_end).power_imbalance) < 1e-8


def test_waveform_and_spectrum_are_the_same_current() -> None:
    state = solve_front_end(TUNED)
    _, current, volts = waveforms(state, 2880)
    for samples, phases, within in (
        (current, state.line_current, 1e-6),
        (volts, state.terminal_voltage, 1e-4),  # it jumps, so that samples alias
    ):
        spectrum = np.fft.rfft(samples[0])[1:51] * np.sqrt(2.0) / 2880
        assert spectrum == pytest.approx(phases[0].phasors, abs=within)
    assert np.sqrt(np.mean(current**2, axis=1)) == pytest.approx(state.line_rms, rel=1e-6)


def test_a_coarse_waveform_is_part_of_the_fine_one() -> None:
    state = solve_front_end(TUNED)
    assert waveforms(state, 12)[1] == pytest.approx(waveforms(state, 1440)[1][:, ::120], abs=1e-6)


def test_light_load_is_capacitive() -> None:
    assert solve_front_end(replace(TUNED, load_pct=5.0)).power_factor < 0.5


@pytest.mark.parametrize("pulses", [12, 18])
def test_multipulse_rectifiers_stand_behind_filters_too(pulses: int) -> None:
    state = solve_front_end(replace(TUNED, pulses=pulses, filter=FilterRating(10.0, 4.0, 11.0)))
    plain = solve_front_end(replace(TUNED, pulses=pulses, filter=None))
    assert state.thd_pct[0] < plain.thd_pct[0]


@pytest.mark.parametrize(
    ("values", "argument"),
    [
        ({"capacitor_pct": 0.0}, "capacitor_pct"),
        ({"tuned_order": 0.9}, "tuned_order"),
        ({"tuned_order": float("nan")}, "tuned_order"),
        ({"reactor_xr": 0.0}, "reactor_xr"),
        ({"damping_pct": 50.0}, "damping_pct"),
        ({"reactor_pct": "5"}, "reactor_pct"),
    ],
)
def test_bad_filters_are_refused(values: dict[str, float], argument: str) -> None:
    with pytest.raises(InputError, match=argument):
        FilterRating(**{"capacitor_pct": 20.0, **values})


@pytest.mark.parametrize(
    ("values", "argument"),
    [
        ({"capacitance": 0.0}, "filter capacitance"),
        ({"inductance": -1e-3}, "filter inductance"),
        ({"shunt_inductance": float("inf")}, "filter shunt inductance"),
        ({"damping_resistance": "10"}, "filter damping resistance"),
    ],
)
def test_bad_elements_are_refused(values: dict[str, float], argument: str) -> None:
    with pytest.raises(InputError, match=argument):
        PassiveFilter(**{"inductance": 1e-3, "resistance": 0.01, "capacitance": 1e-4, **values})


def test_resistance_ahead_is_enough_for_a_shunt_branch_without_any() -> None:
    assert TUNED.filter is not None
    lossless, nearly = (
        solve_front_end(replace(TUNED, filter=replace(TUNED.filter, shunt_resistance_pct=pct)))
        for pct in (0.0, 1e-6)
    )
    assert lossless.line_current[0].phasors == pytest.approx(nearly.line_current[0].phasors, rel=1e-6)


def test_a_bridge_directly_on_the_filter_capacitor_is_refused() -> None:
    with pytest.raises(InputError, match="behind a passive filter"):
        replace(TUNED, reactor_pct=0.0)
