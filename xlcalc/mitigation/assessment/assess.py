"""The exact study of one mix: every case and PCC in every state that counts.

Coupled, static loads damp as much or as little as they may where capacitors resonate, and a supply that
nobody measured is both perfect and typical; the worst counts. What nameplates leave open of the drives is
sampled by the quick estimate, and the sample at P95 is one more state. A PCC has one demand current in all
cases.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from xlcalc.core.errors import NoSolutionError
from xlcalc.mitigation.assessment.case_study import CaseAssessment, study_case
from xlcalc.mitigation.assessment.mix_assessment import BankLoad, FilterLoad, MixAssessment, PointResult
from xlcalc.mitigation.mix import Mix
from xlcalc.mitigation.problem import LimitCase, Problem
from xlcalc.standards.supply_presets import TYPICAL, SupplyPreset, supply_preset
from xlcalc.studies.nameplate.sampling import place_of_p95, sampled_values, with_values
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.verdict.assessed import on_worst_row
from xlcalc.studies.verdict.assumed_supply import ANGLES_DEG, is_ideal, on_assumed, unknown_part, worst_angles
from xlcalc.studies.verdict.demand import demand_of
from xlcalc.studies.verdict.load_ends import load_ends

AT_P95: Final = "P95 of what nameplates leave open"


def assess_mix(problem: Problem, mix: Mix, coupled: bool = False, *, assumed: bool = True) -> MixAssessment:
    """The exact study of a mix, from the currents of the drives to the verdicts.

    Parameters
    ----------
    problem : Problem
        Cases without the bank of the mix.
    mix : Mix
        Its options, filters and bank are used, nothing that the search computed.
    coupled : bool
        Bring drives and network into one consistent state, and try every state of static loads and supply
        that counts. Without it the mix is studied as it was given only.
    assumed : bool
        Whether a supply that nobody measured is tried too; without it a mix that passes need not yet do so.

    Raises
    ------
    NoSolutionError
        A drive has no stable solution, the network cannot supply the loads, or the coupled iteration does not
        converge; the message names the case.
    """
    placed = problem if mix.bank is None else problem.with_bank(mix.bank)
    if not coupled:
        parts = [[study_case(case, placed, mix, coupled)] for case in placed.cases]
        return _assessment(placed, parts, coupled)
    states = [_damped(case) for case in placed.cases]
    parts = [[_named(state, placed, mix) for state in several] for several in states]
    given = _assessment(placed, parts, coupled)
    if not (given.passes and assumed):
        return given
    for several, own in zip(states, parts, strict=True):
        several += _assumed(several, placed, mix)
        own += [_named(state, placed, mix) for state in several[len(own) :]]
    found = _assessment(placed, parts, coupled)
    if not (found.passes and placed.unknowns):
        return found
    sampled = replace(placed, drives=_at_p95(problem, mix), unknowns=())
    amps = _demands(parts)
    for several, own in zip(states, parts, strict=True):
        worst = max(range(len(own)), key=lambda k: max(_judged(one, amps).ratio for one in own[k].points))
        name, case = several[worst]
        own.append(_named((f"{AT_P95}, {name}", case), sampled, mix))
    return _assessment(placed, parts, coupled)


def _at_p95(problem: Problem, mix: Mix) -> tuple[ScheduledDrive, ...]:
    """The drives of the sample at P95 of the quick estimates of a mix over what nameplates leave open."""
    ratios, several = [], []
    for values in sampled_values(problem.unknowns):
        several.append(with_values(problem.drives, problem.unknowns, values))
        try:
            ratios.append(assess_mix(replace(problem, drives=several[-1]), mix).binding[0].ratio)
        except NoSolutionError:
            ratios.append(math.inf)
    return several[place_of_p95(np.array(ratios))]


def estimates_on_assumed(problem: Problem, mix: Mix) -> tuple[MixAssessment, ...]:
    """Quick estimates of a mix on the supply that is assumed where nobody measured it, one for each angle.

    None where everything is known of the supply; raises as `assess_mix`.
    """
    placed = problem if mix.bank is None else problem.with_bank(mix.bank)
    parts = [_supply_part(placed, case) for case in placed.cases]
    if all(is_ideal(part) for part in parts):
        return ()
    found = []
    for angle in ANGLES_DEG:
        filled = [
            replace(case, network=on_assumed(case.network, part, angle))
            for case, part in zip(placed.cases, parts, strict=True)
        ]
        found.append(
            _assessment(placed, [[study_case(case, placed, mix, coupled=False)] for case in filled], False)
        )
    return tuple(found)


def _supply_part(problem: Problem, case: LimitCase) -> SupplyPreset:
    """What is assumed of the supply of a case."""
    return unknown_part(case.network.utility, supply_preset(problem.supply or TYPICAL))


State = tuple[str, LimitCase]


def _damped(case: LimitCase) -> list[State]:
    """A case by the level of its supply and what its static loads are to harmonics."""
    ends = load_ends(case.network)
    return [(name, replace(case, network=network)) for name, network in ends.items()]


def _named(state: State, problem: Problem, mix: Mix) -> CaseAssessment:
    name, case = state
    found = study_case(case, problem, mix, coupled=True)
    return replace(found, points=[replace(point, state=name) for point in found.points])


def _assumed(states: Sequence[State], problem: Problem, mix: Mix) -> list[State]:
    """A case on the assumed supply, at the angles that the quick estimate finds worst."""
    part = _supply_part(problem, states[0][1])
    if is_ideal(part):
        return []
    found: list[State] = []
    for name, case in states:
        filled = {angle: replace(case, network=on_assumed(case.network, part, angle)) for angle in ANGLES_DEG}
        quick = {
            angle: [point.result.judgement for point in study_case(there, problem, mix, coupled=False).points]
            for angle, there in filled.items()
        }
        state = f"{part.name} supply, {name}"
        found += [(state, filled[angle]) for angle in worst_angles(quick)]
    return found


def _assessment(problem: Problem, parts: Sequence[Sequence[CaseAssessment]], coupled: bool) -> MixAssessment:
    """The worst state of every PCC, filter and bank, with one demand current of a PCC for all cases."""
    amps = _demands(parts)
    points, filters, banks, doubts = [], [], [], []
    for case, states in zip(problem.cases, parts, strict=True):
        for alike in zip(*(state.points for state in states), strict=True):
            points.append(max((_judged(one, amps) for one in alike), key=lambda one: one.ratio))
        filters += [max(same, key=_amps) for same in zip(*(s.filters for s in states), strict=True)]
        banks += [max(same, key=_stress) for same in zip(*(s.banks for s in states), strict=True)]
        doubts += [doubt for point in states[0].points for doubt in _doubts(case, problem, point, amps)]
        doubts += [f"case {case.name}: {doubt}" for state in states for doubt in state.doubts]
    if not any(amps.values()):
        doubts.append("no current flows through any PCC in any case")
    return MixAssessment(tuple(points), tuple(filters), coupled, tuple(banks), tuple(dict.fromkeys(doubts)))


def _demands(parts: Sequence[Sequence[CaseAssessment]]) -> dict[str, float]:
    """The largest fundamental at each PCC over all cases, A."""
    amps: dict[str, float] = {}
    for states in parts:
        for point in states[0].points:
            flows = 0.0 if point.result.is_dead else point.result.fundamental_amps
            amps[point.point.pcc] = max(amps.get(point.point.pcc, 0.0), flows)
    return amps


def _judged(point: PointResult, amps: dict[str, float]) -> PointResult:
    demand = point.point.demand_amps or amps[point.point.pcc] or 1.0
    return replace(point, result=on_worst_row(replace(point.result, demand_amps=demand)))


def _doubts(case: LimitCase, problem: Problem, point: PointResult, amps: dict[str, float]) -> tuple[str, ...]:
    """Why a typed demand current can hardly be right."""
    typed, bus = point.point.demand_amps, point.point.pcc
    if typed is None or not amps[bus]:
        return ()
    network = case.network
    drives = (case.drive(drive) for drive in problem.drives)
    running = tuple(drive for drive in drives if drive is not None and drive.bus in network.buses)
    plant = StudiedPlant(network, running)
    return demand_of(plant, network, bus, typed, point.result.fundamental_amps, amps[bus]).doubts


def _amps(load: FilterLoad) -> float:
    return load.amps


def _stress(load: BankLoad) -> float:
    return load.judgement.binding.ratio
