"""What is wrong with rows of a schedule, by row and column."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One bad cell.

    Parameters
    ----------
    row : int
        As a spreadsheet program numbers it.
    column : str
        Heading in the file.
    value : str
        What the cell says; empty for a blank one.
    valid : str
        What it may be.
    """

    row: int
    column: str
    value: str
    valid: str

    def __str__(self) -> str:
        shown = repr(self.value) if self.value else "blank"
        return f"row {self.row}, {self.column}: {shown}; valid: {self.valid}"


def shown(cell: object) -> str:
    """A cell as text, numbers without trailing zeros."""
    if cell is None or cell != cell:
        return ""
    return f"{cell:.15g}" if isinstance(cell, float) else str(cell)
