"""What a cell can hold, the same in every host."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import cast


class ErrorCode(StrEnum):
    """The spreadsheet's own error values."""

    DIV0 = "#DIV/0!"
    NA = "#N/A"
    NAME = "#NAME?"
    NULL = "#NULL!"
    NUM = "#NUM!"
    REF = "#REF!"
    VALUE = "#VALUE!"


@dataclass(frozen=True)
class CellError:
    """An error value with its reason in plain words."""

    code: ErrorCode
    reason: str = ""


Scalar = float | str | bool | CellError | None
"""A cell: ``None`` is a blank cell."""

Grid = list[list[Scalar]]
"""A range or an array result: rows of equal length."""

Value = Scalar | Grid


def all_numbers(rows: Grid) -> bool:
    """Whether every cell is a finite number, as in most arrays of ours.

    Examples
    --------
    >>> all_numbers([[1.0, 2.0]]), all_numbers([[1.0, "a"]]), all_numbers([])
    (True, False, False)
    """
    cells = [cell for row in rows for cell in row]
    return set(map(type, cells)) == {float} and math.isfinite(sum(cast("list[float]", cells)))
