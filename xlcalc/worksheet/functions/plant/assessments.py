"""Plants solved and judged once for all functions that ask for them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Final

from xlcalc.core.errors import NoSolutionError
from xlcalc.studies.pcc import PccOptions, PccResult
from xlcalc.studies.plant import StudiedPlant, without_mitigation
from xlcalc.studies.solution import PlantSolution
from xlcalc.studies.solver import Solver
from xlcalc.studies.verdict.assessed import Assessment
from xlcalc.studies.verdict.assessment import assess
from xlcalc.studies.verdict.quick_assessment import quick_assessment

COUPLED: Final = "coupled"
UNCOUPLED_DOUBT: Final = "quick estimate only, because the setting 'solution' is uncoupled"


@lru_cache(maxsize=1)
def solver() -> Solver:
    """Remembers what has been solved for one function while the others ask for it."""
    return Solver()


def solution_of(
    plant: StudiedPlant, settings: Mapping[str, Any], near: StudiedPlant | None = None
) -> PlantSolution:
    """The plant solved by the setting `solution`, if coupled from a similar one where that is given."""
    return solver().coupled(plant, near) if settings["solution"] == COUPLED else solver().quick(plant)


def assessment_of(plant: StudiedPlant, options: PccOptions, settings: Mapping[str, Any]) -> Assessment:
    """The plant judged by the settings; without a verdict where they select the quick estimate."""
    largest = settings["demand amps estimated"] or None
    return _assessed(plant, options, settings["solution"] == COUPLED, settings["supply"] or "", largest)


@lru_cache(maxsize=48)
def _assessed(
    plant: StudiedPlant, options: PccOptions, coupled: bool, supply: str, largest_amps: float | None
) -> Assessment:
    if coupled:
        return assess(plant, options, supply=supply, largest_amps=largest_amps, solver=solver())
    return quick_assessment(plant, options, UNCOUPLED_DOUBT, largest_amps=largest_amps, solver=solver())


@lru_cache(maxsize=48)
def bare_of(plant: StudiedPlant, options: PccOptions) -> PccResult | None:
    """The PCC of the plant without line reactors, DC chokes and filters, pulse numbers as they are.

    Coupled, on the supply as given. None where there is nothing to take away, or no solution.
    """
    bare = without_mitigation(plant)
    if bare == plant:
        return None
    try:
        return solver().coupled(bare).pcc(options)
    except NoSolutionError:
        return None


def clear_cache() -> None:
    """Forget all of them, so that a benchmark solves them again."""
    solver().forget()
    _assessed.cache_clear()
    bare_of.cache_clear()
