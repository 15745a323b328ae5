"""Formulas of verdicts: a word in every case, the reason where it is no verdict, and the worst of several."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from xlcalc.files.books import names
from xlcalc.standards.verdict import FAIL, NO_VERDICT, PASS

WITHOUT_REASON: Final = (
    "there is no result: look for marked cells on the sheets of inputs; xlcalc recalc lists the reasons"
)
TOLERANCE: Final = 1e-9
"""Share of a limit by which a value may exceed it, as in `xlcalc.standards.verdict.within`."""


def word(formula: str) -> str:
    """The word that `formula` gives; NO VERDICT where it gives an error, or inputs would be left out."""
    return f'IF({names.INPUT_FAULT}<>"","{NO_VERDICT}",IFERROR({formula},"{NO_VERDICT}"))'


def reason(cell: str, formula: str) -> str:
    """Why `cell` holds no verdict, blank where it holds one; `formula` is the reason of the functions."""
    own = f'IFERROR(IF(LEN({formula})>0,{formula},"{WITHOUT_REASON}"),"{WITHOUT_REASON}")'
    return f'IF(OR({cell}="{PASS}",{cell}="{FAIL}"),"",IF({names.INPUT_FAULT}<>"",{names.INPUT_FAULT},{own}))'


def text(formula: str) -> str:
    """What `formula` gives, blank where it is an error."""
    return f'IFERROR({formula},"")'


def beyond(value: str, limit: str) -> str:
    """Condition: the value exceeds the limit by more than the tolerance."""
    return f"{value}-{limit}>{TOLERANCE:g}*ABS({limit})"


def worst(areas: Sequence[str]) -> str:
    """FAIL if any cell of the areas is, else NO VERDICT if any is or none is PASS, else PASS."""

    def count(kind: str) -> str:
        return "+".join(f'COUNTIF({area},"{kind}")' for area in areas)

    passed = f'IF({count(PASS)}>0,"{PASS}","{NO_VERDICT}")'
    return f'IF({count(FAIL)}>0,"{FAIL}",IF({count(NO_VERDICT)}>0,"{NO_VERDICT}",{passed}))'
