"""Verdicts that our functions gave while formulas were evaluated."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from xlcalc.recalc.protocol import EvaluatedFunction
from xlcalc.schema.values import Refused, Value
from xlcalc.worksheet.no_verdict import REASON, VERDICT

TABLES = "HD_VERDICT"
"""Functions whose names begin so give a table; its last row is the verdict on the whole, with the reason."""


@dataclass(frozen=True, slots=True)
class Said:
    """A verdict that a call gave, and why there is none where that is so."""

    word: str
    reason: str = ""


def said(
    name: str, function: EvaluatedFunction, given: Sequence[Value], result: Value, undecided: str
) -> Said | None:
    """The verdict of a call; None for any other call.

    Parameters
    ----------
    name : str
    function : EvaluatedFunction
    given : sequence of Value
        Its arguments.
    result : Value
        What it gave for them.
    undecided : str
        The word without a verdict; its reason is asked for.
    """
    columns = getattr(function.shape, "columns", ())
    if isinstance(result, list):
        if not (name.startswith(TABLES) and "verdict" in columns and result and len(result[-1]) > 6):
            return None
        place = columns.index("verdict")
        word = str(result[-1][place])
        return Said(word, str(result[-1][place + 1]) if word == undecided else "")
    if not isinstance(result, str) or not any(_is_verdict(value) for value in given):
        return None
    if isinstance(result, Refused):
        return Said(str(result), result.error.reason)
    return Said(result, _reason(function, given) if result == undecided else "")


def _reason(ask: Callable[[Sequence[Value]], Value], given: Sequence[Value]) -> str:
    reason = ask([REASON if _is_verdict(value) else value for value in given])
    return reason if isinstance(reason, str) else ""


def _is_verdict(value: Value) -> bool:
    if isinstance(value, list) and len(value) == 1 and len(value[0]) == 1:
        value = value[0][0]
    return isinstance(value, str) and value.strip().upper() == VERDICT
