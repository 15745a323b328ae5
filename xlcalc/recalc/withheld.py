"""No verdict is left standing that this recalculation did not find.

A formula that cannot be evaluated for certain keeps its old value. A verdict must not: an old PASS would be
read as the verdict on inputs that were changed since. Nor does any cell say PASS where the inputs or formulas
of a template have a fault that takes the verdict away.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Final

from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.evaluation.calculation import Calculation
from xlcalc.recalc.evaluation.dependents import Cell
from xlcalc.recalc.evaluation.evaluated import Evaluated, Stored, positions
from xlcalc.recalc.reader import stored_values
from xlcalc.recalc.xlsx.gridvalues import GridValues
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.worksheet.no_verdict import NO_VERDICT

WHOLE: Final = (("study_verdict", "study_reason"), ("pcc_verdict", "pcc_reason"))
"""Defined names of the cells with the verdict on the whole and its reason; the first known one counts."""
_WORD: Final = re.compile(r"\bPASS\b|\AFAIL\Z")


def withhold(
    package: WorkbookPackage, calculation: Calculation, outcome: Evaluated, *, faulty: bool
) -> tuple[Cell, ...]:
    """Write NO VERDICT over old verdicts of refused formulas, and over all where the book is `faulty`.

    Workbooks that call none of our functions are left alone: a PASS there is not ours.

    Returns
    -------
    tuple of Cell
        The cells of refused formulas that held a verdict.
    """
    if faulty:
        for values in outcome.values.values():
            for position in [at for at, value in values.items() if _is_verdict(value)]:
                _put(values, position, NO_VERDICT)
    if not outcome.refused or not _is_ours(calculation, outcome):
        return ()
    whole = {cell for name, _ in WHOLE if (cell := calculation.named_cell(name)) is not None}
    stale = []
    olds: dict[str, Mapping[tuple[int, int], object]] = {}
    members: dict[str, list[CellRange]] = {}
    for identity, reason in outcome.refused.items():
        item = calculation.prepared[identity]
        position = item.source.row, item.source.col
        if item.sheet not in olds:
            formulas = package.sheet(item.sheet).formulas
            olds[item.sheet] = {(formula.row, formula.col): formula.cached for formula in formulas}
        if item.area is not None and item.area.area > 1:
            members.setdefault(item.sheet, []).append(item.area)
        cell = (item.sheet, *position)
        if _is_verdict(olds[item.sheet].get(position)) or cell in whole:
            _put(outcome.values[item.sheet], position, NO_VERDICT)
            outcome.refused[identity] = f"{reason}; {NO_VERDICT} stands there now"
            stale.append(cell)
    return (*stale, *_old_members(package, outcome, members))


def _old_members(
    package: WorkbookPackage, outcome: Evaluated, arrays: Mapping[str, list[CellRange]]
) -> Iterator[Cell]:
    """Cells of refused arrays, their first one excepted, in which a verdict stood: none stands there now."""
    if not arrays:
        return
    for sheet, stored in stored_values(package):
        for area in arrays.get(sheet, ()):
            for position in positions(area):
                first = position == (area.first_row, area.first_col)
                if not first and _is_verdict(stored.get(position)):
                    _put(outcome.values[sheet], position, NO_VERDICT)
                    yield (sheet, *position)


def state_reason(calculation: Calculation, outcome: Evaluated, sentence: str) -> None:
    """Write why there is no verdict into the cells for it that are empty or kept an old reason."""
    refused = {
        (item.sheet, item.source.row, item.source.col)
        for item in (calculation.prepared[identity] for identity in outcome.refused)
    }
    for _, name in WHOLE:
        cell = calculation.named_cell(name)
        if cell is None or not calculation.typed.is_formula(cell):
            continue
        values = outcome.values[cell[0]]
        if cell in refused or not values.get(cell[1:]):
            _put(values, cell[1:], sentence)


def _is_verdict(value: object) -> bool:
    return isinstance(value, str) and _WORD.search(value) is not None


def _is_ours(calculation: Calculation, outcome: Evaluated) -> bool:
    return calculation.calls.total > 0 or any(
        calculation.prepared[identity].compiled.own_calls for identity in outcome.refused
    )


def _put(values: dict[tuple[int, int], Stored] | GridValues, position: tuple[int, int], text: str) -> None:
    if isinstance(values, GridValues):
        values.put(position, text)
    else:
        values[position] = text
