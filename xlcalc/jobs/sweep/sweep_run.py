"""A schedule solved for many combinations of uncertain inputs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from xlcalc.core.spectrum import FloatArray
from xlcalc.jobs.journal import Journal
from xlcalc.jobs.pools import Lost, Pool
from xlcalc.jobs.sweep.sweep_model import DrawOutcome, SweepModel
from xlcalc.jobs.sweep.sweep_spec import Input, SweepSpec

OUTPUTS: Final = ("tdd pct", "thdv pct")


@dataclass(frozen=True)
class SweepTask:
    """Some combinations of a sweep, complete in itself so that it can be sent to another process.

    Parameters
    ----------
    inputs : tuple of Input
        What varies.
    model : SweepModel
        What the combinations start from.
    drawn : array, shape (samples, inputs)
        The combinations.
    """

    inputs: tuple[Input, ...]
    model: SweepModel
    drawn: FloatArray


@dataclass(frozen=True)
class Sample:
    """One combination.

    Parameters
    ----------
    values : tuple of float
        Drawn numbers, one per input.
    outcomes : tuple of DrawOutcome
        One per place that is judged.
    """

    values: tuple[float, ...]
    outcomes: tuple[DrawOutcome, ...]


def sweep(
    spec: SweepSpec,
    model: SweepModel,
    pool: Pool,
    progress: Callable[[int, int], None] | None = None,
    journal: Journal | None = None,
    resume: bool = False,
) -> pd.DataFrame:
    """Solve all combinations; a journal makes an interrupted run resumable.

    Parameters
    ----------
    spec : SweepSpec
        What varies.
    model : SweepModel
        The site or plant with its drives.
    pool : Pool
        Where the work is done; the result is the same everywhere.
    progress : callable, optional
        Called with the combinations solved and their number.
    journal : Journal, optional
        Takes every finished task; it is gone when all are done.
    resume : bool
        Pass over what the interrupted run of the journal solved; tasks that were lost are tried again.

    Returns
    -------
    DataFrame
        One row per combination, and place where there are several, in the order drawn: number of the
        combination, what tells the places apart, inputs under their labels, outputs, ``reason``.

    Raises
    ------
    InputError
        A grid is too large, or there is nothing to resume.
    """
    drawn = spec.drawn()
    width = model.samples_per_task
    starts = range(0, len(drawn), width)
    tasks = [SweepTask(spec.inputs, model, drawn[start : start + width]) for start in starts]
    known = journal.resume() if journal is not None and resume else {}
    parts: dict[int, Sequence[Sample]] = {}
    for number, task in enumerate(tasks):
        stored = _samples(known.get(str(number)), task)
        if stored is not None:
            parts[number] = stored
    known = {str(number): known[str(number)] for number in parts}
    open_ones = [number for number in range(len(tasks)) if number not in parts]
    complete = False
    if journal is not None:
        journal.start(known)
    try:
        for place, part in pool.run(solve_task, [tasks[number] for number in open_ones]):
            number = open_ones[place]
            if isinstance(part, Lost):
                part = _lost(tasks[number], part.reason)
            elif journal is not None:
                journal.add({"file": str(number), "samples": [asdict(sample) for sample in part]})
            parts[number] = part
            if progress is not None:
                progress(sum(len(p) for p in parts.values()), len(drawn))
        complete = True
    finally:
        if journal is not None:
            journal.close(finished=complete)
    samples = [sample for number in range(len(tasks)) for sample in parts[number]]
    return _table(spec, model, samples)


def solve_task(task: SweepTask) -> list[Sample]:
    """Solve the combinations of a task; never raises for what an input does to the study."""
    return [Sample(tuple(row), task.model.outcomes(task.inputs, row)) for row in task.drawn.tolist()]


def _samples(entry: Mapping[str, Any] | None, task: SweepTask) -> list[Sample] | None:
    """What the journal holds of a task; None where that is not what the task would have given."""
    try:
        samples = [
            Sample(tuple(s["values"]), tuple(_outcome(o) for o in s["outcomes"]))
            for s in (entry or {})["samples"]
        ]
    except (KeyError, TypeError, ValueError, AttributeError):
        return None
    whole = [list(sample.values) for sample in samples] == task.drawn.tolist()
    places = len(task.model.places)
    return samples if whole and all(len(sample.outcomes) == places for sample in samples) else None


def _outcome(stored: Mapping[str, Any]) -> DrawOutcome:
    figures, reason = stored["figures"], stored["reason"]
    if not isinstance(reason, str) or not all(
        isinstance(value, str | int | float | None) for value in figures.values()
    ):
        raise TypeError
    return DrawOutcome(figures, reason)


def _lost(task: SweepTask, reason: str) -> list[Sample]:
    nothing = tuple(DrawOutcome({}, reason) for _ in task.model.places)
    return [Sample(tuple(row), nothing) for row in task.drawn.tolist()]


def _table(spec: SweepSpec, model: SweepModel, samples: Sequence[Sample]) -> pd.DataFrame:
    labels = [given.label for given in spec.inputs]
    several = any(model.places)
    rows = [
        {
            **({"combination": number, **place} if several else {}),
            **dict(zip(labels, sample.values, strict=True)),
            **dict.fromkeys(OUTPUTS, np.nan),
            **outcome.figures,
            "reason": outcome.reason,
        }
        for number, sample in enumerate(samples, start=1)
        for place, outcome in zip(model.places, sample.outcomes, strict=True)
    ]
    table = pd.DataFrame(rows)
    return table[[*(c for c in table.columns if c != "reason"), "reason"]]
