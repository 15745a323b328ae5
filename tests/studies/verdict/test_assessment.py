"""What an assessment may say: slips of the demand current, dead buses, edges, damping, and assumed supplies.

Relations are checked by hand or against numpy; the slips are those of an engineering review of the program
(1500 kVA at 13.8 kV, rated current 62.8 A, by hand).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.network.branches import Line, TransformerBranch
from xlcalc.network.capacitors import CapacitorBank
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.loads import Generator, LoadModel, StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.switching import switched
from xlcalc.network.topology import Bus
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.standards.supply_presets import preset_names, supply_preset
from xlcalc.studies.pcc import PccOptions, PccResult
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import solve_coupled
from xlcalc.studies.solver import Solver
from xlcalc.studies.verdict import assessment
from xlcalc.studies.verdict.assessed import on_worst_row
from xlcalc.studies.verdict.assessment import assess
from xlcalc.studies.verdict.assumed_supply import ANGLES_DEG, on_assumed, unknown_part
from xlcalc.studies.verdict.demand import largest_amps, rated_amps
from xlcalc.studies.verdict.load_ends import load_ends, resonates
from xlcalc.studies.verdict.quick_assessment import quick_assessment

KNOWN = Utility(13.8e3, 200e6, 12, unknown=frozenset())
BLANK = Utility(13.8e3, 200e6, 12)
UNIT = Transformer(1.5e6, 5.75, 7, 13.8e3, 480, -30)
RATED = 1.5e6 / (math.sqrt(3.0) * 13.8e3)


def network(utility: Utility = KNOWN, **parts) -> NodalNetwork:
    branches = (TransformerBranch("T1", "U", "M", UNIT), *parts.pop("branches", ()))
    nodes = (Bus("U", 13.8e3), Bus("M", 480), *parts.pop("nodes", ()))
    return NodalNetwork(utility, "U", nodes, branches, **parts)


def drive(pulses: int = 6, watts: float = 500e3, tag: str = "D1", **values) -> ScheduledDrive:
    front_end = FrontEnd(pulses, 1.0, **{"reactor_pct": 3.0, "capacitor_resistance_pct": 0.5, **values})
    return ScheduledDrive(tag, watts, front_end, "M")


def plant(*drives: ScheduledDrive, utility: Utility = KNOWN, **parts) -> StudiedPlant:
    return StudiedPlant(network(utility, **parts), drives or (drive(),))


SIX = plant()
FUNDAMENTAL = solve_coupled(SIX).pcc(PccOptions("U")).fundamental_amps


@pytest.mark.parametrize("typed", [0.5, 5.0, 20.0, 0.99 * FUNDAMENTAL])
def test_a_demand_current_below_the_fundamental_is_doubted(typed) -> None:
    found = assess(SIX, PccOptions("U", demand_amps=typed))
    assert found.word == "NO VERDICT"
    assert f"IL typed {typed:.3g} A is below the fundamental current" in found.reason
    assert f"{FUNDAMENTAL:.3g} A" in found.reason


@pytest.mark.parametrize("typed", [100.0, 800.0, 1804.0, 100e3])
def test_a_demand_current_above_what_feeds_the_pcc_is_doubted(typed) -> None:
    """Without the check 800 A, typed as on the side of 480 V, made 0.9 % of 26 % and a PASS."""
    found = assess(SIX, PccOptions("U", demand_amps=typed))
    assert found.word == "NO VERDICT"
    assert "above 1.5 times the rated current of what feeds the PCC U, 62.8 A" in found.reason
    assert "amperes of another voltage level?" in found.reason


def test_the_level_that_typed_amperes_fit_is_named() -> None:
    """800 A at 480 V are 27.8 A at 13.8 kV, and 22 A at 13.8 kV are 633 A at 480 V, by hand."""
    high = assess(SIX, PccOptions("U", demand_amps=800.0))
    assert "800 A at 0.48 kV are 27.8 A at the 13.8 kV of the PCC" in high.reason
    low = assess(SIX, PccOptions("M", demand_amps=25.0))
    assert "25 A at 13.8 kV are 719 A at the 0.48 kV of the PCC" in low.reason
    assert "another voltage level" not in assess(SIX, PccOptions("U", demand_amps=20.0)).reason


@pytest.mark.parametrize("typed", [0.997 * FUNDAMENTAL, FUNDAMENTAL, 27.0, RATED, 1.49 * RATED])
def test_a_plausible_demand_current_is_judged(typed) -> None:
    found = assess(SIX, PccOptions("U", demand_amps=typed))
    assert found.word in ("PASS", "FAIL")
    assert (found.il_basis, found.reason) == ("typed", "")
    assert found.pcc.demand_amps == typed


def test_what_feeds_a_bus() -> None:
    """By hand; cables lead on to the transformers beyond them."""
    line = Line("W", "M", "N", 0.001, 0.001)
    second = TransformerBranch("T2", "U", "M", UNIT)
    shared = plant(nodes=(Bus("N", 480),), branches=(line, second))
    for bus, amps in (("U", 2 * RATED), ("M", 2 * RATED * 13.8 / 0.48), ("N", 2 * RATED * 13.8 / 0.48)):
        assert rated_amps(shared, shared.network, bus) == pytest.approx(amps)
    direct = NodalNetwork(
        Utility(480, 25e6), "U", (Bus("U", 480),), loads=(StaticLoad("L", "U", 30e3, 40e3),)
    )
    lone = StudiedPlant(direct, (ScheduledDrive("D", 100e3, FrontEnd(6, 1.0), "U", 2),))
    assert rated_amps(lone, direct, "U") == pytest.approx(250e3 / (math.sqrt(3.0) * 480))


def test_a_blank_demand_current_is_the_largest_case_and_says_so() -> None:
    night = replace(drive(), tag="D2", rated_watts=200e3)
    both = StudiedPlant(network(), (drive(), night))
    cases = (both, replace(both, drives=(night,)))
    most = largest_amps(cases, PccOptions("U"), solve_coupled)
    day, dark = (assess(case, PccOptions("U"), largest_amps=most) for case in cases)
    assert day.il_basis == dark.il_basis == "estimated"
    assert day.pcc.demand_amps == dark.pcc.demand_amps == day.fundamental_amps > 2.0 * dark.fundamental_amps
    assert day.pcc.limit_row == dark.pcc.limit_row
    assert "IL estimated" in dark.remark
    typed = PccOptions("U", demand_amps=0.5 * day.fundamental_amps)
    words = [assess(case, typed, largest_amps=most).word for case in cases]
    assert words == ["NO VERDICT", "NO VERDICT"]


@pytest.mark.parametrize("demand", [None, 20.0])
def test_a_dead_bus_has_no_ratio(demand) -> None:
    """What flows there is rounding: 1e-13 A, and once was judged PASS with Isc/IL of 5e16."""
    spare = TransformerBranch("T9", "M", "E", Transformer(100e3, 4, 5, 480, 208, -30))
    dead = plant(nodes=(Bus("E", 208),), branches=(spare,))
    for judge in (assess, lambda p, o: quick_assessment(p, o, "quick")):
        found = judge(dead, PccOptions("E", demand_amps=demand))
        assert (found.word, found.pcc, found.fundamental_amps) == ("NO VERDICT", None, 0.0)
        assert "no current flows through the PCC (E)" in found.reason
        with pytest.raises(NoSolutionError, match="no current flows"):
            found.require_pcc()
    alone = switched(network(generators=(Generator("G", "M", 1e6, 480, 15),)), ["utility"])
    found = assess(StudiedPlant(alone, (drive(),)), PccOptions("U"))
    assert (found.word, found.pcc) == ("NO VERDICT", None)


def test_a_small_drive_on_an_ideal_supply_is_not_dead() -> None:
    """1 kW on 1,000,000 MVA: 1e-9 of the short circuit at 480 V would be 1.2 A, hence the threshold below."""
    ideal = network(replace(KNOWN, short_circuit_va=1e12))
    found = assess(StudiedPlant(ideal, (drive(18, 5e3),)), PccOptions("U"))
    assert found.pcc is not None


def result_at(ratio: float, fifth_pct: float, kv: float = 13.8) -> PccResult:
    currents = np.zeros((3, 50), complex)
    currents[:, 0], currents[:, 4] = 100.0, fifth_pct
    nothing = np.zeros((3, 50), complex)
    return PccResult("U", 1e3 * kv, 100.0 * ratio, 100.0, 100.0, currents, nothing, "2022")


@pytest.mark.parametrize(
    ("ratio", "row"),
    [
        (19.0, "Isc/IL < 20"),
        (21.0, "Isc/IL < 20"),
        (22.2, "Isc/IL < 20"),
        (23.0, "20 <= Isc/IL < 50"),
        (54.0, "20 <= Isc/IL < 50"),
        (105.0, "50 <= Isc/IL < 100"),
        (1000.0, "100 <= Isc/IL < 1000"),
        (1100.0, "100 <= Isc/IL < 1000"),
        (1200.0, "Isc/IL >= 1000"),
    ],
)
def test_near_an_edge_of_the_table_the_harder_row_counts(ratio, row) -> None:
    """Rows of IEEE 519-2022 Table 2 begin at 20, 50, 100 and 1000 (secondary sources)."""
    judged = on_worst_row(result_at(ratio, 1.0))
    assert (judged.limit_row, judged.isc_il) == (row, pytest.approx(ratio))


def test_the_other_side_of_an_edge_decides() -> None:
    """5 % of 5th at Isc/IL = 21: 7 % are allowed from 20 on, 4 % below (Table 2, secondary sources)."""
    own = result_at(21.0, 5.0)
    assert (own.judgement.word, on_worst_row(own).judgement.word) == ("PASS", "FAIL")


BANK = CapacitorBank("C", "M", 100e3, 480)
LOAD = StaticLoad("L", "M", 300e3, 200e3)


def test_with_capacitors_the_worse_end_of_the_damping_counts() -> None:
    """A parallel load damps the 17th of an 18-pulse drive next to the resonance at sqrt(26 / 0.1) = 15."""
    found = assess(plant(drive(18), capacitors=(BANK,), loads=(LOAD,)), PccOptions("U"))
    given, open_end = found.states
    assert (given.loads, open_end.loads) == ("as given", "static loads open")
    assert (given.passes, open_end.passes, found.word) == (True, False, "FAIL")
    assert found.pcc is open_end.pcc
    assert "as given" in found.remark
    assert "static loads open" in found.remark
    series = assess(
        plant(drive(18), capacitors=(BANK,), loads=(replace(LOAD, model=LoadModel.SERIES),)), PccOptions("U")
    )
    assert {state.loads for state in series.states} == {
        "as given",
        "static loads parallel R and L",
        "static loads open",
    }


def test_both_levels_of_the_supply_are_judged_and_the_worse_counts() -> None:
    """As two studies, one at each level: the weak one has the lower Isc/IL and the higher voltage."""
    strong, weak = replace(KNOWN, short_circuit_va=500e6), replace(KNOWN, short_circuit_va=60e6)
    options = PccOptions("U", demand_amps=60.0)
    alone = [assess(plant(drive(), utility=utility), options).require_pcc() for utility in (strong, weak)]
    both = assess(plant(drive(), utility=replace(strong, least_va=60e6)), options)
    assert [state.name for state in both.states] == ["as given", "minimum supply"]
    for state, own in zip(both.states, alone, strict=True):
        assert state.pcc is not None
        assert (state.pcc.tdd_pct, state.pcc.thdv_pct) == pytest.approx((own.tdd_pct, own.thdv_pct), rel=1e-6)
    assert both.require_pcc().isc_il == pytest.approx(min(own.isc_il for own in alone))
    assert "minimum supply" in both.remark
    quick = quick_assessment(plant(drive(), utility=replace(strong, least_va=60e6)), options, "quick")
    assert quick.require_pcc().isc_il == pytest.approx(both.require_pcc().isc_il)
    with pytest.raises(InputError, match="least_va"):
        replace(strong, least_va=600e6)


def test_a_drive_that_need_not_settle_at_the_least_supply_is_doubted() -> None:
    """At 100 MVA this drive has one even state, at 25 MVA one that no running drive need settle in."""
    values = {"reactor_pct": 1.0, "dc_capacitance_pu": 1.0, "load_kind": "power"}
    ideal = drive(capacitor_resistance_pct=0.0, **values)
    known = Utility(13.8e3, 100e6, 12, unknown=frozenset())
    options = PccOptions("U")
    assert not assess(plant(ideal, utility=known), options).judgement.doubts
    (doubt,) = assess(plant(ideal, utility=replace(known, least_va=25e6)), options).judgement.doubts
    assert "drive D1" in doubt
    assert "need not settle" in doubt


def test_without_capacitance_that_matters_the_load_is_as_given() -> None:
    """sqrt(S / Q): 20 m of cable stay far above order 60, 5 km at 13.8 kV do not (by hand)."""
    assert list(load_ends(network(loads=(LOAD,)))) == ["as given"]
    assert len(load_ends(network(loads=(LOAD,), capacitors=(BANK,)))) == 2
    siemens = 2 * math.pi * 60 * 0.3e-6
    for km, matters in ((0.02, False), (5.0, True)):
        cable = Line("W", "U", "V", 0.1 * km, 0.1 * km, km * siemens)
        assert resonates(network(nodes=(Bus("V", 13.8e3),), branches=(cable,))) is matters
    assert resonates(network(loads=(StaticLoad("L", "M", 1e3, -50e3),)))


def test_presets_have_the_totals_they_claim() -> None:
    """Root sums of the orders: 2.5, 5.0 and 7.9 % (engineering judgement; by hand)."""
    totals = [math.hypot(*(p for _, p in supply_preset(name).background)) for name in preset_names()]
    assert totals == pytest.approx([0.0, 2.5, 5.0, 7.9], abs=0.05)
    assert [supply_preset(name).unbalance_pct for name in preset_names()] == [0.0, 1.0, 2.0, 2.0]


def test_only_what_is_unknown_is_assumed() -> None:
    typical = supply_preset("typical")
    part = unknown_part(replace(BLANK, unbalance_pct=0.4), typical)
    assert (part.unbalance_pct, dict(part.background)) == (0.0, dict(typical.background))
    part = unknown_part(replace(BLANK, background=((5, 1.0, 30.0),), unknown=frozenset({1, 7})), typical)
    assert (part.unbalance_pct, part.background) == (1.0, ((7, 1.2),))
    filled = on_assumed(network(replace(BLANK, background=((5, 1.0, 30.0),))), part, 90.0)
    assert filled.utility.background == ((5, 1.0, 30.0), (7, 1.2, 90.0))
    assert unknown_part(KNOWN, typical).background == ()


def test_a_perfect_supply_is_not_enough_for_a_pass() -> None:
    """18 pulses: 2 % on a perfect supply, two to three times as much with 1 % unbalance and 2 % of 5th."""
    close = plant(drive(18), utility=replace(BLANK, short_circuit_va=10e6))
    found = assess(close, PccOptions("U"))
    given, typical = found.states
    assert (given.supply, given.passes, typical.supply, typical.passes) == (
        *("as given", True),
        *("typical", False),
    )
    assert found.word == "NO VERDICT"
    assert found.reason.startswith("PASS only on a perfect supply")
    assert f"{typical.pcc.judgement.binding.value:.2f} %" in found.reason
    assert typical.pcc.tdd_pct > 1.8 * given.pcc.tdd_pct
    assert found.pcc is given.pcc
    ideal = assess(close, PccOptions("U"), supply="ideal")
    assert (ideal.word, len(ideal.states)) == ("PASS", 1)
    assert "judged on a perfect supply" in ideal.remark
    known = assess(plant(drive(18), utility=replace(KNOWN, short_circuit_va=10e6)), PccOptions("U"))
    assert (known.word, len(known.states)) == ("PASS", 1)
    assert "supply" not in known.remark
    assert assess(plant(drive(18), utility=BLANK), PccOptions("U")).word == "PASS"


def test_the_worst_of_four_angles_is_assumed() -> None:
    """Solving the plant at all four finds no TDD above the one that counts by more than a fiftieth."""
    blank = plant(drive(12), utility=BLANK)
    options = PccOptions("U", demand_amps=30.0)
    found = assess(blank, options)
    part = unknown_part(BLANK, supply_preset("typical"))
    all_angles = [
        solve_coupled(StudiedPlant(on_assumed(blank.network, part, angle), blank.drives))
        .pcc(options)
        .judgement.binding.ratio
        for angle in ANGLES_DEG
    ]
    assert found.assumed.pcc.judgement.binding.ratio == pytest.approx(max(all_angles), rel=0.02)


def test_on_a_generator_nothing_of_the_public_supply_is_assumed() -> None:
    whole = network(BLANK, generators=(Generator("G", "M", 1e6, 480, 15),))
    found = assess(StudiedPlant(switched(whole, ["utility"]), (drive(18),)), PccOptions("M"))
    assert {state.supply for state in found.states} == {"as given"}


def test_a_drive_without_a_solution_is_named_and_the_others_hold() -> None:
    """A supply of 0.6 MVA carries the small drive, not the one of 900 kW."""
    weak = network(replace(KNOWN, short_circuit_va=0.7e6))
    both = StudiedPlant(weak, (drive(6, 50e3, "small"), drive(6, 900e3, "big")))
    found = assess(both, PccOptions("U"))
    assert (found.word, found.pcc, found.quick_word in ("", "NO VERDICT")) == ("NO VERDICT", None, True)
    assert "big" in found.reason


def test_without_convergence_the_quick_estimate_gives_no_pass() -> None:
    class Hasty(Solver):
        def coupled(self, plant, near=None):
            return solve_coupled(plant, max_iterations=1)

    found = assess(plant(drive(18)), PccOptions("U"), solver=Hasty())
    assert (found.word, found.quick_word) == ("NO VERDICT", "NO VERDICT")
    assert "did not converge" in found.reason
    assert found.quick.judgement.word == "PASS"


def test_the_quick_estimate_alone_gives_figures_and_no_verdict() -> None:
    found = quick_assessment(plant(drive(18)), PccOptions("U"), "quick only")
    assert (found.word, found.reason) == ("NO VERDICT", "quick only")
    assert found.pcc.judgement.word == "PASS"


def test_a_large_plant_on_an_unknown_supply_is_not_guessed(monkeypatch) -> None:
    monkeypatch.setattr(assessment, "MOST_ASSUMED_KINDS", 1)
    two = (drive(18), drive(18, 400e3, "D2"))
    found = assess(plant(*two, utility=BLANK), PccOptions("U"))
    assert (found.word, len(found.states)) == ("NO VERDICT", 1)
    assert "2 kinds of drives are too many to try a typical one" in found.reason
    assert assess(plant(*two), PccOptions("U")).word == "PASS"


def test_equal_plants_are_solved_once() -> None:
    solver = Solver()
    first = assess(SIX, PccOptions("U"), solver=solver)
    again = assess(plant(), PccOptions("M"), solver=solver)
    assert first.states[0].solution is again.states[0].solution


def test_a_full_memory_loses_no_plant_that_was_asked_for() -> None:
    """The oldest goes when another is remembered, though it was asked for together with that one."""
    small, large = plant(drive(watts=300e3)), plant(drive(watts=600e3))
    solver = Solver(remembered=1)
    solver.quick(small)
    first, second = solver.quick_many([small, large])
    assert first.drives[0].drive.rated_watts == 300e3
    assert second.drives[0].drive.rated_watts == 600e3


def test_what_cannot_be_a_pcc_is_refused() -> None:
    with pytest.raises(InputError, match="bus"):
        assess(SIX, PccOptions("X"))
    with pytest.raises(InputError, match="supply is excellent"):
        assess(SIX, PccOptions("U"), supply="excellent")
