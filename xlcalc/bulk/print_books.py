"""Results of many workbooks on the terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from xlcalc.bulk.book_run import CLEAN, FAILED, WITH_ERRORS, BookResult

_TEXTS = ("Workbook", "Outcome", "Verdict")


def book_printer(err: Console, step: Callable[[int, int], None]) -> Callable[[BookResult, int, int], None]:
    def report(result: BookResult, done: int, total: int) -> None:
        step(done, total)
        for issue in result.issues:
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
