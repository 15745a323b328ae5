"""What a recalculation did, cell by cell where there is something to report."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from xlcalc.recalc.reasons import FOLLOWS

if TYPE_CHECKING:
    from xlcalc.recalc.verdicts import VerdictCell
    from xlcalc.recalc.verification.verify import Verification


_INSTEAD = (
    (r"not an array formula", "the one cell that is meant, or enter the formula as an array formula"),
    (r"digits; ROUND would decide|distance of|last digits", "ROUND around both sides of the comparison"),
    (r"(not|are not) sorted|descending cells", "an exact match (0 or FALSE), or sort the cells"),
    (
        r"regional settings|depends on the program",
        "the number itself, or DATE(year,month,day) or TIME(h,m,s)",
    ),
    (r"the text .* where a number is expected|text that may or may not be a number", "the number itself"),
    (r"a circular reference", "formulas that do not come back to their own cell; try values by hand instead"),
    (r"lies in another file", "the values themselves, copied into a sheet of this workbook"),
    (r"what-if data table", "one row of formulas for each case"),
    (r"number format .* not supported|date format .* negative", "another format, such as 0.00 or yyyy-mm-dd"),
    (r"YEARFRAC actual/actual", "the basis 0, 2, 3 or 4"),
    (r"MROUND of a number half-way", "ROUND(number/multiple,0)*multiple"),
    (r"odd root of a negative", "-(ABS(number)^(1/n))"),
    (r"0 to the power of 0", "IF(base=0,0,base^exponent), with the value that is meant for 0"),
    (r"CONVERT of the unit", "the factor between the units"),
    (r"defined name with a relative reference", "cells in the formula, or $ in the name"),
    (r"INDIRECT of an address by row and column", "INDEX, or INDIRECT of an address such as A1"),
    (r"a logical in SUMPRODUCT", "--( ) around the condition"),
    (r"a criterion that is a logical", "SUMPRODUCT(--(cells=TRUE))"),
    (
        r"have one value several times|rates$|may have several rates",
        "NPV at the rates that are to be compared",
    ),
    (r"filtered rows|rows of the sheet .* are hidden", "SUM or SUMIFS over the rows that are meant"),
    (r"^function .* is not supported$", "functions of the list at the end of what `xlcalc functions` prints"),
    (r"does not fit", "the formula where the cells below and beside it are free"),
)
_RULES = tuple((re.compile(pattern), words) for pattern, words in _INSTEAD)


def instead(reason: str) -> str:
    """What to write in place of a formula that was refused for a reason; empty where no way is known.

    Examples
    --------
    >>> instead("YEARFRAC actual/actual across a leap year")
    'the basis 0, 2, 3 or 4'
    """
    return next((words for rule, words in _RULES if rule.search(reason)), "")


REFUSED = "refused"
MOST_LINES = 40
CELLS_NAMED = 3
VERDICTS_NAMED = 5
DEPENDS = ("it depends on ", "it can refer to any cell, and ")
_SPECIFIC = re.compile(r"'[^']*'|\"[^\"]*\"|[^\s!]*![A-Z$]+[0-9$]+|-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?")
"""What differs between the reasons of cells that are refused for the same one."""


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
    typed : str
        The input cell where the trouble begins, such as ``Drives!D11``; empty where that is not known.
    """

    sheet: str
    cell: str
    formula: str
    outcome: str
    reason: str
    typed: str = ""

    @property
    def refused(self) -> bool:
        return self.outcome == REFUSED

    @property
    def address(self) -> str:
        return f"{self.sheet}!{self.cell}"


@dataclass(frozen=True)
class WrongInput:
    """A cell that somebody typed and that cannot be used.

    Parameters
    ----------
    cell : str
        Such as ``Drives!D11``.
    sentence : str
        What is wrong, beginning with the cell.
    dependents : int
        Cells without a value because of it.
    """

    cell: str
    sentence: str
    dependents: int

    @property
    def line(self) -> str:
        if not self.dependents:
            return self.sentence
        one = self.dependents == 1
        return (
            f"{self.sentence}; {self.dependents:,} cell{'' if one else 's'} depend{'s' if one else ''} on it"
        )


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
    wrong_inputs : tuple of WrongInput
        The input cells behind the errors and behind verdicts that could not be given, the one that most
        cells depend on first.
    verdicts : tuple of VerdictCell
        The verdict on the whole first.
    without_answer : int
        Formulas in which a function of ours gave words, such as NO VERDICT, in place of an error.
    own_calls, distinct_calls : int
        Calls of our functions, and those with different arguments, which were computed.
    seconds : mapping of stage to float
        read, prepare, evaluate, collect, write; verify where that was asked for.
    verification : Verification, optional
        What another program said.
    notes : tuple of str
        What was changed beyond values, and why.
    """

    target: Path
    formulas: int
    evaluated: int
    changed: int
    refused: int
    errors: int
    issues: tuple[Issue, ...] = ()
    wrong_inputs: tuple[WrongInput, ...] = ()
    verdicts: tuple[VerdictCell, ...] = ()
    without_answer: int = 0
    own_calls: int = 0
    distinct_calls: int = 0
    seconds: Mapping[str, float] = field(default_factory=dict)
    verification: Verification | None = None
    notes: tuple[str, ...] = ()

    @property
    def clean(self) -> bool:
        """Whether every formula has a value, no function refused its inputs, and nothing else is wrong."""
        return not self.issues and not self.without_answer and not self.wrong_inputs

    def lines(self) -> list[str]:
        """What is wrong, input cells first."""
        rest = [issue for issue in self.issues if not issue.typed]
        wrong = self.wrong_inputs
        more = len(wrong) - MOST_LINES
        lines = [item.line for item in wrong[:MOST_LINES]]
        if more > 0:
            lines.append(f"{more} more inputs are wrong; --reasons lists every cell in a sheet")
        return lines + issue_lines(rest)

    def verdict_line(self) -> str:
        """The verdict on the whole workbook, or its single verdicts; empty where it has none."""
        if self.verdicts and self.verdicts[0].name:
            return f"Verdict: {_worded(self.verdicts[0])}"
        if not self.verdicts:
            return ""
        cells: dict[str, list[str]] = {}
        for verdict in self.verdicts:
            cells.setdefault(_worded(verdict), []).append(verdict.address)
        shown = [f"{words} ({_named(at)})" for words, at in list(cells.items())[:VERDICTS_NAMED]]
        more = len(cells) - VERDICTS_NAMED
        return f"Verdicts: {'; '.join(shown)}" + (f"; and {more} other reasons" if more > 0 else "")

    def as_json(self) -> dict[str, object]:
        """Counts, cells and verdicts as plain data."""
        errors: list[dict[str, str]] = []
        refused: list[dict[str, str]] = []
        for issue in self.issues:
            cell = {"sheet": issue.sheet, "cell": issue.cell, "reason": issue.reason, "typed": issue.typed}
            (refused if issue.refused else errors).append(
                cell if issue.refused else {**cell, "error": issue.outcome}
            )
        groups, _ = refused_groups(issue for issue in self.issues if issue.refused)
        return {
            "written": str(self.target),
            "evaluated": self.evaluated,
            "errors": errors,
            "refused": refused,
            "refused_by_reason": [
                {
                    "reason": group.reason,
                    "instead": group.instead,
                    "count": len(group.cells),
                    "cells": group.cells,
                }
                for group in groups
            ],
            "wrong_inputs": [
                {"cell": item.cell, "reason": item.sentence, "dependents": item.dependents}
                for item in self.wrong_inputs
            ],
            "verdicts": [asdict(verdict) for verdict in self.verdicts],
            "notes": list(self.notes),
            **({} if self.verification is None else {"verification": asdict(self.verification)}),
        }

    def summary(self) -> str:
        """Formulas, wrong inputs and errors in one line."""
        inputs = len(self.wrong_inputs)
        wrong = f"{inputs} input{'s are' if inputs > 1 else ' is'} wrong, " if inputs else ""
        return f"{self.evaluated} formulas evaluated, {wrong}{len(self.issues):,} with errors"


def _worded(verdict: VerdictCell) -> str:
    return f"{verdict.verdict}: {verdict.reason}" if verdict.reason else verdict.verdict


def issue_lines(issues: Sequence[Issue], most: int = MOST_LINES) -> list[str]:
    """One line for each error, or, where they are more than `most`, one for each reason; refused cells last.

    Cells that only follow from others are then counted; with each reason stand how many cells give it and the
    first of them.
    """
    errors = [issue for issue in issues if not issue.refused]
    return [*_error_lines(errors, most), *refusal_lines([i for i in issues if i.refused], most)]


def _error_lines(issues: Sequence[Issue], most: int) -> list[str]:
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
        lines.append(f"{_named(cells)}  {outcome}  {reason}")
    if len(places) > most:
        lines.append(f"{len(places) - most} more reasons; --reasons lists every cell in a sheet")
    if following:
        lines.append(f"{following} more cells follow from these; --reasons lists every cell in a sheet")
    return lines


@dataclass(frozen=True)
class RefusedGroup:
    """Cells that kept their old value for one reason.

    Parameters
    ----------
    reason : str
        Of the first of them.
    instead : str
        What to write in place of the formula; empty where no plain way is known.
    cells : tuple of str
        Such as ``Data!A1``.
    """

    reason: str
    instead: str
    cells: tuple[str, ...]


def refused_groups(issues: Iterable[Issue]) -> tuple[list[RefusedGroup], int]:
    """Refused cells by their reason, most first, and how many only depend on those."""
    places: dict[str, list[Issue]] = {}
    depending = 0
    for issue in issues:
        if issue.reason.startswith(DEPENDS):
            depending += 1
        else:
            places.setdefault(_SPECIFIC.sub("", issue.reason), []).append(issue)
    groups = [
        RefusedGroup(found[0].reason, instead(found[0].reason), tuple(issue.address for issue in found))
        for found in sorted(places.values(), key=lambda found: -len(found))
    ]
    return groups, depending


def refusal_lines(issues: Sequence[Issue], most: int = MOST_LINES) -> list[str]:
    """Refused cells by their reason, with counts and what to write instead."""
    groups, depending = refused_groups(issues)
    lines = []
    for group in groups[:most]:
        lines.append(f"{_named(group.cells)}  {REFUSED}  {group.reason}")
        if group.instead:
            lines.append(f"    write instead: {group.instead}")
    if len(groups) > most:
        lines.append(f"{len(groups) - most} more reasons; --reasons lists every cell in a sheet")
    if depending:
        one = depending == 1
        lines.append(
            f"{depending:,} more cell{' depends' if one else 's depend'} on these and kept "
            f"{'its old value' if one else 'their old values'}; --reasons lists every cell in a sheet"
        )
    return lines


def _named(cells: Sequence[str]) -> str:
    """The first of some cells, and how many more there are."""
    more = len(cells) - CELLS_NAMED
    return ", ".join(cells[:CELLS_NAMED]) + (f" and {more} more" if more > 0 else "")


def _without_function(reason: str) -> str:
    """The reason of one wrong input, whichever function reports it."""
    name, colon, plain = reason.partition(": ")
    return plain if colon and name.replace("_", "").isalnum() and name.isupper() else reason
