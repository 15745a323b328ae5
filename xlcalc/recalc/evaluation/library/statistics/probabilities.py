"""Arguments and results of probability distributions, with their valid ranges."""

from __future__ import annotations

import math
from typing import Any

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.values import Uncertain, fail, number, whole
from xlcalc.schema.values import ErrorCode

_MOST_FREEDOM = 1e10


def need(*conditions: bool) -> None:
    """#NUM! where an argument is outside its valid range."""
    if not all(conditions):
        fail(ErrorCode.NUM)


def result(value: Any) -> float:
    """A probability, density or quantile; what has no finite value is #NUM!."""
    found = float(value)
    return found if math.isfinite(found) else fail(ErrorCode.NUM)


def density(value: Any) -> float:
    """A density; programs differ where it grows without limit."""
    found = float(value)
    if not math.isfinite(found):
        raise Uncertain("a density that has no finite value there")
    return found


def freedom_of(raw: Raw) -> int:
    """Degrees of freedom."""
    found = whole(raw)
    need(1 <= found <= _MOST_FREEDOM)
    return found


def share_of(raw: Raw) -> float:
    """A probability from 0 to 1."""
    found = number(raw)
    need(0 <= found <= 1)
    return found


def inner_share(raw: Raw) -> float:
    """A probability between 0 and 1."""
    found = share_of(raw)
    if found in (0, 1):
        raise Uncertain("a share of 0 or 1, for which programs differ")
    return found


def positive(*raws: Raw) -> list[float]:
    """Numbers above 0."""
    found = [number(raw) for raw in raws]
    need(*(value > 0 for value in found))
    return found
