"""The quick estimate of whole plants, with the real rectifier engine."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.jobs.schedule.site_results import pcc_table
from xlcalc.network.chain import series_network
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.loads import LoadModel, StaticLoad
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.drives import front_end_on_bus, solve_drives, unsolved_text
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import solve_uncoupled

UTILITY = Utility(13_800, 250e6, 12)
SUPPLY = Transformer(2.0e6, 5.75, 6, 13_800, 480, -30)
SECOND = Transformer(750e3, 4.0, 4, 480, 480, 30)
LINEAR = StaticLoad("linear load", "main", 300e3, 186e3, LoadModel.NONE)
NETWORK = series_network(UTILITY, SUPPLY, SECOND, loads=(LINEAR,))
SIX = FrontEnd(pulses=6, source_pct=1.0, reactor_pct=3.0, choke_pct=2.0)
DRIVES = (
    ScheduledDrive("P-1", 150e3, SIX, "main", 2),
    ScheduledDrive("P-2", 75e3, dataclasses.replace(SIX, reactor_pct=0.0, choke_pct=4.0), "second"),
    ScheduledDrive("P-3", 200e3, dataclasses.replace(SIX, pulses=12), "main"),
)
PLANT = StudiedPlant(NETWORK, DRIVES)
AT_MAIN = PccOptions("main", "2014")


@pytest.fixture(scope="module")
def result():
    return solve_uncoupled(PLANT)


def test_source_percent_is_that_of_the_bus_on_the_base_of_the_drive() -> None:
    on_bus = front_end_on_bus(NETWORK, DRIVES[0])
    impedance = 100 * 150e3 / NETWORK.short_circuit_va("main")
    assert np.hypot(1, 1 / on_bus.source_xr) * on_bus.source_pct == pytest.approx(impedance)
    assert on_bus.reactor_pct == 3.0


def test_each_drive_draws_its_power(result) -> None:
    """P = sqrt3 V I1 cos(phi1): DC-link power plus the losses of reactors and source, within 4 %."""
    for drive in result.drives:
        volts = NETWORK.volts(drive.drive.bus)
        watts = np.sqrt(3) * volts * drive.spectrum.phasors[0].real
        assert 1.0 <= watts / drive.drive.rated_watts < 1.04


def test_pcc_current_is_the_phasor_sum_seen_from_the_pcc(result) -> None:
    pcc = result.pcc(AT_MAIN)
    total = sum(load.at(NETWORK, "main") for load in result.loads)
    np.testing.assert_allclose(pcc.currents[:, 1:], total[:, 1:], rtol=1e-5, atol=1e-6)
    assert pcc.demand_amps < sum(d.at(NETWORK, "main")[0].fundamental for d in result.drives) + 300e3 / (
        np.sqrt(3) * 480 * 0.85
    )


def test_shifted_second_bus_lowers_the_5th(result) -> None:
    unshifted = series_network(
        UTILITY, SUPPLY, dataclasses.replace(SECOND, phase_shift_deg=0.0), loads=(LINEAR,)
    )
    plain = solve_uncoupled(dataclasses.replace(PLANT, network=unshifted))
    assert plain.drives[1].spectrum.thd_pct == pytest.approx(result.drives[1].spectrum.thd_pct)
    assert result.pcc(AT_MAIN).current_amps[4] < plain.pcc(AT_MAIN).current_amps[4]


def test_table_by_order(result) -> None:
    table = pcc_table(result.pcc(AT_MAIN))
    assert list(table.index) == list(range(1, 51))
    assert table["current_margin"].iloc[1:].notna().all()
    assert np.isnan(table.loc[1, "current_limit_pct"])
    assert table.loc[5, "current_margin"] == pytest.approx(
        table.loc[5, "current_limit_pct"] - table.loc[5, "current_pct"]
    )


def test_equal_front_ends_are_solved_once_and_progress_is_told() -> None:
    same = tuple(ScheduledDrive(f"D-{k}", 150e3, SIX, "main") for k in range(20))
    told: list[tuple[int, int]] = []
    results = solve_drives(
        StudiedPlant(NETWORK, (*same, DRIVES[1])), lambda done, total: told.append((done, total))
    )
    assert told[-1] == (2, 2)
    assert len({r.spectrum.thd_pct for r in results[:20]}) == 1


def test_scaling_rating_and_network_together_changes_no_percent(result) -> None:
    """The same plant ten times as large."""
    larger = StudiedPlant(
        series_network(
            Utility(13_800, 2500e6, 12),
            dataclasses.replace(SUPPLY, rating_va=20e6),
            dataclasses.replace(SECOND, rating_va=7.5e6),
            loads=(dataclasses.replace(LINEAR, watts=10 * LINEAR.watts, var=10 * LINEAR.var),),
        ),
        tuple(dataclasses.replace(d, rated_watts=10 * d.rated_watts) for d in DRIVES),
    )
    pcc, other = result.pcc(AT_MAIN), solve_uncoupled(larger).pcc(AT_MAIN)
    assert other.tdd_pct == pytest.approx(pcc.tdd_pct, rel=1e-6)
    assert other.thdv_pct == pytest.approx(pcc.thdv_pct, rel=1e-6)
    assert other.isc_il == pytest.approx(pcc.isc_il, rel=1e-6)


def test_unbalance_and_background_reach_the_drives_and_every_phase_counts() -> None:
    utility = dataclasses.replace(
        NETWORK.utility, unbalance_pct=1.0, unbalance_deg=20.0, background=((5, 1.0, 40.0),)
    )
    network = dataclasses.replace(NETWORK, utility=utility)
    pcc = solve_uncoupled(dataclasses.replace(PLANT, network=network)).pcc(AT_MAIN)
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
        supply = dataclasses.replace(SUPPLY, phase_shift_deg=turn)
        plant = StudiedPlant(series_network(utility, supply), DRIVES[:1])
        currents.append(solve_uncoupled(plant).pcc().currents)
    assert abs(currents[0][0, 2]) > 0.01 * abs(currents[0][0, 0])
    np.testing.assert_allclose(currents[1], currents[0], atol=1e-6 * abs(currents[0][0, 0]))


def test_a_drive_without_a_solution_is_named_and_leaves_no_verdict() -> None:
    """80 % of reactor cannot carry full power: no partial sum passes for a result."""
    starved = ScheduledDrive("P-4", 100e3, dataclasses.replace(SIX, reactor_pct=80.0))
    study = solve_uncoupled(dataclasses.replace(PLANT, drives=(*DRIVES, starved)))
    assert [result.stable for result in study.drives] == [True, True, True, False]
    with pytest.raises(NoSolutionError, match=r"drive P-4: the circuit cannot supply this load"):
        study.pcc(AT_MAIN)
    with pytest.raises(NoSolutionError, match="P-4"):
        study.drives[-1].at(NETWORK, "main")
    assert study.drives[-1].spectrum is None


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: ScheduledDrive(" ", 1e3, SIX), "tag"),
        (lambda: ScheduledDrive("P-1", 0, SIX), "rated_watts of P-1"),
        (lambda: ScheduledDrive("P-1", 1e3, SIX, quantity=0), "quantity of P-1"),
        (
            lambda: ScheduledDrive("P-1", 1e3, dataclasses.replace(SIX, unbalance_pct=1.0)),
            "unbalance_pct of P-1",
        ),
        (lambda: StudiedPlant(NETWORK, (DRIVES[0], DRIVES[0])), "tag"),
        (lambda: StudiedPlant(NETWORK, (ScheduledDrive("P-9", 1e3, SIX, "third"),)), "bus of P-9"),
        (lambda: solve_uncoupled(PLANT).pcc(PccOptions("third")), "bus"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument


def test_a_drive_too_large_for_its_bus_is_named() -> None:
    with pytest.raises(InputError, match=r"source_pct of drive P-1"):
        solve_uncoupled(StudiedPlant(NETWORK, (ScheduledDrive("P-1", 1e9, SIX),)))


def test_an_unsolved_drive_names_itself_and_what_still_holds() -> None:
    """Drive B asks for several times what its 90 % reactor lets through."""
    drives = (
        ScheduledDrive("A", 75e3, FrontEnd(6, 1.0, reactor_pct=3.0)),
        ScheduledDrive("B", 75e3, FrontEnd(6, 1.0, reactor_pct=90.0)),
    )
    results = solve_drives(StudiedPlant(NETWORK, drives))
    assert [result.stable for result in results] == [True, False]
    text = unsolved_text(results)
    assert text.startswith("drive B: the circuit cannot supply this load")
    assert text.endswith("; the spectrum of the other one, alone on its bus, still holds")
    assert unsolved_text(results[:1]) == ""
