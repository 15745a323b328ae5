"""What a sweep needs of a site or plant: its figures at every place that is judged, for drawn inputs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Protocol

import pandas as pd

from xlcalc.bulk.site_results import judged
from xlcalc.bulk.site_run import ALIKE, kind_records
from xlcalc.bulk.sweep_spec import Input
from xlcalc.study.pcc import PccResult

FIGURES: Final = (
    *("tdd pct", "thdv pct", "limit tdd pct", "limit thdv pct", "isc/il", "margin pct of limit"),
    *("verdict", "binding"),
)
Figures = Mapping[str, Any]
Record = Mapping[str, Any]
Place = Mapping[str, str]


@dataclass(frozen=True)
class Outcome:
    """What one combination gives at one place.

    Parameters
    ----------
    figures : mapping
        ``tdd pct``, ``thdv pct``, their limits, Isc/IL, margin and verdict; empty without a result.
    reason : str
        Why there is no result.
    """

    figures: Figures
    reason: str = ""


class SweepModel(Protocol):
    """A site or plant that can be sent to another process."""

    @property
    def places(self) -> Sequence[Place]:
        """What tells the places apart that are judged, such as case and PCC; one blank mapping for a site."""
        ...

    @property
    def samples_per_task(self) -> int:
        """Combinations that make a piece of work."""
        ...

    def outcomes(self, inputs: Sequence[Input], drawn: Sequence[float]) -> tuple[Outcome, ...]:
        """One per place; never raises for what an input does to the study."""
        ...


def figures_of(pcc: PccResult) -> Figures:
    """Figures of a PCC."""
    every = {**judged(pcc), "verdict": pcc.judgement.word}
    return {name: every[name] for name in FIGURES}


def drive_records(inputs: Sequence[Input], rows: pd.DataFrame) -> tuple[Record, ...]:
    """Kinds of drives, with a kind of its own for every drive that varies on its own."""
    own = {given.tag for given in inputs if given.section == "drives" and given.tag}
    tagged = rows.assign(**{"own tag": [tag if tag in own else "" for tag in rows["tag"]]})
    kinds = tagged.groupby([*ALIKE, "own tag"], sort=False, dropna=False)
    return tuple(kind_records(kinds["quantity"].sum().reset_index()))


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
