"""What a cell can hold, the same in every host."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import cast

from xlcalc.core.errors import Place


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
    """An error value with its reason in plain words.

    Parameters
    ----------
    code : ErrorCode
    reason : str
    place : Place, optional
        Where the wrong value stands in the arguments of the function that refused it.
    after_cell : str
        How the reason goes on after the name of the cell that was typed, once that is known.
    typed : str
        The cell that was typed, such as ``Drives!D11``; empty while that is not known.
    """

    code: ErrorCode
    reason: str = ""
    place: Place | None = field(default=None, compare=False)
    after_cell: str = field(default="", compare=False)
    typed: str = field(default="", compare=False)

    def at(self, cell: str) -> CellError:
        """The same error, with the typed cell in its reason."""
        return self if self.typed else replace(self, reason=cell + self.after_cell, typed=cell)


class Refused(str):
    """A text in place of an error value, so that a sheet shows in words what is wrong.

    Parameters
    ----------
    error : CellError
        What it stands for.
    gives_reason : bool
        Whether the text is the reason of the error itself.
    """

    error: CellError
    gives_reason: bool

    def __new__(cls, text: str, error: CellError, *, gives_reason: bool = False) -> Refused:
        made = super().__new__(cls, text)
        made.error, made.gives_reason = error, gives_reason
        return made

    def at(self, cell: str) -> Refused:
        """The same, with the typed cell named."""
        error = self.error.at(cell)
        return Refused(
            error.reason if self.gives_reason else str(self), error, gives_reason=self.gives_reason
        )


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
