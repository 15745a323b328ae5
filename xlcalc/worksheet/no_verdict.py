"""What quantities such as VERDICT and REASON give where a function refuses its inputs."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from xlcalc.schema.values import CellError, Refused, Value
from xlcalc.standards.verdict import FAIL, NO_VERDICT, PASS

__all__ = ["FAIL", "NO_VERDICT", "PASS", "REASON", "REMARKS", "VERDICT", "WORDS", "no_verdict"]

VERDICT, REASON, REMARKS, ASSUMED = "VERDICT", "REASON", "REMARKS", "ASSUMED"
WORDS = (PASS, FAIL, NO_VERDICT)


def no_verdict(position: int) -> Callable[[Sequence[Value], CellError], Value | None]:
    """For the field `refused` of a function that has a quantity as one of its arguments.

    Wrong inputs give NO VERDICT for VERDICT and every quantity whose name ends so, the reason for REASON and
    an empty text for REMARKS and ASSUMED; all other quantities stay errors.

    Parameters
    ----------
    position : int
        Of the argument `quantity`, counted from 0.
    """

    def refused(raw: Sequence[Value], error: CellError) -> Value | None:
        if len(raw) <= position or (error.place is not None and error.place.argument == "quantity"):
            return None
        quantity = _single(raw[position])
        if quantity.endswith(VERDICT):
            return Refused(NO_VERDICT, error)
        if quantity == REASON:
            return Refused(error.reason, error, gives_reason=True)
        return Refused("", error) if quantity in (REMARKS, ASSUMED) else None

    return refused


def _single(value: Value) -> str:
    if isinstance(value, list):
        value = value[0][0] if len(value) == 1 and len(value[0]) == 1 else None
    return value.strip().upper() if isinstance(value, str) else ""
