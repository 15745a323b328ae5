"""The quick estimate of a plant as an assessment: figures, but no verdict."""

from __future__ import annotations

from dataclasses import replace

from xlcalc.core.errors import NoSolutionError
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solver import Solver
from xlcalc.studies.verdict.assessed import (
    GIVEN_SUPPLY,
    Assessment,
    JudgedState,
    dead_text,
    with_notes,
    without_result,
    worst_of,
)
from xlcalc.studies.verdict.demand import demand_of
from xlcalc.studies.verdict.load_ends import AS_GIVEN, supply_levels


def quick_assessment(
    plant: StudiedPlant,
    options: PccOptions,
    doubt: str,
    *,
    largest_amps: float | None = None,
    solver: Solver | None = None,
) -> Assessment:
    """Figures of the quick estimate, every drive as if alone on its bus.

    Parameters
    ----------
    plant, options, largest_amps, solver
        As `xlcalc.studies.verdict.assessment.assess`.
    doubt : str
        Why the coupled solution does not judge, a plain sentence.

    Raises
    ------
    InputError
        No such bus, or another kind of network.
    """
    return with_notes(_assessment(plant, options, doubt, largest_amps, solver or Solver()), plant)


def _assessment(
    plant: StudiedPlant, options: PccOptions, doubt: str, largest_amps: float | None, solver: Solver
) -> Assessment:
    network = plant.network
    network.index(options.pcc)
    levels = supply_levels(network)
    try:
        solutions = {name: solver.quick(replace(plant, network=level)) for name, level in levels.items()}
        found = {name: each.pcc(replace(options, demand_amps=1.0)) for name, each in solutions.items()}
    except NoSolutionError as problem:
        return without_result(options, network, str(problem))
    flowing = found[AS_GIVEN]
    if flowing.is_dead:
        return without_result(options, network, dead_text(flowing), fundamental_amps=0.0)
    demand = demand_of(
        plant, network, options.pcc, options.demand_amps, flowing.fundamental_amps, largest_amps
    )
    states = tuple(
        JudgedState(
            supply=GIVEN_SUPPLY,
            loads=name,
            solution=solutions[name],
            pcc=replace(pcc, demand_amps=demand.amps),
        )
        for name, pcc in found.items()
    )
    counts = worst_of(states)
    assert counts is not None
    quick = counts.pcc
    assert quick is not None
    return Assessment(
        bus=options.pcc,
        judgement=quick.judgement.doubted(doubt, *demand.doubts),
        pcc=quick,
        quick=quick,
        states=states,
        demand=demand,
        fundamental_amps=flowing.fundamental_amps,
        remarks=(f"greatest and least supply tried: {counts.name} counts",) if len(states) > 1 else (),
    )
