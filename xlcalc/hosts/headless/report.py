"""What a recalculation did, cell by cell where something is to be said."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

REFUSED = "refused"


@dataclass(frozen=True)
class Issue:
    """A cell that shows an error value, or that kept its old value.

    Parameters
    ----------
    sheet, cell : str
        Where, such as ``Drives`` and ``B3``.
    formula : str
        As the file has it, with an equals sign.
    outcome : str
        The error value, or ``refused`` for a cell that kept its old value.
    reason : str
        In plain words.
    """

    sheet: str
    cell: str
    formula: str
    outcome: str
    reason: str

    @property
    def refused(self) -> bool:
        return self.outcome == REFUSED

    @property
    def address(self) -> str:
        return f"{self.sheet}!{self.cell}"


@dataclass(frozen=True)
class RecalculationReport:
    """Counts, issues and times of one recalculation.

    Parameters
    ----------
    target : Path
        The file written.
    formulas : int
        Formula cells of the workbook.
    evaluated : int
        Those with a new value; the rest is refused.
    changed : int
        Cells, members of arrays included, whose value is not the one that the file had.
    refused, errors : int
        Cells that kept their old value, and cells that show an error value.
    issues : tuple of Issue
        One for each of these, in the order of the sheets.
    own_calls, distinct_calls : int
        Calls of our functions, and those with different arguments, which were computed.
    seconds : mapping of stage to float
        read, prepare, evaluate, collect, write.
    """

    target: Path
    formulas: int
    evaluated: int
    changed: int
    refused: int
    errors: int
    issues: tuple[Issue, ...] = ()
    own_calls: int = 0
    distinct_calls: int = 0
    seconds: Mapping[str, float] = field(default_factory=dict)

    @property
    def clean(self) -> bool:
        return not self.issues
