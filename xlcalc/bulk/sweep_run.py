"""A schedule solved for many combinations of uncertain inputs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from xlcalc.bulk.journal import Journal
from xlcalc.bulk.pools import Lost, Pool
from xlcalc.bulk.site_file import Site
from xlcalc.bulk.site_run import ALIKE, kind_records
from xlcalc.bulk.sweep_spec import SweepSpec
from xlcalc.errors import InputError, NoSolutionError
from xlcalc.spectrum import FloatArray
from xlcalc.study.run import run_study
from xlcalc.worksheet.functions.plant import options_of, plant_of

OUTPUTS: Final = ("tdd pct", "thdv pct")
TASK_SAMPLES: Final = 10
Record = Mapping[str, Any]


@dataclass(frozen=True)
class SweepTask:
    """Some combinations of a sweep, complete in itself so that it can be sent to another process.

    Parameters
    ----------
    spec : SweepSpec
        What varies.
    site : Site
        The site that the combinations start from.
    records : tuple of mapping
        Kinds of drives; ``tags`` lists the tags that vary on their own.
    drawn : array, shape (samples, inputs)
        The combinations.
    """

    spec: SweepSpec
    site: Site
    records: tuple[Record, ...]
    drawn: FloatArray


@dataclass(frozen=True)
class Sample:
    """One combination.

    Parameters
    ----------
    values : tuple of float
        Drawn numbers, one per input.
    outputs : mapping
        ``tdd pct``, ``thdv pct``, their limits, Isc/IL, margin and verdict; empty without a result.
    reason : str
        Why there is no result.
    """

    values: tuple[float, ...]
    outputs: Record
    reason: str = ""


def sweep(
    spec: SweepSpec,
    site: Site,
    rows: pd.DataFrame,
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
    site : Site
        The site.
    rows : DataFrame
        Accepted rows of the schedule.
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
        One row per combination in the order drawn: inputs under their labels, outputs, ``reason``.

    Raises
    ------
    InputError
        A grid is too large, or there is nothing to resume.
    """
    drawn = spec.drawn()
    records = _records(spec, rows)
    starts = range(0, len(drawn), TASK_SAMPLES)
    tasks = [SweepTask(spec, site, records, drawn[start : start + TASK_SAMPLES]) for start in starts]
    known = journal.resume() if journal is not None and resume else {}
    parts: dict[int, Sequence[Sample]] = {int(key): _samples(entry) for key, entry in known.items()}
    open_ones = [number for number in range(len(tasks)) if number not in parts]
    complete = False
    if journal is not None:
        journal.start(known)
    try:
        for place, part in pool.run(solve_task, [tasks[number] for number in open_ones]):
            number = open_ones[place]
            if isinstance(part, Lost):
                part = [Sample(tuple(row), {}, part.reason) for row in tasks[number].drawn.tolist()]
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
    return _table(spec, samples)


def _samples(entry: Record) -> list[Sample]:
    return [Sample(tuple(s["values"]), s["outputs"], s["reason"]) for s in entry["samples"]]


def solve_task(task: SweepTask) -> list[Sample]:
    """Solve the combinations of a task; never raises for what an input does to the study."""
    return [_sample(task, tuple(row)) for row in task.drawn.tolist()]


def _sample(task: SweepTask, values: tuple[float, ...]) -> Sample:
    site, settings = dict(task.site.site), dict(task.site.settings)
    records = [dict(record) for record in task.records]
    try:
        for given, drawn in zip(task.spec.inputs, values, strict=True):
            name = given.field.name
            if given.section == "drives":
                for record in records:
                    if given.tag in ("", record["own tag"]):
                        record[name] = given.value(drawn, record[name])
            else:
                target = site if given.section == "site" else settings
                target[name] = given.value(drawn, target[name])
        study = run_study(plant_of(records, site, settings), options_of(site, settings))
        return Sample(values, _outputs(study.require_pcc()))
    except (InputError, NoSolutionError) as problem:
        return Sample(values, {}, str(problem))


def _outputs(pcc: Any) -> dict[str, Any]:
    judgement = pcc.judgement
    tdd, thdv = judgement.verdicts[:2]
    return {
        "tdd pct": tdd.value,
        "thdv pct": thdv.value,
        "limit tdd pct": tdd.limit,
        "limit thdv pct": thdv.limit,
        "isc/il": pcc.isc_il,
        "margin pct of limit": 100.0 * (1.0 - judgement.binding.ratio),
        "verdict": judgement.word,
        "binding": judgement.binding.name,
    }


def _records(spec: SweepSpec, rows: pd.DataFrame) -> tuple[Record, ...]:
    """Kinds of drives, with a kind of its own for every drive that varies on its own."""
    own = {given.tag for given in spec.inputs if given.tag}
    tagged = rows.assign(**{"own tag": [tag if tag in own else "" for tag in rows["tag"]]})
    kinds = tagged.groupby([*ALIKE, "own tag"], sort=False, dropna=False)
    return tuple(kind_records(kinds["quantity"].sum().reset_index()))


def _table(spec: SweepSpec, samples: Sequence[Sample]) -> pd.DataFrame:
    values = pd.DataFrame([s.values for s in samples], columns=[i.label for i in spec.inputs])
    outputs = pd.DataFrame([dict(sample.outputs) for sample in samples])
    for name in OUTPUTS:
        if name not in outputs:
            outputs[name] = np.nan
    return pd.concat([values, outputs], axis=1).assign(reason=[sample.reason for sample in samples])
