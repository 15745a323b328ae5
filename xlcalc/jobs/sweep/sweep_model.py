"""What a sweep needs of a site or plant: its figures at every place that is judged, for drawn inputs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Protocol

import pandas as pd

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.jobs.schedule.site_results import judged
from xlcalc.jobs.schedule.site_run import ALIKE, kind_records
from xlcalc.jobs.sweep.sweep_spec import Input
from xlcalc.standards.supply_presets import IDEAL
from xlcalc.standards.verdict import FAIL, NO_VERDICT
from xlcalc.studies.pcc import PccOptions, PccResult
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solver import Solver
from xlcalc.studies.verdict.assessment import assess
from xlcalc.studies.verdict.quick_assessment import quick_assessment

FIGURES: Final = (
    *("tdd pct", "thdv pct", "limit tdd pct", "limit thdv pct", "isc/il", "margin pct of limit"),
    *("verdict", "binding"),
)
DOUBT: Final = "why no verdict"
"""Column of what takes the verdict away from a combination with a result."""
ESTIMATE: Final = "quick estimate only"
Figures = Mapping[str, Any]
Record = Mapping[str, Any]
Place = Mapping[str, str]


@dataclass(frozen=True)
class DrawOutcome:
    """What one combination gives at one place.

    Parameters
    ----------
    figures : mapping
        ``tdd pct``, ``thdv pct``, their limits, Isc/IL, margin, verdict and solution; empty without a
        result.
    reason : str
        Why there is no result.
    """

    figures: Figures
    reason: str = ""


class SweepModel(Protocol):
    """A site or plant that can be sent to another process."""

    @property
    def places(self) -> Sequence[Place]:
        """Keys of the places that are judged, such as case and PCC; one empty mapping for a site."""
        ...

    @property
    def records(self) -> Sequence[Record]:
        """Kinds of drives."""
        ...

    @property
    def samples_per_task(self) -> int:
        """Combinations that make a piece of work."""
        ...

    def outcomes(self, inputs: Sequence[Input], drawn: Sequence[float]) -> tuple[DrawOutcome, ...]:
        """One per place; never raises for what an input does to the study."""
        ...


def outcome_at(
    plant: StudiedPlant, options: PccOptions, solver: Solver, coupled: bool, largest_amps: float | None = None
) -> DrawOutcome:
    """A PCC of a plant with drawn inputs, its supply as it was drawn.

    Coupled it is judged in every state that the plant's description leaves open but for the supply, which is
    what a sweep varies; else it has the quick estimate, which may fail but not pass. There is one demand
    current for all cases, as `xlcalc.studies.verdict.assessment.assess` takes it. What nameplates leave open
    and the sweep does not vary is to be drawn already.
    """
    try:
        if not coupled:
            found = quick_assessment(plant, options, ESTIMATE, largest_amps=largest_amps, solver=solver)
            pcc = found.require_pcc()
            doubts = "; ".join(text for text in found.judgement.doubts if text != ESTIMATE)
            word = FAIL if pcc.judgement.word == FAIL and not doubts else NO_VERDICT
            return DrawOutcome(_figures(pcc, word, "quick estimate", doubts))
        found = assess(plant, options, supply=IDEAL, largest_amps=largest_amps, solver=solver)
        return DrawOutcome(_figures(found.require_pcc(), found.word, "coupled", found.reason))
    except (InputError, NoSolutionError) as problem:
        return DrawOutcome({}, str(problem))


def _figures(pcc: PccResult, verdict: str, solution: str, doubt: str) -> Figures:
    every = {**judged(pcc), "verdict": verdict}
    return {**{name: every[name] for name in FIGURES}, "solution": solution, DOUBT: doubt}


def solution_text(coupled: bool) -> str:
    """How the drives of a sweep are solved, in words."""
    return "coupled" if coupled else "uncoupled, every drive alone on its bus: a quick estimate"


def drive_records(inputs: Sequence[Input], rows: pd.DataFrame) -> tuple[Record, ...]:
    """Kinds of drives, with a kind of its own for every drive that varies on its own."""
    own = {given.tag for given in inputs if given.section == "drives" and given.tag}
    tagged = rows.assign(**{"own tag": [tag if tag in own else "" for tag in rows["tag"]]})
    kinds = tagged.groupby([*ALIKE, "own tag"], sort=False, dropna=False)
    return tuple(kind_records(kinds))


def varied_drives(
    records: Sequence[Record], inputs: Sequence[Input], drawn: Sequence[float]
) -> list[dict[str, Any]]:
    """The kinds of drives with drawn values; raises `InputError` for a value that does not fit."""
    varied = [dict(record) for record in records]
    own = {record["own tag"]: [record] for record in varied}
    for given, number in zip(inputs, drawn, strict=True):
        if given.section == "drives":
            for record in own[given.tag] if given.tag else varied:
                record[given.field.name] = given.value(number, record[given.field.name])
    return varied
