"""One workbook recalculated with all worksheet functions, with the time spent in them."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from xlcalc.core.progress import Progress
from xlcalc.jobs.books.old_books import refuse_old_capacitor
from xlcalc.recalc.protocol import Witness
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.report import RecalculationReport
from xlcalc.schema.values import Value
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.registry import WorksheetFunction


class TimedFunction:
    """A worksheet function that counts the seconds spent in it."""

    def __init__(self, function: WorksheetFunction, spent: list[float]) -> None:
        self.name, self.min_args, self.max_args = function.name, function.min_args, function.max_args
        self.volatile, self.shape = function.volatile, function.shape
        self._function, self._spent = function, spent

    def __call__(self, raw: Sequence[Value]) -> Value:
        start = time.perf_counter()
        result = self._function(raw)
        self._spent.append(time.perf_counter() - start)
        return result


class _Timed(Mapping[str, TimedFunction]):
    """The worksheet functions, each made one that counts when it is asked for."""

    def __init__(self) -> None:
        self.spent: list[float] = []

    def __getitem__(self, name: str) -> TimedFunction:
        return TimedFunction(FUNCTIONS[name], self.spent)

    def __iter__(self) -> Iterator[str]:
        return iter(FUNCTIONS)

    def __len__(self) -> int:
        return len(FUNCTIONS)


def recalculate_timed(
    source: Path,
    target: Path | None,
    *,
    progress: Progress | None = None,
    reasons_sheet: bool = False,
    witness: Witness | None = None,
    constants: bool = False,
) -> tuple[RecalculationReport, dict[str, float]]:
    """As `recalculate` with all worksheet functions, and seconds by stage, ``solve`` separately.

    Raises
    ------
    InputError
        A workbook of an earlier version holds an input that no function would see.
    WorkbookFileError
        As `recalculate`.
    """
    refuse_old_capacitor(source)
    timed = _Timed()
    report = recalculate(
        source,
        target,
        timed,
        progress=progress,
        reasons_sheet=reasons_sheet,
        witness=witness,
        constants=constants,
    )
    seconds = dict(report.seconds)
    solving = sum(timed.spent)
    stages: dict[str, float] = {}
    for stage, value in seconds.items():
        stages[stage] = max(0.0, value - solving) if stage == "evaluate" else value
        if stage == "evaluate":
            stages["solve"] = solving
    return report, stages
