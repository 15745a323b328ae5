"""Kinds of drives of a schedule, coupled and judged, or estimated without a verdict."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from xlcalc.core.errors import NoSolutionError
from xlcalc.studies.drives import DriveResult
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solution import PlantSolution, uncoupled_from
from xlcalc.studies.solver import Solver
from xlcalc.studies.verdict.assessed import Assessment
from xlcalc.studies.verdict.assessment import assess
from xlcalc.studies.verdict.quick_assessment import quick_assessment

Coupling = Callable[[str, int], None]


@dataclass(frozen=True)
class AssessedKinds:
    """What the kinds of drives of one state of a plant give.

    Parameters
    ----------
    results : tuple of DriveResult
        One per kind as it runs in the plant.
    alone : tuple of DriveResult
        The same kinds, each as if alone on its bus.
    solution : PlantSolution or None
        Of the plant as it was given; None where there is none.
    assessments : mapping of str to Assessment
        By PCC.
    coupled : bool
        Whether the verdicts rest on the coupled solution; otherwise there is the quick estimate only.
    """

    results: tuple[DriveResult, ...]
    alone: tuple[DriveResult, ...]
    solution: PlantSolution | None
    assessments: Mapping[str, Assessment]
    coupled: bool


@dataclass(frozen=True, eq=False)
class Kinds:
    """The kinds of drives of one state of a plant, each solved alone.

    Parameters
    ----------
    plant : StudiedPlant
    alone : tuple of DriveResult
        In the order of its drives.
    supply : str
        As `xlcalc.studies.verdict.assessment.assess`.
    solver : Solver
    largest_amps : mapping of str to float or None
        By PCC, as `xlcalc.studies.verdict.assessment.assess`.
    """

    plant: StudiedPlant
    alone: tuple[DriveResult, ...]
    supply: str
    solver: Solver
    largest_amps: Mapping[str, float | None] = field(default_factory=dict)

    @property
    def stable(self) -> StudiedPlant:
        """The plant without the kinds that have no stable state of their own."""
        return replace(self.plant, drives=tuple(r.drive for r in self.alone if r.stable))

    def coupled(self, points: Sequence[PccOptions]) -> AssessedKinds:
        """Coupled; where kinds without a stable state leave no solution, without them."""
        assessments = self._assessed(self.plant, points)
        solution = _as_given(assessments)
        unstable = [result for result in self.alone if not result.stable]
        plant = self.plant
        if solution is None and unstable:
            plant = self.stable
            why = "; ".join(f"drive {result.drive.tag}: {result.reason}" for result in unstable)
            assessments = {
                bus: replace(found, judgement=found.judgement.doubted(why))
                for bus, found in self._assessed(plant, points).items()
            }
            solution = _as_given(assessments)
        running = dict(zip((d.tag for d in plant.drives), solution.drives, strict=True)) if solution else {}
        results = tuple(running.get(result.drive.tag, result) for result in self.alone)
        return AssessedKinds(results, self.alone, solution, assessments, True)

    def quick(self, points: Sequence[PccOptions], doubt: str) -> AssessedKinds:
        """The quick estimate of the kinds that are stable alone; `doubt` is why it gives no verdict."""
        plant = self.stable
        solution = None
        with contextlib.suppress(NoSolutionError):
            solution = uncoupled_from(plant, tuple(result for result in self.alone if result.stable))
            self.solver.know(plant, quick=solution)
        assessments = {
            point.pcc: quick_assessment(
                plant, point, doubt, largest_amps=self.largest_amps.get(point.pcc), solver=self.solver
            )
            for point in points
        }
        return AssessedKinds(self.alone, self.alone, solution, assessments, False)

    def _assessed(self, plant: StudiedPlant, points: Sequence[PccOptions]) -> dict[str, Assessment]:
        return {
            point.pcc: assess(
                plant,
                point,
                supply=self.supply,
                largest_amps=self.largest_amps.get(point.pcc),
                solver=self.solver,
            )
            for point in points
        }


def counting(coupling: Coupling | None, name: str, kinds: int) -> Callable[[int], None] | None:
    """Progress of a solver in kinds of drives; it counts solutions of all of them, state by state."""
    if coupling is None:
        return None
    done = 0

    def solved(_: int) -> None:
        nonlocal done
        done += kinds
        coupling(name, done)

    return solved


def _as_given(assessments: Mapping[str, Assessment]) -> PlantSolution | None:
    """The solution of the plant as it was given, which all PCCs share."""
    return next((found.states[0].solution for found in assessments.values() if found.states), None)
