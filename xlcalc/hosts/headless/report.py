"""What a recalculation did, cell by cell where something is to be said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

REFUSED = "refused"
FOLLOWS = "follows from "
MOST_LINES = 40
CELLS_NAMED = 3


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


def issue_lines(issues: Sequence[Issue], most: int = MOST_LINES) -> list[str]:
    """One line for each issue, or, where they are more than `most`, one for each reason.

    Cells that only follow from others are then counted; with each reason stand how many cells give it and the
    first of them.
    """
    if len(issues) <= most:
        return [f"{issue.address}  {issue.outcome}  {issue.reason}" for issue in issues]
    places: dict[tuple[str, str], list[str]] = {}
    following = 0
    for issue in issues:
        if issue.reason.startswith(FOLLOWS):
            following += 1
        else:
            places.setdefault((issue.outcome, _without_function(issue.reason)), []).append(issue.address)
    lines = []
    for (outcome, reason), cells in list(places.items())[:most]:
        more = len(cells) - CELLS_NAMED
        named = ", ".join(cells[:CELLS_NAMED]) + (f" and {more} more" if more > 0 else "")
        lines.append(f"{named}  {outcome}  {reason}")
    if len(places) > most:
        lines.append(f"{len(places) - most} more reasons; --reasons lists every cell in a sheet")
    if following:
        lines.append(f"{following} more cells follow from these; --reasons lists every cell in a sheet")
    return lines


def _without_function(reason: str) -> str:
    """The reason of one wrong input, whichever function says it."""
    name, colon, plain = reason.partition(": ")
    return plain if colon and name.replace("_", "").isalnum() and name.isupper() else reason
