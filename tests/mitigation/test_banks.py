"""Banks on a bus: their stress against the solved network, and their refusal where they overload."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.mitigation.assessment.assess import assess_mix
from xlcalc.mitigation.choose import ChoiceOptions, choose
from xlcalc.mitigation.mix import Mix
from xlcalc.mitigation.offer.banks import BankOption, banks_of
from xlcalc.mitigation.offer.economics import Economics
from xlcalc.mitigation.problem import LimitCase, Problem
from xlcalc.network.loads import HarmonicCurrent, LoadModel, SpectrumLoad
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import solve_coupled
from xlcalc.studies.verdict.load_ends import load_ends

QUICK = ChoiceOptions(front_points=0, runners=0)


def tuned(kilovolts, price=3000.0):
    return BankOption("tuned", "tuned filter", 60e3, 1e3 * kilovolts, None, 4.8, 40.0, price)


@pytest.fixture
def plain(sites):
    """Two drives with a reactor on a known supply, which pass only with a filter on the bus."""
    drives = tuple(
        ScheduledDrive(tag, 60e3, FrontEnd(6, 1.0, capacitor_resistance_pct=0.5)) for tag in ("A", "B")
    )
    load = sites.linear(60e3, 0.9, LoadModel.PARALLEL)
    case = LimitCase("only", sites.network(300.0, 120e3, load, unknown=frozenset()))
    options = tuple(option for option in sites.OPTIONS if option.name == "reactor 5")
    return Problem(drives, options, (case,), Economics(0.1))


def with_bank(problem, option):
    return replace(problem, banks=banks_of([("main", 480.0, (option,))]))


def test_stress_is_that_of_the_solved_plant(plain):
    """rms voltage and current of the bank from the coupled plant, taken branch by branch."""
    problem = with_bank(plain, tuned(0.6))
    chosen = choose(problem, QUICK)
    bank = problem.banks[0]
    element = bank.elements[0]
    network = plain.cases[0].network
    drives = tuple(
        replace(drive, front_end=replace(drive.front_end, reactor_pct=5.0)) for drive in plain.drives
    )
    ends = load_ends(replace(network, capacitors=(element,))).values()
    flows = [solve_coupled(StudiedPlant(end, drives)).flow for end in ends]
    amps = max(np.linalg.norm(flow.capacitor_current(element.name), axis=1).max() for flow in flows)
    across = (np.linalg.norm(flow.capacitor_volts(element.name), axis=1).max() for flow in flows)
    volts = np.sqrt(3.0) * max(across)
    found = {v.quantity: v.value for v in chosen.coupled.banks[0].judgement.verdicts}
    assert found["rms current"] == pytest.approx(100.0 * amps / (60e3 / (np.sqrt(3.0) * 600.0)), rel=1e-3)
    assert found["rms voltage"] == pytest.approx(100.0 * volts / 600.0, rel=1e-3)
    assert found["kvar"] == pytest.approx(found["rms current"] * found["rms voltage"] / 100.0, rel=1e-6)
    assert chosen.passes
    assert chosen.mix.bank is bank
    assert set(chosen.bank_table()["verdict"]) == {"PASS"}


def test_bank_that_overloads_is_no_option(plain):
    """440 V capacitors at 480 V: 109 % from the ratio, 104.5 % from the tuning, 1 + 1 / (4.8^2 - 1)."""
    weak = tuned(0.44)
    chosen = choose(with_bank(plain, weak), QUICK)
    assert not chosen.passes
    assert chosen.mix.bank is None
    assert any("overloads: tuned on main in case only" in caution for caution in chosen.cautions)
    mix = replace(chosen.mix, bank=with_bank(plain, weak).banks[0])
    forced = assess_mix(with_bank(plain, weak), mix, coupled=True)
    assert forced.overloads
    assert not forced.passes


def test_dearer_bank_that_stands_the_load_is_taken(plain):
    problem = replace(
        plain,
        banks=(
            *banks_of([("main", 480.0, (tuned(0.44),))]),
            *banks_of([("main", 480.0, (replace(tuned(0.6, 9000.0), name="stronger"),))]),
        ),
    )
    chosen = choose(problem, QUICK)
    assert chosen.passes
    assert chosen.mix.bank.name == "stronger on main"
    assert any("overloads" in caution for caution in chosen.cautions)


def test_an_unknown_supply_is_both_perfect_and_typical(plain):
    """A filter tuned near the 5th takes the background of the supply too, through the PCC."""
    network = plain.cases[0].network
    blank = replace(network, utility=replace(network.utility, unknown=None))
    unknown = replace(plain, cases=(replace(plain.cases[0], network=blank),))
    known, assumed = (choose(with_bank(p, tuned(0.6)), QUICK) for p in (plain, unknown))
    assert known.passes
    assert not assumed.passes
    assert any("supply" in state for state in assumed.verdict_table()["state"]) or assumed.mix.bank is None
    assert choose(replace(with_bank(unknown, tuned(0.6)), supply="ideal"), QUICK).passes


def test_a_demand_current_of_another_level_gives_no_verdict(plain):
    point = PccOptions("utility", demand_amps=200.0)
    slipped = replace(plain, cases=(replace(plain.cases[0], points=(point,)),))
    chosen = choose(with_bank(slipped, tuned(0.6)), QUICK)
    assert (chosen.word, chosen.passes) == ("NO VERDICT", False)
    assert "IL typed 200 A is above 1.5 times" in chosen.summary


def test_standard_for_capacitors_is_the_users(plain):
    """IEC 60831-1 has no limit of the peak voltage, IEEE 18 has."""
    for standard, expected in (("IEC 60831-1", 2), ("IEEE 18-2002", 4)):
        problem = replace(with_bank(plain, tuned(0.6)), capacitor_standard=standard)
        judged = choose(problem, QUICK).coupled.banks[0].judgement
        assert len(judged.verdicts) == expected
    with pytest.raises(InputError, match="capacitor_standard is IEEE 99"):
        replace(plain, capacitor_standard="IEEE 99")


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"kind": "magic"}, "kind of B is magic; valid: one of capacitor bank, detuned bank"),
        ({"kind": "detuned bank"}, "reactor_pct of B is missing"),
        ({"kind": "tuned filter"}, "tuned_order of B is missing"),
        ({"kind": "capacitor bank", "tuned_order": 5.0}, "tuned_order of B is 5; valid: blank"),
        ({"kind": "detuned bank", "reactor_pct": 7.0, "quality": 30.0}, "quality of B is 30; valid: blank"),
        ({"kind": "detuned bank", "reactor_pct": 70.0}, "reactor_pct of B on any bus is 70"),
        ({"kind": "capacitor bank", "price": -1.0}, "price of B is -1"),
    ],
)
def test_bad_bank_is_named(fields, message):
    with pytest.raises(InputError, match=message):
        BankOption("B", rated_var=1e5, **fields)


def test_bank_of_another_voltage_and_too_many_mixes_are_refused():
    bank = BankOption("B", "detuned bank", 1e5, 400.0, 7.0)
    with pytest.raises(InputError, match=r"rated voltage of B is 400 V; valid: 0\.9 to 2 times the 690 V"):
        banks_of([("Pulp", 690.0, (bank,))])
    several = tuple(replace(bank, name=name) for name in "ABC")
    with pytest.raises(InputError, match="banks offered is 15 mixes; valid: up to 12"):
        banks_of([("one", 400.0, several), ("two", 400.0, several)])


def test_margin_of_a_single_pcc(plain):
    """5 % at one PCC asks nothing of the other; both are judged by their own."""
    points = tuple(replace(plain.cases[0].points[0], pcc=bus) for bus in ("utility", "main"))
    cases = (replace(plain.cases[0], points=points),)
    problem = replace(with_bank(plain, tuned(0.6)), cases=cases, margin_pct=1.0, margins_pct={"main": 5.0})
    assert (problem.margin_at("utility"), problem.margin_at("main")) == (1.0, 5.0)
    chosen = choose(problem, QUICK)
    assert {point.point.pcc: point.margin_pct for point in chosen.assessment.points} == {
        "utility": 1.0,
        "main": 5.0,
    }
    for point in chosen.assessment.points:
        allowed = 1.0 - point.margin_pct / 100.0
        assert point.ratio == pytest.approx(point.binding.ratio / allowed)
    assert chosen.passes == all(point.ratio <= 1.0 for point in chosen.assessment.points)


def test_orders_of_unknown_angle_load_a_bank_at_their_worst_angle(plain):
    """The 7th of a charger: as much as at the worst of twelve angles, and hardly more."""
    nothing = Mix({}, {}, None, 0.0, 0.0, 0.0, 0.0, 0.0, np.zeros(0))

    def rms_amps(degrees):
        harmonics = (HarmonicCurrent(7, 60.0, degrees),)
        charger = SpectrumLoad(
            name="charger",
            bus="main",
            watts=60e3,
            harmonics=harmonics,
            source="invented",
            complete=True,
        )
        network = plain.cases[0].network
        case = replace(plain.cases[0], network=replace(network, loads=(*network.loads, charger)))
        problem = with_bank(replace(plain, cases=(case,)), tuned(0.6))
        options = {drive.tag: problem.options[-1] for drive in problem.drives}
        mix = replace(nothing, options=options, bank=problem.banks[0])
        (load,) = assess_mix(problem, mix, coupled=False).banks
        return next(v.value for v in load.judgement.verdicts if v.quantity == "rms current")

    worst = max(rms_amps(30.0 * k) for k in range(12))
    assert worst <= rms_amps(None) <= 1.02 * worst
