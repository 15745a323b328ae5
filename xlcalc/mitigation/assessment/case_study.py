"""A mix in one case of the plant: drives alone on their bus or coupled by the network."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from xlcalc.core.errors import NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray, Spectrum
from xlcalc.equipment.capacitor import CapacitorRating, capacitor_stress, judge_capacitor
from xlcalc.mitigation.assessment.causes import Causes, UnknownAngle
from xlcalc.mitigation.assessment.coupled import ActiveFilters, injected, left_of, solve_with_sources
from xlcalc.mitigation.assessment.mix_assessment import BankLoad, FilterLoad, PointResult
from xlcalc.mitigation.milp.currents import current_arriving, fitted
from xlcalc.mitigation.mix import Mix
from xlcalc.mitigation.offer.drive_options import ActiveFilter, Bank
from xlcalc.mitigation.offer.physics import SourceCurrent
from xlcalc.mitigation.problem import LimitCase, Problem
from xlcalc.network.nodal import NodalNetwork
from xlcalc.studies.drives import solve_drives
from xlcalc.studies.pcc import PccOptions, PccResult
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import PlantSolution, solve_injected
from xlcalc.studies.sources import ORDERS, LoadCurrent, lengthened, spectrum_currents, volts_taken
from xlcalc.studies.verdict.remarks import drive_doubts, generator_doubts


@dataclass(frozen=True, eq=False)
class CaseAssessment:
    """One case in one state: its PCCs, with 1 A for a blank demand current, its filters and its banks.

    `doubts` say why no verdict may rest on its coupled solution.
    """

    points: list[PointResult]
    filters: list[FilterLoad]
    banks: list[BankLoad]
    doubts: list[str]


@dataclass(frozen=True, eq=False)
class _Solved:
    """One case solved: results by PCC, the load of each filter, and voltages for banks."""

    results: list[tuple[PccOptions, PccResult]]
    through: dict[str, float]
    solution: PlantSolution | None
    injected: list[LoadCurrent]


def study_case(case: LimitCase, problem: Problem, mix: Mix, coupled: bool) -> CaseAssessment:
    """A mix in one case and state.

    Parameters
    ----------
    case : LimitCase
    problem : Problem
    mix : Mix
    coupled : bool
        Solve drives and network together; otherwise every drive alone on its bus.

    Raises
    ------
    NoSolutionError
        As `xlcalc.mitigation.assessment.assess.assess_mix`.
    """
    places = {place.bus: place for place in problem.filter_places}
    active_filters = {
        bus: (places[bus], choice) for bus, choice in mix.filters.items() if bus in case.network.buses
    }
    try:
        return _case(case, problem, mix, active_filters, coupled)
    except NoSolutionError as reason:
        raise NoSolutionError(f"case {case.name}: {reason}") from None


def _case(
    case: LimitCase, problem: Problem, mix: Mix, active_filters: ActiveFilters, coupled: bool
) -> CaseAssessment:
    engine: list[ScheduledDrive] = []
    sources: list[SourceCurrent] = []
    for drive in problem.drives:
        runs = case.drive(drive)
        if runs is None:
            continue
        option = mix.options[drive.tag]
        ready = fitted(runs, option)
        if ready is None:
            sources.append(option.physics.source(case.network, runs))
        else:
            engine.append(ready)
    losses = [_loss_current(case.network, bus, choice) for bus, (_, choice) in active_filters.items()]
    fixed = [source.load for source in sources] + [load for load in losses if load is not None]
    if coupled:
        coupled_case = solve_with_sources(case.network, tuple(engine), tuple(fixed), active_filters)
        results = [(point, coupled_case.solution.pcc(_flowing(point))) for point in case.points]
        solved = _Solved(results, dict(coupled_case.compensated), coupled_case.solution, [])
    else:
        solved = _alone(case, [*_each_solved(case.network, engine), *fixed], active_filters)
    unknown_angle = _of_unknown_angle(sources, active_filters)
    known = solved.solution if coupled else None
    causes = (
        None if known is None else Causes(case.network, known.loads, active_filters, tuple(unknown_angle))
    )
    found = [
        PointResult(
            case=case.name,
            point=point,
            result=_with_unknown_angle(result, case.network, unknown_angle),
            margin_pct=problem.margin_at(point.pcc),
            causes=causes,
        )
        for point, result in solved.results
    ]
    needs = [FilterLoad(case.name, bus, active_filters[bus][1], amps) for bus, amps in solved.through.items()]
    solution = solved.solution
    doubts = [] if solution is None else [*drive_doubts(solution), *generator_doubts(solution)]
    return CaseAssessment(found, needs, _bank_loads(case, problem, mix.bank, solved, unknown_angle), doubts)


def _bank_loads(
    case: LimitCase,
    problem: Problem,
    bank: Bank | None,
    solved: _Solved,
    unknown_angle: list[UnknownAngle],
) -> list[BankLoad]:
    if bank is None or solved.solution is None:
        return []
    network = solved.solution.network
    found = []
    for element in bank.elements:
        if element.bus not in network.buses:
            continue
        flow = solved.solution.flow
        volts = flow.bus_volts(element.bus)
        if unknown := spectrum_currents(flow, without_angle=True):
            volts = lengthened(volts, volts_taken(unknown, network, element.bus))
        for load in solved.injected:
            volts = volts - load.voltage_at(network, element.bus)
        extra = np.zeros(MAX_ORDER)
        for _, bus, magnitudes in unknown_angle:
            extra += magnitudes * np.abs(network.transfer_impedance(element.bus, bus, ORDERS))
        across = _longer(volts, extra) * element.capacitor_share(ORDERS)
        plate = CapacitorRating(element.rated_volts, element.rated_var)
        worst = max(
            (
                judge_capacitor(
                    capacitor_stress(plate, Spectrum(math.sqrt(3.0) * phase)), problem.capacitor_standard
                )
                for phase in across
            ),
            key=lambda judgement: judgement.binding.ratio,
        )
        found.append(BankLoad(case.name, element.name, worst))
    return found


def _flowing(point: PccOptions) -> PccOptions:
    """A demand current that is always there; the right one follows from all cases together."""
    return replace(point, demand_amps=point.demand_amps or 1.0)


def _each_solved(network: NodalNetwork, drives: list[ScheduledDrive]) -> list[LoadCurrent]:
    loads = []
    for result in solve_drives(StudiedPlant(network, tuple(drives))):
        if result.load is None or not result.stable or result.reason:
            raise NoSolutionError(f"drive {result.drive.tag}: {result.reason}")
        loads.append(result.load)
    return loads


def _alone(case: LimitCase, loads: list[LoadCurrent], active_filters: ActiveFilters) -> _Solved:
    """Drives solved one by one, added up; filters take their part of what the drives draw."""
    network = case.network
    solution = solve_injected(network, tuple(loads), source_angles=True)
    through = _through(network, solution.loads, active_filters)
    injections = injected(network, solution.loads, active_filters)
    if active_filters:
        left = tuple(left_of(load, active_filters) for load in loads)
        solution = solve_injected(network, left, source_angles=True)
    results = []
    for point in case.points:
        result = solution.pcc(_flowing(point))
        for load in injections:
            result = replace(
                result,
                currents=result.currents + load.at(network, point.pcc),
                harmonic_volts=result.harmonic_volts - load.voltage_at(network, point.pcc),
            )
        results.append((point, result))
    return _Solved(results, through, solution, injections)


def _through(
    network: NodalNetwork, loads: Sequence[LoadCurrent], active_filters: ActiveFilters
) -> dict[str, float]:
    """How much of the rating of each filter all loads take, A."""
    found = {}
    for bus, (place, choice) in active_filters.items():
        none: ComplexArray = np.zeros((3, MAX_ORDER), np.complex128)
        covered = (current_arriving(network, load, bus) for load in loads if load.bus in place.covered)
        found[bus] = float(np.linalg.norm(choice.taken * sum(covered, none), axis=1).max())
    return found


def _loss_current(network: NodalNetwork, bus: str, item: ActiveFilter) -> LoadCurrent | None:
    if not item.loss_watts:
        return None
    amps = item.loss_watts / (math.sqrt(3.0) * network.volts(bus))
    return LoadCurrent.balanced(f"losses of {item.name}", bus, Spectrum.from_orders([(1, amps)]))


def _of_unknown_angle(sources: list[SourceCurrent], active_filters: ActiveFilters) -> list[UnknownAngle]:
    """Magnitudes of unknown angle that pass any filter."""
    found = []
    for source in sources:
        if source.unknown_angle.any():
            taken = np.zeros(MAX_ORDER)
            for place, choice in active_filters.values():
                if source.load.bus in place.covered:
                    taken = choice.taken
            left = source.load.quantity * (1.0 - taken) * source.unknown_angle
            found.append(UnknownAngle(source.load.tag, source.load.bus, left))
    return found


def _with_unknown_angle(
    result: PccResult, network: NodalNetwork, unknown_angle: list[UnknownAngle]
) -> PccResult:
    """Currents of unknown angle added with their magnitude to what flows already, which is the worst case."""
    amps = np.zeros(MAX_ORDER)
    volts = np.zeros(MAX_ORDER)
    for _, bus, magnitudes in unknown_angle:
        amps += magnitudes * np.abs(network.current_share(result.bus, bus, ORDERS))
        volts += magnitudes * np.abs(network.transfer_impedance(result.bus, bus, ORDERS))
    if not unknown_angle:
        return result
    return replace(
        result,
        currents=_longer(result.currents, amps),
        harmonic_volts=_longer(result.harmonic_volts, volts),
    )


def _longer(phasors: ComplexArray, by: FloatArray) -> ComplexArray:
    size = np.abs(phasors)
    unit = np.where(size > 0.0, phasors / np.where(size > 0.0, size, 1.0), 1.0)
    grown: ComplexArray = phasors + unit * by
    grown[:, 0] = phasors[:, 0]
    return grown
