"""Pins, sites where nothing passes, and what a stricter limit costs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from xlcalc.core.errors import InputError
from xlcalc.mitigation.assessment.assess import assess_mix
from xlcalc.mitigation.choose import ChoiceOptions, choose
from xlcalc.mitigation.milp.correction import correction
from xlcalc.mitigation.milp.model import build
from xlcalc.mitigation.milp.search import Effort, least_cost
from xlcalc.mitigation.mix import mix_of, scheduled_mix
from xlcalc.mitigation.offer.curves import CostFormula
from xlcalc.mitigation.offer.drive_options import DriveOption
from xlcalc.mitigation.offer.economics import Economics
from xlcalc.mitigation.offer.physics import DiodeFrontEnd
from xlcalc.mitigation.problem import FixedOption, LimitCase, Problem
from xlcalc.mitigation.robust import robustness
from xlcalc.studies.nameplate.assumption import Assumption
from xlcalc.studies.nameplate.sampling import sampled_values, with_values
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solution import solve_uncoupled

EXACT = Effort(gap_pct=0.0, seconds=30.0)
QUICK = ChoiceOptions(coupled=False, front_points=0, runners=0, effort=EXACT)


@pytest.fixture
def site(sites):
    """Seven drives that need some mitigation."""
    drives = sites.drives_of(np.random.default_rng(5), 7)
    total = sum(drive.rated_watts * drive.quantity for drive in drives)
    load = sites.linear(0.6 * total)
    cases = (
        LimitCase("strong", sites.network(300.0, total, load)),
        LimitCase("weak", sites.network(120.0, total, load)),
    )
    return Problem(drives, sites.OPTIONS, cases, Economics(0.1, 6.0, 5000.0), 5.0)


def test_study_of_the_mix_is_the_study_of_the_plant(site):
    """Without residual spectra the assessment is the quick estimate of the plant with the chosen front ends.

    All cases have one demand current, the largest.
    """
    bridges = replace(site, options=tuple(o for o in site.options if o.name != "active front end"))
    choice = choose(bridges, QUICK)
    drives = tuple(
        replace(drive, front_end=choice.mix.options[drive.tag].physics.front_end(drive))
        for drive in bridges.drives
    )
    solved = [solve_uncoupled(StudiedPlant(case.network, drives)) for case in bridges.cases]
    demand = max(solution.pcc().fundamental_amps for solution in solved)
    expected = solved[1].pcc(replace(bridges.cases[1].points[0], demand_amps=demand))
    found = choice.alone.points[1].result
    assert found.tdd_pct == pytest.approx(expected.tdd_pct, rel=1e-9)
    assert found.thdv_pct == pytest.approx(expected.thdv_pct, rel=1e-9)
    assert found.judgement.binding.name == expected.judgement.binding.name


def test_model_of_the_search_is_the_study(site):
    """What the search assumed of its mix is what the study finds, but for the angles of the buses."""
    model = build(site)
    found = least_cost(model, model.limits, EXACT)
    choice = choose(site, QUICK)
    assert model.tdd_pct(found.unknowns) == pytest.approx(choice.alone.tdd_pct, rel=5e-3)
    assert choice.mix.cost == pytest.approx(found.cost)


def test_pinned_drives_get_what_they_must(site):
    free = choose(site, QUICK)
    tag = next(tag for tag, option in free.mix.options.items() if option.name != "18-pulse")
    pinned = choose(replace(site, pins=(FixedOption((tag,), ("18-pulse",)),)), QUICK)
    assert pinned.passes
    assert pinned.mix.options[tag].name == "18-pulse"
    assert pinned.mix.cost >= free.mix.cost


def test_drive_that_is_bought_keeps_its_front_end_for_nothing(site):
    first = site.drives[0]
    bought = replace(first, front_end=replace(first.front_end, pulses=12))
    problem = replace(
        site, drives=(bought, *site.drives[1:]), pins=(FixedOption((first.tag,), ("as scheduled",)),)
    )
    choice = choose(problem, QUICK)
    row = choice.mix_table().set_index("tag").loc[first.tag]
    assert (row["option"], row["purchase"], row["losses"]) == ("as scheduled", 0.0, 0.0)


def test_a_mix_with_orders_that_nobody_gave_has_no_verdict(site):
    """A spectrum to order 13 is not one to order 50, unless it is said to be."""
    afe = next(option for option in site.options if option.name == "active front end")
    open_ended = replace(afe, physics=replace(afe.physics, others="not given"))
    everywhere = tuple(FixedOption((drive.tag,), ("active front end",)) for drive in site.drives)
    for option, word in ((afe, "PASS"), (open_ended, "NO VERDICT")):
        choice = choose(replace(site, options=(option,), pins=everywhere), QUICK)
        assert choice.passes
        assert choice.word == word
    assert "ends at order 13" in choice.reason


def test_contradictory_pins_are_named(site):
    tag = site.drives[2].tag
    pins = (
        FixedOption((tag,), ("18-pulse",), "pin A"),
        FixedOption((tag, site.drives[3].tag), ("12-pulse", "none"), "pin B"),
    )
    with pytest.raises(
        InputError, match=rf"pins of {tag} is contradictory: pin A wants 18-pulse; pin B wants"
    ):
        replace(site, pins=pins)


def test_pin_on_an_option_out_of_range_is_named(site):
    options = (*site.options, DriveOption("huge", DiodeFrontEnd(24), CostFormula(), min_kw=5000.0))
    pins = (FixedOption((site.drives[0].tag,), ("huge",), "pin A"),)
    with pytest.raises(InputError, match="pin A wants huge; valid: an option that can be had at"):
        replace(site, options=options, pins=pins)


def test_option_that_fits_no_drive_is_named(site):
    options = (*site.options, DriveOption("huge", DiodeFrontEnd(24), CostFormula(), min_kw=5000.0))
    assert any("option huge (5000 to" in note for note in replace(site, options=options).cautions)


def test_drive_without_an_option_is_named(site):
    options = (DriveOption("huge", DiodeFrontEnd(24), CostFormula(), min_kw=5000.0),)
    with pytest.raises(InputError, match=f"rating of {site.drives[0].tag} is .* kW, which no option fits"):
        replace(site, options=options)


def test_nothing_passes_gives_the_nearest_mix_and_the_order_that_binds(site, enumeration):
    only = tuple(o for o in site.options if o.name in ("none", "reactor 5", "choke 4"))
    choice = choose(replace(site, options=only), QUICK)
    assert (choice.passes, choice.impossible, choice.word) == (False, True, "NO MIX PASSES")
    assert math.isinf(enumeration.cheapest(replace(site, options=only))[0])
    worst = choice.alone.binding[1].ratio
    for tag, option in choice.mix.options.items():
        for other in only:
            if other is not option:
                changed = replace(choice.mix, options={**choice.mix.options, tag: other})
                assert assess_mix(replace(site, options=only), changed).binding[1].ratio >= worst * 0.998
    assert "order" in choice.alone.text or "TDD" in choice.alone.text


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.floats(0.0, 40.0), st.floats(0.1, 30.0))
def test_a_stricter_limit_never_costs_less(site, margin, more):
    """Property: less room under every limit leaves no cheaper mix."""
    loose, strict = (
        least_cost(model, model.limits, EXACT)
        for model in (build(replace(site, margin_pct=m)) for m in (margin, margin + more))
    )
    assert strict.cost >= loose.cost * (1.0 - 1e-9)


def test_cost_falls_and_tdd_rises_along_the_front(site):
    choice = choose(site, replace(QUICK, front_points=7, runners=2))
    costs = [point.mix.cost for point in choice.front]
    assert costs == sorted(costs)
    assert [p.mix.tdd_pct for p in choice.front] == sorted(
        (p.mix.tdd_pct for p in choice.front), reverse=True
    )
    assert all(p.bound <= p.mix.cost * (1.0 + 1e-9) for p in choice.front)
    assert [mix.cost for mix in choice.runners] == sorted(mix.cost for mix in choice.runners)
    assert choice.mix.cost <= choice.runners[0].cost
    assert all(assess_mix(site, mix).passes for mix in choice.runners)
    assert len({tuple(o.name for o in mix.options.values()) for mix in (choice.mix, *choice.runners)}) == 3


def test_a_cheaper_mix_of_the_front_that_passes_is_taken(sites):
    """A search that may stop at a proof gap of 60 % misses it."""
    problem, early = sites.random_problem(15), Effort(gap_pct=60.0, seconds=30.0)
    model = build(problem)
    missed = least_cost(model, model.limits, early)
    choice = choose(problem, replace(QUICK, front_points=7, effort=early))
    assert choice.passes
    assert choice.mix.cost == min(point.mix.cost for point in choice.front if point.passes)
    assert choice.mix.cost < 0.99 * missed.cost


def test_corrected_model_agrees_with_the_coupled_study(site):
    """Every value of 2 % of its limit or more; one below half of it would slip through a coarser mark."""
    model = build(site)
    unknowns = least_cost(model, model.limits, EXACT).unknowns
    assessment = assess_mix(site, mix_of(model, unknowns), coupled=True)
    limits = model.limits.corrected(correction(model, unknowns, None, assessment))
    ratios = model.keep * limits.ratios(model.quantities.values(unknowns), unknowns)
    compared = []
    for k, point in enumerate(assessment.points):
        exact = {v.order: v.ratio for v in point.result.judgement.of_quantity("current harmonic").verdicts}
        for index in np.flatnonzero(model.quantities.block_of == 2 * k):
            order = int(model.quantities.order_of[index])
            if order and max(exact[order], ratios[index]) >= 0.02:
                assert ratios[index] == pytest.approx(exact[order], rel=1e-9)
                compared.append(exact[order])
    assert min(compared) < 0.5 < max(compared)


def test_savings_tell_the_outcome_without_the_money(site):
    choice = choose(site, QUICK)
    item = choice.savings[0]
    cheapest = next(option for option in site.options if option.name == item.cheapest)
    without = replace(choice.mix, options={**choice.mix.options, **dict.fromkeys(item.tags, cheapest)})
    assessment = assess_mix(site, without)
    assert item.tdd_without_pct == pytest.approx(assessment.tdd_pct, rel=5e-3)
    assert item.worst_without_pct == pytest.approx(100.0 * assessment.binding[1].ratio, rel=5e-3)


def test_causes_add_up_to_the_current_that_is_judged(site, sites):
    """Currents of unknown angle with their magnitudes, diode bridges by their part along the sum."""
    front_end = next(option for option in site.options if option.physics is sites.AFE)
    diode = next(option for option in site.options if option.name == "reactor 3")
    tags = [drive.tag for drive in site.drives]
    chosen = {tag: front_end if k == 0 else diode for k, tag in enumerate(tags)}
    mix = mix_of(model := build(site), least_cost(model, model.limits, EXACT).unknowns)
    assessment = assess_mix(site, replace(mix, options=chosen, filters={}), coupled=True)
    for point in assessment.points:
        order, causes = point.contributions
        assert {tag for cause in causes for tag in cause.tag.split(", ")} >= set(tags)
        assert sum(cause.share_pct for cause in causes) == pytest.approx(100.0)
        amps = np.abs(point.result.currents[:, order - 1]).max()
        loose = [cause for cause in causes if cause.tag == tags[0] and cause.amps]
        assert any(cause.share_pct == pytest.approx(100.0 * cause.amps / amps) for cause in loose)


def test_what_nameplates_leave_open_is_judged_at_p95(site):
    """The coupled study holds the sample that numpy finds at the 95 % quantile of the quick estimates."""
    ends = (replace(d.front_end, pulses=18, reactor_pct=5.0) for d in site.drives)
    drives = tuple(replace(d, front_end=end) for d, end in zip(site.drives, ends, strict=True))
    known = replace(site, drives=drives, keep_scheduled=True, supply="ideal")
    mix = scheduled_mix(known)
    typical = assess_mix(known, mix, coupled=True)
    assert typical.passes
    tags = tuple(drive.tag for drive in drives)
    reactor = Assumption(
        name="line reactor pct",
        attribute="reactor_pct",
        tags=tags,
        low=2.0,
        typical=5.0,
        high=5.0,
        unit="%",
        basis="invented",
    )
    found = assess_mix(replace(known, unknowns=(reactor,)), mix, coupled=True)
    several = [with_values(drives, (reactor,), values) for values in sampled_values((reactor,))]
    ratios = [assess_mix(replace(known, drives=each), mix).binding[0].ratio for each in several]
    at_p95 = np.quantile(ratios, 0.95, method="inverted_cdf")
    there = assess_mix(replace(known, drives=several[ratios.index(at_p95)]), mix, coupled=True)
    assert found.binding[0].ratio == pytest.approx(there.binding[0].ratio, rel=0.01)  # IL of the typical one
    assert found.binding[0].ratio > 1.02 * typical.binding[0].ratio
    assert "P95 of what nameplates leave open" in found.text


def test_chosen_mix_is_studied_coupled(site):
    choice = choose(site, replace(QUICK, coupled=True))
    assert choice.passes
    assert choice.coupled is not None
    assert choice.coupled.passes
    assert choice.coupled.tdd_pct != pytest.approx(choice.alone.tdd_pct, rel=1e-3)


def test_relying_on_the_coupled_study_is_never_dearer(site):
    both = choose(site, replace(QUICK, coupled=True))
    coupled = choose(site, replace(QUICK, coupled=True, rely_on_coupling=True))
    assert coupled.coupled.passes
    assert coupled.mix.cost <= both.mix.cost


def test_robustness_counts_the_samples_that_pass(site, sites):
    choice = choose(site, QUICK)
    total = sum(drive.rated_watts * drive.quantity for drive in site.drives)
    load = sites.linear(0.6 * total)
    samples = [(LimitCase("sampled", sites.network(mva, total, load)),) for mva in (8.0, 300.0, 120.0)]
    found = robustness(site, choice.mix, samples)
    assert found.runs["passes"].tolist() == [False, True, True]
    low, high = found.interval
    assert low < found.share_passing < high


def test_unreachable_margin_says_what_comes_nearest(site):
    choice = choose(replace(site, margin_pct=90.0), QUICK)
    assert not choice.passes
    assert "nearest mix" in choice.summary


def test_another_edition_and_pcc_are_judged_where_they_are_named(site):
    points = (PccOptions("utility", "1992"), PccOptions("main"))
    problem = replace(site, cases=tuple(replace(case, points=points) for case in site.cases))
    choice = choose(problem, QUICK)
    assert [p.point.pcc for p in choice.alone.points] == ["utility", "main", "utility", "main"]
