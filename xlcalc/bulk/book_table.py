"""The results of many workbooks as a table."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from xlcalc.bulk.book_run import FAILED, BookResult


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
