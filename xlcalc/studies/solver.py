"""Solves plants, each once for as long as it is remembered."""

from __future__ import annotations

import contextlib
from collections import OrderedDict
from collections.abc import Callable, Sequence
from typing import Final

from xlcalc.core.errors import NoSolutionError
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solution import PlantSolution, solve_coupled, solve_uncoupled_many

REMEMBERED: Final = 64

Outcome = PlantSolution | NoSolutionError


class Solver:
    """Solutions of plants; equal plants are solved once.

    Parameters
    ----------
    progress : callable, optional
        Called after each solution of all drives of a plant that is being coupled, with their number so far.
    remembered : int
        Solutions of each kind that are kept.
    """

    def __init__(self, progress: Callable[[int], None] | None = None, remembered: int = REMEMBERED) -> None:
        self._progress = progress
        self._remembered = remembered
        self._coupled: OrderedDict[StudiedPlant, Outcome] = OrderedDict()
        self._quick: OrderedDict[StudiedPlant, Outcome] = OrderedDict()

    def coupled(self, plant: StudiedPlant, near: StudiedPlant | None = None) -> PlantSolution:
        """As `xlcalc.studies.solution.solve_coupled`; `near` is solved first."""
        if plant not in self._coupled:
            start = None
            if near is not None and near != plant:
                with contextlib.suppress(NoSolutionError):
                    start = self.coupled(near)
            outcome = _outcome(lambda: solve_coupled(plant, progress=self._progress, near=start))
            self._keep(self._coupled, plant, outcome)
        return _result(self._coupled[plant])

    def quick(self, plant: StudiedPlant) -> PlantSolution:
        """As `xlcalc.studies.solution.solve_uncoupled`."""
        (outcome,) = self.quick_many([plant])
        return _result(outcome)

    def quick_many(self, plants: Sequence[StudiedPlant]) -> list[Outcome]:
        """The same for many at once; a failure takes its own place only."""
        found = {plant: self._quick[plant] for plant in plants if plant in self._quick}
        new = [plant for plant in dict.fromkeys(plants) if plant not in found]
        for plant, outcome in zip(new, solve_uncoupled_many(new), strict=True):
            found[plant] = outcome
            self._keep(self._quick, plant, outcome)
        return [found[plant] for plant in plants]

    def know(
        self, plant: StudiedPlant, *, coupled: Outcome | None = None, quick: Outcome | None = None
    ) -> None:
        """Remember a solution that somebody else made."""
        if coupled is not None:
            self._keep(self._coupled, plant, coupled)
        if quick is not None:
            self._keep(self._quick, plant, quick)

    def forget(self) -> None:
        """Solve everything anew."""
        self._coupled.clear()
        self._quick.clear()

    def _keep(self, kept: OrderedDict[StudiedPlant, Outcome], plant: StudiedPlant, outcome: Outcome) -> None:
        kept[plant] = outcome
        while len(kept) > self._remembered:
            kept.popitem(last=False)


def _outcome(solve: Callable[[], PlantSolution]) -> Outcome:
    try:
        return solve()
    except NoSolutionError as problem:
        return problem


def _result(outcome: Outcome) -> PlantSolution:
    if isinstance(outcome, NoSolutionError):
        raise outcome
    return outcome
