"""A judgement as rows for a sheet, the same for every standard."""

from __future__ import annotations

import math

from xlcalc.core.orders_given import OrdersNotListed
from xlcalc.schema.kinds import Choice
from xlcalc.schema.values import Grid, Scalar
from xlcalc.standards.verdict import Judgement, Verdict
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.registry import Shape

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
    "one row per limit, the last the overall verdict: quantity, order, value, limit, margin, verdict, clause "
    "or reason, edition, how far verified"
)

VERDICT_NOTE = (
    "PASS, FAIL or NO VERDICT; the overall verdict is the last row, INDEX(table,ROWS(table),6), with its "
    "reason in the column clause. The order of a total is blank. Limits whose last column says 'one source' "
    "or 'from memory' must be compared with a licensed copy."
)

MISSING_NOTE = (
    "An order that the spectrum does not list, or lists without a magnitude, is NOT GIVEN, and a total that "
    "lacks orders may FAIL but not PASS ('at least'): the overall verdict is then FAIL or NO VERDICT. Where "
    'all orders that are not listed are known to be zero, give "zero" for orders_not_listed.'
)

ORDERS_NOT_LISTED = Argument(
    "orders_not_listed",
    Choice(tuple(OrdersNotListed)),
    "What orders stand for that the spectrum does not list or lists without a magnitude",
    default=OrdersNotListed.NOT_GIVEN.value,
)

OVERALL = "overall"


def verdict_rows(judgement: Judgement) -> Grid:
    """One row per verdict in the columns of `VERDICT_COLUMNS`, and a last one for the whole."""
    whole = judgement.verdicts[0]
    return [
        *(_row(verdict) for verdict in judgement.verdicts),
        [
            OVERALL,
            "",
            "",
            "",
            "",
            judgement.word,
            judgement.explanation,
            whole.edition,
            judgement.least_verified.verified_text,
        ],
    ]


def _row(verdict: Verdict) -> list[Scalar]:
    unit = "" if verdict.unit == "%" else f", {verdict.unit}"
    certain = verdict.given and not (verdict.at_least and verdict.passes is None)
    return [
        verdict.quantity + unit + (", at least" if verdict.at_least and verdict.given else ""),
        "" if verdict.order is None else float(verdict.order),
        "" if math.isnan(verdict.value) else verdict.value,
        verdict.limit,
        verdict.margin if certain else "",
        verdict.word,
        verdict.origin.text,
        verdict.edition,
        verdict.verified,
    ]
