"""Cost and loss arithmetic of a choice against sums done by hand.

Source: arithmetic. The annuity factor 7.7217 for 10 years at 5 % is in any table of compound interest.
"""

from __future__ import annotations

import pytest

from xlcalc.mitigation.choose import ChoiceOptions, choose
from xlcalc.mitigation.offer.curves import CostFormula, Points
from xlcalc.mitigation.offer.drive_options import DriveOption
from xlcalc.mitigation.offer.economics import Economics, Losses
from xlcalc.mitigation.offer.physics import DiodeFrontEnd
from xlcalc.mitigation.problem import FixedOption, LimitCase, Problem
from xlcalc.network.chain import series_network
from xlcalc.network.elements import Transformer, Utility
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.plant import ScheduledDrive

REACTOR = DriveOption(
    "reactor",
    DiodeFrontEnd(6, 3.0),
    Points(((50.0, 400.0), (150.0, 900.0))),
    Losses(0.0, 0.5),
    min_kw=50,
    max_kw=150,
)
MULTI = DriveOption("18-pulse", DiodeFrontEnd(18), CostFormula(1000.0, 50.0, 1.0), Losses(0.4, 2.0))
DRIVES = (
    ScheduledDrive("A", 100e3, FrontEnd(6, 1.0, load_pct=100.0), quantity=2),
    ScheduledDrive("B", 200e3, FrontEnd(6, 1.0, load_pct=50.0)),
)
NETWORK = series_network(Utility(13.8e3, 500e6, 10.0), Transformer(2e6, 5.75, 7.0, 13.8e3, 480.0))
PINS = (FixedOption(("A",), ("reactor",)), FixedOption(("B",), ("18-pulse",)))


def chosen(economics: Economics):
    problem = Problem(DRIVES, (REACTOR, MULTI), (LimitCase("only", NETWORK),), economics, 0.0, PINS)
    return choose(problem, ChoiceOptions(coupled=False, front_points=0, runners=0)).mix


def test_purchase():
    """A: half way from 50 to 150 kW, (400 + 900) / 2 = 650, twice; B: 1000 + 50 x 200 = 11 000; 12 300."""
    assert chosen(Economics(0.1, 10.0, 4000.0)).purchase == pytest.approx(12_300.0, rel=1e-12)


def test_losses():
    """A: 0.5 % of 100 kW, twice: 1 kW; B: 200 kW (0.4 % + 2 % x 0.5^2) = 1.8 kW; 2.8 kW x 4000 h =
    11 200 kWh; at 0.10 for 10 years 11 200."""
    mix = chosen(Economics(0.1, 10.0, 4000.0))
    assert mix.kwh_per_year == pytest.approx(11_200.0, rel=1e-12)
    assert mix.loss_cost == pytest.approx(11_200.0, rel=1e-12)
    assert mix.cost == pytest.approx(23_500.0, rel=1e-12)


def test_losses_discounted():
    """1120 a year for 10 years at 5 %: 1120 x 7.7217 = 8648.3."""
    mix = chosen(Economics(0.1, 10.0, 4000.0, discount_pct=5.0))
    assert mix.loss_cost == pytest.approx(8648.3, rel=1e-5)
