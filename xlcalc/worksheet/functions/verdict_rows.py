"""A judgement as rows for a sheet, the same for every standard."""

from __future__ import annotations

from xlcalc.standards.verdict import Judgement, Verdict
from xlcalc.worksheet.registry import Shape
from xlcalc.worksheet.values import Grid, Scalar

VERDICT_COLUMNS = (
    "quantity",
    "order",
    "value",
    "limit",
    "margin",
    "verdict",
    "clause",
    "edition",
    "verified",
)
VERDICT_SHAPE = Shape(None, VERDICT_COLUMNS)
VERDICT_GIVES = (
    "one row per limit: quantity, order (blank for a total), value, limit, margin, verdict, clause, edition, "
    "how far the limit was verified"
)
VERDICT_NOTE = (
    "PASS, FAIL or NO VERDICT. Limits whose last column says 'one source' or 'from memory' must be compared "
    "with a licensed copy."
)


def verdict_rows(judgement: Judgement) -> Grid:
    """One row per verdict in the columns of `VERDICT_COLUMNS`."""
    return [_row(verdict) for verdict in judgement.verdicts]


def _row(verdict: Verdict) -> list[Scalar]:
    unit = "" if verdict.unit == "%" else f", {verdict.unit}"
    return [
        verdict.quantity + unit,
        "" if verdict.order is None else float(verdict.order),
        verdict.value,
        verdict.limit,
        verdict.margin,
        verdict.word,
        verdict.origin.text,
        verdict.edition,
        verdict.verified,
    ]
