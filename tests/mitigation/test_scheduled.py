"""What is scheduled stays unless it must change, equal drives get equal options: against all mixes tried."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from tests.mitigation.sites import OPTIONS, linear, network
from xlcalc.mitigation.assessment.assess import assess_mix
from xlcalc.mitigation.choose import ChoiceOptions, choose
from xlcalc.mitigation.milp.search import Effort
from xlcalc.mitigation.mix import Mix, scheduled_mix
from xlcalc.mitigation.offer.drive_options import AS_SCHEDULED, DriveOption
from xlcalc.mitigation.offer.economics import Economics
from xlcalc.mitigation.problem import FixedOption, LimitCase, Problem
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.plant import ScheduledDrive

SIX, EIGHTEEN = FrontEnd(6, 1.0), FrontEnd(18, 1.0)
DRIVES = (
    ScheduledDrive("A", 110e3, SIX, "main", 1),
    ScheduledDrive("B", 110e3, SIX, "main", 2),
    ScheduledDrive("C", 110e3, EIGHTEEN, "main", 1),
    ScheduledDrive("D", 37e3, SIX, "main", 1),
)
OFFERED = tuple(option for option in OPTIONS if option.name in ("none", "reactor 3", "both", "12-pulse"))


@pytest.fixture(scope="module")
def problem() -> Problem:
    total = sum(drive.rated_watts * drive.quantity for drive in DRIVES)
    case = LimitCase("as described", network(200.0, total, linear(0.5 * total)))
    economics = Economics(0.1, 5.0, 5000.0)
    return Problem(DRIVES, OFFERED, (case,), economics, 5.0, supply="ideal", keep_scheduled=True, equal=True)


def cost(problem: Problem, option: DriveOption, drive: ScheduledDrive) -> tuple[float, float]:
    """Purchase and losses of an option at a drive, from its price and loss curves."""
    hours = problem.economics.hours_per_year
    kwh = drive.quantity * option.losses.kwh_per_year(drive.rated_watts, 1.0, hours)
    return drive.quantity * option.price.at(drive.rated_watts / 1e3), problem.economics.cost_of(kwh)


def test_the_choice_is_the_cheapest_of_all_mixes_that_pass_coupled(problem: Problem) -> None:
    """A and B are equal and get one option: every mix of the three kinds is studied coupled."""
    kept = scheduled_mix(problem)
    kinds = (("A", "B"), ("C",), ("D",))
    offered = [{o.name: o for o in options} for options in problem.allowed]
    assert all("none" not in names and AS_SCHEDULED in names for names in offered)
    by_tag = dict(zip((drive.tag for drive in DRIVES), offered, strict=True))
    passing: list[tuple[float, tuple[str, ...]]] = []
    for names in itertools.product(*(by_tag[tags[0]] for tags in kinds)):
        options = {tag: by_tag[tag][name] for tags, name in zip(kinds, names, strict=True) for tag in tags}
        options = {drive.tag: options[drive.tag] for drive in DRIVES}
        money = [cost(problem, options[drive.tag], drive) for drive in DRIVES]
        mix: Mix = replace(kept, options=options)
        if assess_mix(problem, mix, coupled=True).passes:
            passing.append((float(np.sum(money)), names))
    assert not assess_mix(problem, kept, coupled=True).passes
    options = ChoiceOptions(
        rely_on_coupling=True, front_points=0, runners=0, as_is=True, effort=Effort(gap_pct=0.0, seconds=20.0)
    )
    found = choose(problem, options)
    assert found.passes
    assert found.mix.cost == pytest.approx(min(passing)[0])
    assert found.mix.options["A"].name == found.mix.options["B"].name
    assert found.mix.options["C"].name == AS_SCHEDULED
    assert found.as_is is not None
    assert found.as_is_text.startswith("As scheduled: does not pass; ")
    assert f"{found.mix.purchase:,.0f} to buy" in found.summary


def test_a_pin_still_takes_what_is_scheduled_away(problem: Problem) -> None:
    pinned = replace(problem, pins=(FixedOption(("C",), ("none", "both")),))
    assert [option.name for option in pinned.allowed[2]] == ["none", "both"]
