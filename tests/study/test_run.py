"""Whole studies with the real rectifier engine."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from xlcalc.errors import InputError, NoSolutionError
from xlcalc.network.base import short_circuit_va
from xlcalc.network.chain import series_plant
from xlcalc.network.elements import LinearLoad, Transformer, Utility
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.study.drives import front_end_on_bus, solve_drives, unsolved_text
from xlcalc.study.pcc import PccOptions
from xlcalc.study.plant import Drive, Plant
from xlcalc.study.run import run_study
from xlcalc.study.tables import verdict_table

NETWORK = series_plant(
    Utility(13_800, 250e6, 12),
    Transformer(2.0e6, 5.75, 6, 13_800, 480, -30),
    Transformer(750e3, 4.0, 4, 480, 480, 30),
)
SIX = FrontEnd(pulses=6, source_pct=1.0, reactor_pct=3.0, choke_pct=2.0)
DRIVES = (
    Drive("P-1", 150e3, SIX, "main", 2),
    Drive("P-2", 75e3, dataclasses.replace(SIX, reactor_pct=0.0, choke_pct=4.0), "second"),
    Drive("P-3", 200e3, dataclasses.replace(SIX, pulses=12), "main"),
)
PLANT = Plant(NETWORK, DRIVES, (LinearLoad(300e3, 0.85),))


@pytest.fixture(scope="module")
def result():
    return run_study(PLANT, PccOptions("main", "2014"))


def test_source_percent_is_that_of_the_bus_on_the_base_of_the_drive() -> None:
    on_bus = front_end_on_bus(NETWORK, DRIVES[0])
    impedance = 100 * 150e3 / short_circuit_va(NETWORK, "main")
    assert np.hypot(1, 1 / on_bus.source_xr) * on_bus.source_pct == pytest.approx(impedance)
    assert on_bus.reactor_pct == 3.0


def test_each_drive_draws_its_power(result) -> None:
    """P = sqrt3 V I1 cos(phi1): DC-link power plus the losses of reactors and source, within 4 %."""
    for drive in result.drives:
        volts = NETWORK.volts(drive.drive.bus)
        watts = np.sqrt(3) * volts * drive.spectrum.phasors[0].real
        assert 1.0 <= watts / drive.drive.rated_watts < 1.04


def test_pcc_current_is_the_phasor_sum_seen_from_the_pcc(result) -> None:
    total = sum(np.array([s.phasors for s in d.at(NETWORK, "main")]) for d in result.drives)
    np.testing.assert_allclose(result.pcc.currents[:, 1:], total[:, 1:])
    assert result.pcc.demand_amps < sum(
        d.at(NETWORK, "main")[0].fundamental for d in result.drives
    ) + 300e3 / (np.sqrt(3) * 480 * 0.85)


def test_shifted_second_bus_lowers_the_5th(result) -> None:
    unshifted = series_plant(
        NETWORK.utility,
        NETWORK.stages[0].transformer,
        dataclasses.replace(NETWORK.stages[1].transformer, phase_shift_deg=0.0),
    )
    plain = run_study(dataclasses.replace(PLANT, network=unshifted), PccOptions("main", "2014"))
    assert plain.drives[1].spectrum.thd_pct == pytest.approx(result.drives[1].spectrum.thd_pct)
    assert result.require_pcc().current_amps[4] < plain.require_pcc().current_amps[4]


def test_tables(result) -> None:
    drives = result.drive_table()
    assert list(drives.index) == ["P-1", "P-2", "P-3"]
    assert drives.loc["P-2", "thd_pct"] == pytest.approx(result.drives[1].spectrum.thd_pct)
    assert drives["stable"].all()
    table = result.pcc_table()
    assert list(table.index) == list(range(1, 51))
    assert table["current_margin"].iloc[1:].notna().all()
    assert np.isnan(table.loc[1, "current_limit_pct"])
    assert table.loc[5, "current_margin"] == pytest.approx(
        table.loc[5, "current_limit_pct"] - table.loc[5, "current_pct"]
    )
    verdicts = verdict_table(result.pcc)
    assert len(verdicts) == 2 * 49 + 2
    assert set(verdicts["verdict"]) <= {"PASS", "FAIL"}


def test_equal_front_ends_are_solved_once_and_progress_is_told() -> None:
    same = tuple(Drive(f"D-{k}", 150e3, SIX, "main") for k in range(20))
    told: list[tuple[int, int]] = []
    results = solve_drives(Plant(NETWORK, (*same, DRIVES[1])), lambda done, total: told.append((done, total)))
    assert told[-1] == (2, 2)
    assert len({r.spectrum.thd_pct for r in results[:20]}) == 1


def test_scaling_rating_and_network_together_changes_no_percent(result) -> None:
    """The same plant ten times as large."""
    larger = Plant(
        series_plant(
            Utility(13_800, 2500e6, 12),
            dataclasses.replace(NETWORK.stages[0].transformer, rating_va=20e6),
            dataclasses.replace(NETWORK.stages[1].transformer, rating_va=7.5e6),
        ),
        tuple(dataclasses.replace(d, rated_watts=10 * d.rated_watts) for d in DRIVES),
        (LinearLoad(3e6, 0.85),),
    )
    other = run_study(larger, PccOptions("main", "2014")).require_pcc()
    assert other.tdd_pct == pytest.approx(result.pcc.tdd_pct, rel=1e-6)
    assert other.thdv_pct == pytest.approx(result.pcc.thdv_pct, rel=1e-6)
    assert other.isc_il == pytest.approx(result.pcc.isc_il, rel=1e-6)


def test_unbalance_and_background_reach_the_drives_and_every_phase_counts() -> None:
    utility = dataclasses.replace(
        NETWORK.utility, unbalance_pct=1.0, unbalance_deg=20.0, background=((5, 1.0, 40.0),)
    )
    network = dataclasses.replace(NETWORK, utility=utility)
    pcc = run_study(dataclasses.replace(PLANT, network=network), PccOptions("main", "2014")).require_pcc()
    assert pcc.current_pct[2] > 1.0
    per_phase = np.linalg.norm(pcc.currents[:, 1:], axis=1) / pcc.demand_amps * 100
    assert pcc.tdd_pct == pytest.approx(per_phase.max())
    assert per_phase.max() > per_phase.min() * 1.05


@pytest.mark.parametrize("shift", [60.0, -120.0, 180.0])
def test_a_shift_by_a_multiple_of_sixty_degrees_only_renames_phases_and_polarity(shift: float) -> None:
    """Exact: the utility sees the same currents, with unbalance and odd background distortion as well."""
    utility = dataclasses.replace(
        NETWORK.utility, unbalance_pct=1.0, unbalance_deg=20.0, background=((5, 1.0, 40.0), (7, 0.8, -70.0))
    )
    currents = []
    for turn in (0.0, shift):
        supply = dataclasses.replace(NETWORK.stages[0].transformer, phase_shift_deg=turn)
        currents.append(run_study(Plant(series_plant(utility, supply), DRIVES[:1])).require_pcc().currents)
    assert abs(currents[0][0, 2]) > 0.01 * abs(currents[0][0, 0])
    np.testing.assert_allclose(currents[1], currents[0], atol=1e-6 * abs(currents[0][0, 0]))


def test_a_drive_without_a_solution_is_named_and_leaves_no_verdict() -> None:
    """80 % of reactor cannot carry full power: no partial sum passes for a result."""
    starved = Drive("P-4", 100e3, dataclasses.replace(SIX, reactor_pct=80.0))
    study = run_study(dataclasses.replace(PLANT, drives=(*DRIVES, starved)), PccOptions("main"))
    assert study.pcc is None
    assert [result.drive.tag for result in study.unsolved] == ["P-4"]
    assert study.summary == "NO VERDICT: no stable solution for P-4"
    with pytest.raises(NoSolutionError, match=r"drive P-4: the circuit cannot supply this load"):
        study.require_pcc()
    with pytest.raises(NoSolutionError, match="P-4"):
        study.pcc_table()
    with pytest.raises(NoSolutionError, match="P-4"):
        study.unsolved[0].at(NETWORK, "main")
    table = study.drive_table()
    assert np.isnan(table.loc["P-4", "thd_pct"])
    assert table["thd_pct"].notna().sum() == 3


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: Drive(" ", 1e3, SIX), "tag"),
        (lambda: Drive("P-1", 0, SIX), "rated_watts of P-1"),
        (lambda: Drive("P-1", 1e3, SIX, quantity=0), "quantity of P-1"),
        (lambda: Drive("P-1", 1e3, dataclasses.replace(SIX, unbalance_pct=1.0)), "unbalance_pct of P-1"),
        (lambda: Plant(NETWORK, (DRIVES[0], DRIVES[0])), "tag"),
        (lambda: Plant(NETWORK, (Drive("P-9", 1e3, SIX, "third"),)), "bus of P-9"),
        (lambda: Plant(NETWORK, DRIVES, (LinearLoad(1e3, 1.0, "third"),)), "bus of the linear load"),
        (lambda: run_study(PLANT, PccOptions("third")), "bus"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument


def test_a_drive_too_large_for_its_bus_is_named() -> None:
    with pytest.raises(InputError, match=r"source_pct of drive P-1"):
        run_study(Plant(NETWORK, (Drive("P-1", 1e9, SIX),)))


def test_an_unsolved_drive_names_itself_and_what_still_holds() -> None:
    """Drive B asks for several times what its 90 % reactor lets through."""
    drives = (
        Drive("A", 75e3, FrontEnd(6, 1.0, reactor_pct=3.0)),
        Drive("B", 75e3, FrontEnd(6, 1.0, reactor_pct=90.0)),
    )
    results = solve_drives(Plant(NETWORK, drives))
    assert [result.stable for result in results] == [True, False]
    text = unsolved_text(results)
    assert text.startswith("drive B: the circuit cannot supply this load")
    assert text.endswith("; the spectrum of the other one, alone on its bus, still holds")
    assert unsolved_text(results[:1]) == ""
