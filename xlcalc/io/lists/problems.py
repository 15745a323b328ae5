"""What is wrong with rows of a schedule, by row and column."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

LISTED: Final = 100


@dataclass(frozen=True)
class RowError:
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


def listed(problems: Sequence[RowError]) -> Iterator[str]:
    """A line per problem for the first `LISTED`, then how many more there are in each column."""
    yield from (str(problem) for problem in problems[:LISTED])
    more = Counter(problem.column for problem in problems[LISTED:])
    if more:
        counts = ", ".join(f"{column} {count:,}" for column, count in more.most_common())
        yield f"and {more.total():,} more bad cells ({counts}); {len(problems):,} in all"


def shown(cell: object) -> str:
    """A cell as text, numbers without trailing zeros."""
    if cell is None or cell != cell:
        return ""
    return f"{cell:.15g}" if isinstance(cell, float) else str(cell)
