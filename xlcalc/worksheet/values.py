"""What a cell can hold, the same in every host."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


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
