"""The verdicts of a workbook: of the cells with the names for them, and of formulas that ask for one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from xlcalc.recalc.cellnames import cell_name
from xlcalc.recalc.evaluation.calculation import Calculation
from xlcalc.recalc.evaluation.calling.verdicts import TABLES
from xlcalc.recalc.evaluation.dependents import Cell
from xlcalc.recalc.evaluation.evaluated import Evaluated
from xlcalc.recalc.reasons import Reasons
from xlcalc.recalc.withheld import WHOLE
from xlcalc.schema.places import leading_cell
from xlcalc.schema.values import CellError, ErrorCode
from xlcalc.worksheet.no_verdict import NO_VERDICT, WORDS

AN_ERROR: Final = " is an error"
"""How a template says that a check has no result, behind the cell."""


@dataclass(frozen=True)
class VerdictCell:
    """A cell with a verdict.

    Parameters
    ----------
    sheet, cell : str
    verdict : str
        PASS, FAIL, NO VERDICT, or another word of the function that was asked.
    reason : str
        Why there is no verdict; empty where there is one.
    typed : str
        The input cell that the reason is about, where it is known.
    name : str
        The defined name of the cell, if it is the verdict on the whole workbook.
    """

    sheet: str
    cell: str
    verdict: str
    reason: str = ""
    typed: str = ""
    name: str = ""

    @property
    def address(self) -> str:
        return f"{self.sheet}!{self.cell}"


def verdict_cells(
    calculation: Calculation,
    outcome: Evaluated,
    reasons: Reasons,
    *,
    withheld: Sequence[Cell] = (),
    fault: str = "",
    why: str = "",
) -> tuple[VerdictCell, ...]:
    """The verdict on the whole first, then those of single formulas, in the order of the sheets.

    Parameters
    ----------
    withheld : sequence of Cell
        Formulas that were refused and held a verdict.
    fault : str
        What takes every verdict away, empty where nothing does.
    why : str
        Reason of the verdicts that were withheld.
    """
    finder = _Finder(calculation, outcome, reasons, fault)
    found = tuple(finder.found())
    known = {(verdict.sheet, verdict.cell) for verdict in found}
    cells = ((sheet, cell_name(row, column)) for sheet, row, column in withheld)
    rest = (VerdictCell(*cell, NO_VERDICT, why, leading_cell(why)) for cell in cells if cell not in known)
    return (*found, *rest)


class _Finder:
    def __init__(self, calculation: Calculation, outcome: Evaluated, reasons: Reasons, fault: str) -> None:
        self._calculation, self._outcome, self._reasons = calculation, outcome, reasons
        self._fault = fault
        refused = (error for listed in calculation.calls.instead.values() for error in listed)
        self._refused = {error.reason: error for error in refused if error.typed}

    def found(self) -> Iterator[VerdictCell]:
        direct = {(v.sheet, v.cell): v for v in self._direct()}
        whole = self._whole(direct)
        if whole is not None:
            yield whole
            direct.pop((whole.sheet, whole.cell), None)
        yield from direct.values()

    def _whole(self, direct: Mapping[tuple[str, str], VerdictCell]) -> VerdictCell | None:
        for verdict_name, reason_name in WHOLE:
            cell = self._calculation.named_cell(verdict_name)
            if cell is None:
                continue
            if self._fault:
                return self._made(cell, NO_VERDICT, self._fault, leading_cell(self._fault), verdict_name)
            value = self._value(cell)
            at = self._calculation.named_cell(reason_name)
            reason = self._value(at) if at is not None else ""
            known = direct.get((cell[0], cell_name(*cell[1:])))
            if isinstance(value, CellError):
                cause = self._reasons.cause(cell)
                return self._made(cell, NO_VERDICT, cause.sentence, cause.cell, verdict_name)
            if not isinstance(value, str):
                continue
            text = reason if isinstance(reason, str) else ""
            if known is not None:
                text = text or known.reason
            why, typed = self._explained(text)
            typed = typed or (known.typed if known is not None else "")
            return self._made(cell, value, why, typed, verdict_name)
        return None

    def _direct(self) -> Iterator[VerdictCell]:
        calls = self._calculation.calls
        for identity in sorted(calls.verdicts):
            if identity in self._outcome.refused:
                continue
            item = self._calculation.prepared[identity]
            cell = (item.sheet, item.source.row, item.source.col)
            given, shown = calls.verdicts[identity], self._value(cell)
            word = given.word
            if len(item.compiled.own_calls) == 1 and item.compiled.own_calls[0].name.startswith(TABLES):
                covers = self._outcome.spills.get(identity, item.area)
                if covers.area == 1:
                    if shown not in WORDS:
                        continue
                    word = str(shown)
            elif shown in WORDS:
                word = str(shown)
            if self._fault:
                yield self._made(cell, NO_VERDICT, self._fault, leading_cell(self._fault))
                continue
            yield self._made(cell, word, *self._explained(given.reason))

    def _explained(self, reason: str) -> tuple[str, str]:
        """The reason and its cell, from where the trouble begins if that cell only shows an error."""
        if reason.endswith(AN_ERROR):
            begins = self._reasons.cause_at(reason.removesuffix(AN_ERROR))
            if begins is not None:
                return f"{reason}: {begins.sentence}", begins.cell if begins.typed else ""
        named = CellError(ErrorCode.VALUE, reason, typed=leading_cell(reason))
        error = self._refused.get(reason, named)
        cause = self._reasons.cause_of(error)
        if cause.cell == error.typed or not cause.typed:
            return reason, error.typed
        return cause.sentence, cause.cell

    def _made(self, cell: Cell, verdict: str, reason: str, typed: str, name: str = "") -> VerdictCell:
        why = reason if verdict not in WORDS[:2] else ""
        return VerdictCell(cell[0], cell_name(*cell[1:]), verdict, why, typed if why else "", name)

    def _value(self, cell: Cell) -> object:
        sheet, row, col = cell
        values = self._outcome.values.get(sheet, {})
        if (row, col) in values:
            return values[row, col]
        return self._calculation.typed.constant(cell)
