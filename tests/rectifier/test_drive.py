"""The front end in percent of its rating, its circuit, and its refusals."""

from __future__ import annotations

import math
from typing import Any

import pytest

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.rectifier.drive import FrontEnd, solve_front_end, solve_front_ends
from xlcalc.rectifier.result import SteadyState


def test_percentages_become_per_unit() -> None:
    circuit = FrontEnd(
        12,
        0.5,
        reactor_pct=3.0,
        choke_pct=4.0,
        load_pct=50.0,
        transformer_pct=6.0,
        unbalance_pct=1.0,
        unbalance_deg=90.0,
        background=((5, 2.0, 180.0),),
    ).circuit()
    omega = 2.0 * math.pi * circuit.supply.hz
    assert omega == pytest.approx(1.0)
    assert circuit.supply.inductance == pytest.approx(0.005)
    assert circuit.supply.resistance == pytest.approx(0.0005)
    assert circuit.reactor.inductance == pytest.approx(0.03)
    assert circuit.reactor.resistance == pytest.approx(0.03 / 25.0)
    assert [bridge.inductance for bridge in circuit.bridges] == pytest.approx([0.12, 0.12])
    assert [bridge.choke_inductance for bridge in circuit.bridges] == pytest.approx([0.08, 0.08])
    assert circuit.dc_link.capacitance == 5.0
    assert circuit.load.value == 0.5
    assert circuit.supply.negative_sequence == pytest.approx(0.01j)
    assert circuit.supply.background[0][1] == pytest.approx(-0.02)


@pytest.mark.parametrize(
    ("pulses", "shifts"),
    [(6, (0.0,)), (12, (0.0, 30.0)), (18, (-20.0, 0.0, 20.0)), (24, (-15.0, 0.0, 15.0, 30.0))],
)
def test_shifts(pulses: int, shifts: tuple[float, ...]) -> None:
    assert FrontEnd(pulses, 1.0).shifts_deg == pytest.approx(shifts)


@pytest.mark.parametrize("pulses", [6, 12, 18, 24, 30, 36, 42, 48])
def test_only_characteristic_orders_remain(pulses: int) -> None:
    state = solve_front_end(FrontEnd(pulses, 0.5, choke_pct=3.0))
    percent = state.line_current[0].percent
    for order in range(2, 51):
        if order % pulses in (1, pulses - 1):
            assert percent[order - 1] > 0.01
        else:
            assert percent[order - 1] < 1e-9


def test_rated_power_is_drawn() -> None:
    state = solve_front_end(FrontEnd(6, 0.5, reactor_pct=3.0, load_pct=80.0))
    assert state.dc_watts == pytest.approx(0.8, rel=1e-9)
    assert state.source_watts == pytest.approx(0.8 + state.loss_watts, rel=1e-9)


def test_part_load_distorts_more_with_the_same_capacitor() -> None:
    states = solve_front_ends([FrontEnd(6, 0.5, reactor_pct=3.0, load_pct=load) for load in (40, 70, 100)])
    distortion = [state.thd_pct[0] for state in states if isinstance(state, SteadyState)]
    assert distortion == sorted(distortion, reverse=True)
    assert len(distortion) == 3


def test_mean_leakage_does_not_move_with_mismatch() -> None:
    circuit = FrontEnd(18, 0.5, transformer_pct=5.0, leakage_mismatch_pct=10.0).circuit()
    leakages = [bridge.inductance for bridge in circuit.bridges]
    assert leakages == pytest.approx([0.15 * 1.05, 0.15, 0.15 * 0.95])


GOOD: dict[str, Any] = {"pulses": 12, "source_pct": 0.5}


@pytest.mark.parametrize(
    ("change", "argument"),
    [
        ({"pulses": 7}, "pulses"),
        ({"pulses": 54}, "pulses"),
        ({"pulses": 6.5}, "pulses"),
        ({"pulses": "six"}, "pulses"),
        ({"source_pct": -1.0}, "source_pct"),
        ({"source_pct": 301.0}, "source_pct"),
        ({"source_pct": math.nan}, "source_pct"),
        ({"source_pct": None}, "source_pct"),
        ({"pulses": 6, "source_pct": 0.0}, "source_pct"),
        ({"reactor_pct": 1e9}, "reactor_pct"),
        ({"choke_pct": -0.1}, "choke_pct"),
        ({"load_pct": 0.0}, "load_pct"),
        ({"dc_capacitance_pu": 0.0}, "dc_capacitance_pu"),
        ({"source_xr": 0.0}, "source_xr"),
        ({"transformer_pct": 0.0}, "transformer_pct"),
        ({"unbalance_pct": 20.1}, "unbalance_pct"),
        ({"unbalance_deg": math.inf}, "unbalance_deg"),
        ({"background": ((51, 1.0, 0.0),)}, "background order"),
        ({"background": ((5, 31.0, 0.0),)}, "background of order 5"),
        ({"background": ((5, 1.0, math.nan),)}, "background angle of order 5"),
        ({"leakage_mismatch_pct": 101.0}, "leakage_mismatch_pct"),
        ({"load_kind": "motor"}, "load_kind"),
        ({"diode_drop_pct": True}, "diode_drop_pct"),
    ],
)
def test_refusals_name_the_argument(change: dict[str, Any], argument: str) -> None:
    with pytest.raises(InputError) as refusal:
        FrontEnd(**{**GOOD, **change})
    assert refusal.value.argument == argument
    assert refusal.value.valid


@pytest.mark.parametrize(
    "front_end",
    [FrontEnd(6, 300.0, reactor_pct=300.0, choke_pct=300.0, load_pct=200.0), FrontEnd(12, 0.0, load_pct=1.0)],
)
def test_corners_of_the_range_end_in_a_result_or_a_reason(front_end: FrontEnd) -> None:
    (result,) = solve_front_ends([front_end])
    assert isinstance(result, SteadyState) or "cannot supply" in str(result)
    if isinstance(result, NoSolutionError):
        assert front_end.source_pct == 300.0


@pytest.mark.parametrize("source_pct", [0.0, 1e-8, 9e-4])
def test_a_source_without_reactance_is_refused(source_pct: float) -> None:
    with pytest.raises(InputError, match=r"0\.001 % or more where there is no line reactor"):
        FrontEnd(6, source_pct)
