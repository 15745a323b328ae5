"""Active filters and residual spectra against sums done here, and banks in a network with shunt branches."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from xlcalc.core.errors import NoSolutionError
from xlcalc.mitigation.assessment.assess import assess_mix
from xlcalc.mitigation.choose import ChoiceOptions, choose
from xlcalc.mitigation.offer.drive_options import Bank, FilterPlace
from xlcalc.mitigation.offer.economics import Economics
from xlcalc.mitigation.offer.physics import Residual, ResidualLine
from xlcalc.mitigation.problem import LimitCase, Problem
from xlcalc.network.capacitors import TunedFilter
from xlcalc.network.loads import LoadModel
from xlcalc.rectifier.drive import FrontEnd, solve_front_end
from xlcalc.studies.drives import front_end_on_bus
from xlcalc.studies.plant import ScheduledDrive

QUICK = ChoiceOptions(coupled=False, front_points=0, runners=0)


@pytest.fixture
def plain(sites):
    """Two bare drives that may get a filter."""
    drives = tuple(
        ScheduledDrive(tag, 60e3, FrontEnd(6, 1.0, capacitor_resistance_pct=0.5)) for tag in ("A", "B")
    )
    case = LimitCase("only", sites.network(300.0, 120e3, sites.linear(60e3, 0.9)))
    options = tuple(option for option in sites.OPTIONS if option.name == "reactor 5")
    return Problem(drives, options, (case,), Economics(0.1))


def test_filter_leaves_its_share_of_every_order(plain, sites):
    place = FilterPlace("main", (replace(sites.FILTER, loss_watts=0.0),), required=True)
    bare = choose(plain, QUICK).alone.points[0].result
    with_filter = choose(replace(plain, filter_places=(place,)), QUICK)
    found = with_filter.alone.points[0].result
    share = np.ones(50)
    for order, percent in sites.FILTER.left:
        share[order - 1] = percent / 100.0
    assert found.current_amps == pytest.approx(share * bare.current_amps, rel=1e-9)
    taken = (1.0 - share) * bare.current_amps * 13800.0 / 480.0
    assert with_filter.alone.filters[0].amps == pytest.approx(np.linalg.norm(taken), rel=1e-9)


@pytest.mark.parametrize("coupled", [False, True])
def test_filter_that_is_too_small_is_refused(plain, sites, coupled):
    small = FilterPlace("main", (replace(sites.FILTER, rated_amps=5.0),), required=True)
    with pytest.raises(NoSolutionError, match="ratings of the filters"):
        choose(replace(plain, filter_places=(small,)), replace(QUICK, coupled=coupled))


def test_filter_works_in_the_coupled_study(plain, sites):
    """It cleans the bus: the drives draw more of the 5th than on a bus that they distort, and less than on a
    stiff one. The study of single drives lies between, because they see the impedance of the supply."""
    place = FilterPlace("main", (sites.FILTER,), required=True)
    plain = replace(plain, supply="ideal")
    bare = choose(plain, replace(QUICK, coupled=True))
    found = choose(replace(plain, filter_places=(place,)), replace(QUICK, coupled=True)).coupled
    left = 0.105
    with_filter = found.points[0].result.current_pct[4]
    attenuated = bare.coupled.points[0].result.current_pct[4]
    alone = bare.alone.points[0].result.current_pct[4]
    stiff, behind_supply = (
        solve_front_end(FrontEnd(6, source_pct, reactor_pct=5.0, capacitor_resistance_pct=0.5))
        .line_current[0]
        .percent[4]
        for source_pct in (0.05, front_end_on_bus(plain.cases[0].network, plain.drives[0]).source_pct)
    )
    assert attenuated < alone
    assert left * attenuated < with_filter < left * alone * stiff / behind_supply
    assert 0.0 < found.filters[0].amps < 120.0


def test_loose_magnitudes_add_to_known_phasors(plain, sites):
    """Two drives of unknown angle: 2 x 2 % of the rated current at the 5th, and none of it cancels."""
    options = tuple(option for option in sites.OPTIONS if option.name == "active front end")
    result = choose(replace(plain, options=options), QUICK).alone.points[0].result
    rated = 60e3 / (np.sqrt(3.0) * 13800.0)
    assert result.current_amps[4] == pytest.approx(2 * 0.02 * rated, rel=1e-9)
    assert result.current_amps[6] == pytest.approx(2 * 0.015 * rated, rel=1e-9)


def test_residual_between_two_loads():
    """2 % of rated at 50 % load and 3 % at 100 %: 2.5 % of rated at 75 %, by hand."""
    lines = (ResidualLine(50.0, 5, 2.0, 90.0), ResidualLine(100.0, 5, 3.0, 90.0))
    drive = ScheduledDrive("A", 100e3, FrontEnd(6, 1.0, load_pct=75.0))

    class Volts:
        def volts(self, bus):
            return 480.0

    load = Residual(lines, "rated", "invented").source(Volts(), drive).load
    rated = 100e3 / (np.sqrt(3.0) * 480.0)
    assert load.phases[0, 4] == pytest.approx(0.025j * rated, rel=1e-9)
    assert load.phases[0, 0] == pytest.approx(0.75 * rated, rel=1e-9)
    low = replace(drive, front_end=replace(drive.front_end, load_pct=20.0))
    with pytest.raises(NoSolutionError, match="covers 50 to 100 % load, not 20 %"):
        Residual(lines, "rated", "invented").source(Volts(), low)


def test_bank_is_solved_in_the_network_and_judged(plain, sites):
    load = sites.linear(60e3, 0.9, LoadModel.PARALLEL)
    case = LimitCase("only", sites.network(300.0, 120e3, load))
    bank = Bank("tuned bank", (TunedFilter("F5", "main", 60e3, 520.0, 4.8, 40.0),), 3000.0)
    bare = replace(plain, cases=(case,))
    without = choose(bare, replace(QUICK, coupled=True))
    with_bank = choose(replace(bare, banks=(bank,)), replace(QUICK, coupled=True))
    assert not without.passes
    assert with_bank.passes
    assert with_bank.mix.bank is bank
    assert with_bank.mix.purchase == pytest.approx(without.mix.purchase + 3000.0)
    forced = assess_mix(replace(bare, banks=(bank,)), replace(without.mix, bank=bank), coupled=True)
    assert forced.points[0].result.current_pct[4] < 0.7 * without.coupled.points[0].result.current_pct[4]
