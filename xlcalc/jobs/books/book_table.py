"""Results of many workbooks as a table, and on the terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pandas as pd
from rich.console import Console
from rich.table import Table
from rich.text import Text

from xlcalc.jobs.books.book_run import CLEAN, FAILED, WITH_ERRORS, BookResult


def book_table(results: Sequence[BookResult]) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {
                "workbook": r.file,
                "written": r.target if r.outcome != FAILED else "",
                "outcome": r.outcome,
                "verdict": r.verdict,
                "formulas": r.formulas,
                "errors": r.errors,
                "kept old value": r.refused,
                "calls of xlcalc functions": r.own_calls,
                "seconds": sum(r.seconds.values()),
                "reason": r.reason or " | ".join(r.issues),
            }
            for r in results
        ]
    )


def added(results: Sequence[BookResult]) -> dict[str, float]:
    seconds: dict[str, float] = {}
    for result in results:
        for stage, value in result.seconds.items():
            seconds[stage] = seconds.get(stage, 0.0) + value
    return seconds


_TEXTS = ("Workbook", "Outcome", "Verdict")


def book_printer(err: Console, step: Callable[[int, int], None]) -> Callable[[BookResult, int, int], None]:
    def report(result: BookResult, done: int, total: int) -> None:
        step(done, total)
        for issue in (*result.issues, *(f"Note: {note}." for note in result.notes)):
            err.print(f"{result.file}: {issue}", markup=False)
        if result.outcome == FAILED:
            err.print(f"failed: {result.reason}", markup=False)

    return report


def print_books(results: Sequence[BookResult], out: Console) -> None:
    table = Table(box=None, pad_edge=False)
    for heading in (*_TEXTS, "Formulas", "Errors", "Kept", "Calls", "Seconds"):
        table.add_column(heading, justify="left" if heading in _TEXTS else "right")
    for r in results:
        numbers = (r.formulas, r.errors, r.refused, r.own_calls)
        table.add_row(
            Text(r.file), r.outcome, Text(r.verdict), *map(str, numbers), f"{sum(r.seconds.values()):.2f}"
        )
    out.print(table)
    counts = {
        outcome: sum(r.outcome == outcome for r in results) for outcome in ("clean", WITH_ERRORS, FAILED)
    }
    plural = "s" if len(results) != 1 else ""
    out.print(
        f"{len(results)} workbook{plural}: {counts[CLEAN]} clean, {counts[WITH_ERRORS]} with errors, "
        f"{counts[FAILED]} failed"
    )
