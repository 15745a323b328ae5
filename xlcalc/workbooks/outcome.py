"""The outcome of a computed workbook: the worst of everything that its sheets judged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from openpyxl.workbook import Workbook

from xlcalc.core.errors import InputError
from xlcalc.files.books.names import STUDY_REASON, STUDY_VERDICT, STUDY_VERDICTS, place
from xlcalc.standards.verdict import FAIL, NO_VERDICT, PASS, worst_word

WITHOUT: Final = ("", "not supplied", "no current flows", "NO DATA", "off")
"""What stands in place of a verdict where nothing was to be judged."""


@dataclass(frozen=True)
class Judged:
    """One line of the table: what was judged, in which case, and what came out."""

    what: str
    case: str
    verdict: str
    reason: str

    @property
    def counts(self) -> bool:
        """Whether there was something to judge."""
        return self.verdict not in WITHOUT

    @property
    def word(self) -> str:
        """PASS, FAIL or NO VERDICT; anything else in the cell, such as an error value, is no verdict."""
        return self.verdict if self.verdict in (PASS, FAIL) else NO_VERDICT

    @property
    def name(self) -> str:
        return f"{self.what}, {self.case}" if self.case else self.what


@dataclass(frozen=True)
class Outcome:
    """The worst of all verdicts, and all of them.

    Parameters
    ----------
    items : tuple of Judged
        In the order of the sheet; empty for a study that judges one PCC in one case.
    stated : str
        The verdict in the cell of the whole study.
    stated_reason : str
        Its reason there.
    """

    items: tuple[Judged, ...]
    stated: str
    stated_reason: str

    @property
    def word(self) -> str:
        """FAIL where anything fails, else NO VERDICT where anything has none, else PASS.

        The verdict that the workbook states for the whole study counts as one of them. A study in doubt
        as a whole, one with rows that are left out say, has no verdict even where a part fails.
        """
        if self.stated not in (PASS, FAIL):
            return NO_VERDICT
        return worst_word((self.stated, *(item.word for item in self.judged)))

    @property
    def judged(self) -> tuple[Judged, ...]:
        """The items where there was something to judge."""
        return tuple(item for item in self.items if item.counts)

    @property
    def sentence(self) -> str:
        """The outcome in one line: the word, how many checks it rests on, and the first that decides."""
        deciding = [item for item in self.judged if item.word == self.word]
        count = f"{len(deciding)} of {len(self.judged)} checks" if self.judged else ""
        if self.word == PASS:
            return f"{PASS}: {len(self.judged)} of {len(self.judged)} checks" if self.judged else PASS
        reason = self.stated_reason
        if deciding and not (self.word == NO_VERDICT and reason):
            first = deciding[0]
            reason = f"{count}, the first: {first.name}" + (f" ({first.reason})" if first.reason else "")
        return f"{self.word}: {reason}" if reason else self.word


def read_outcome(book: Workbook, name: str) -> Outcome:
    """The outcome of a workbook with values.

    Parameters
    ----------
    book : Workbook
        Loaded with the values of its formulas.
    name : str
        Name of the file, for messages.

    Raises
    ------
    InputError
        The workbook has no verdict of the whole study: it was made by an earlier version, or from no
        template.
    """
    if STUDY_VERDICT not in book.defined_names:
        raise InputError(
            name,
            f"without the name {STUDY_VERDICT}",
            "a workbook made from a template of this version (xlcalc new), which has a verdict of everything "
            "that it judges",
        )
    rows = _cells(book, STUDY_VERDICTS, name) if STUDY_VERDICTS in book.defined_names else []
    items = tuple(Judged(*(_text(cell) for cell in (*row, None, None, None, None)[:4])) for row in rows)
    stated = _text(_cells(book, STUDY_VERDICT, name)[0][0])
    reason = _cells(book, STUDY_REASON, name)[0][0] if STUDY_REASON in book.defined_names else None
    return Outcome(tuple(item for item in items if item.what), stated, _text(reason))


def _cells(book: Workbook, name: str, file: str) -> list[list[Any]]:
    """Values of the range, as far as the sheet is filled; at least that of its first cell."""
    sheet, (left, top, right, bottom) = place(book, name, file)
    rows = range(top, max(top, min(bottom, sheet.max_row)) + 1)
    columns = range(left, max(left, min(right, sheet.max_column)) + 1)
    return [[sheet.cell(row, column).value for column in columns] for row in rows]


def _text(value: object) -> str:
    return "" if value is None else str(value).strip()
