"""No verdict is left standing that this recalculation did not find.

A formula that cannot be evaluated for certain keeps its old value. A verdict must not: an old PASS would be
read as the verdict on inputs that were changed since. Nor does any cell say PASS where the inputs or formulas
of a template have a fault that takes the verdict away.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from xlcalc.hosts.headless.evaluation.calculation import Calculation, Outcome, Stored
from xlcalc.hosts.headless.evaluation.dependents import Cell
from xlcalc.hosts.headless.xlsx.gridvalues import GridValues
from xlcalc.hosts.headless.xlsx.package import WorkbookPackage
from xlcalc.worksheet.no_verdict import FAIL, NO_VERDICT, PASS

WHOLE: Final = (("study_verdict", "study_reason"), ("pcc_verdict", "pcc_reason"))
"""Defined names of the cells with the verdict on the whole and its reason; the first known one counts."""
_WORD: Final = re.compile(r"\bPASS\b|\AFAIL\Z")


def withhold(
    package: WorkbookPackage, calculation: Calculation, outcome: Outcome, *, faulty: bool
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
            for position in [at for at, value in values.items() if value in (PASS, FAIL)]:
                _put(values, position, NO_VERDICT)
    if not outcome.refused or not _is_ours(calculation, outcome):
        return ()
    whole = {cell for name, _ in WHOLE if (cell := calculation.named_cell(name)) is not None}
    stale = []
    olds: dict[str, Mapping[tuple[int, int], object]] = {}
    for identity, reason in outcome.refused.items():
        item = calculation.prepared[identity]
        position = item.source.row, item.source.col
        if item.sheet not in olds:
            formulas = package.sheet(item.sheet).formulas
            olds[item.sheet] = {(formula.row, formula.col): formula.cached for formula in formulas}
        old = olds[item.sheet].get(position)
        cell = (item.sheet, *position)
        if (isinstance(old, str) and _WORD.search(old)) or cell in whole:
            _put(outcome.values[item.sheet], position, NO_VERDICT)
            outcome.refused[identity] = f"{reason}; {NO_VERDICT} stands there now"
            stale.append(cell)
    return tuple(stale)


def state_reason(calculation: Calculation, outcome: Outcome, sentence: str) -> None:
    """Write why there is no verdict into the cells for it that say nothing or kept an old reason."""
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


def _is_ours(calculation: Calculation, outcome: Outcome) -> bool:
    return calculation.calls.total > 0 or any(
        calculation.prepared[identity].compiled.own_calls for identity in outcome.refused
    )


def _put(values: dict[tuple[int, int], Stored] | GridValues, position: tuple[int, int], text: str) -> None:
    if isinstance(values, GridValues):
        values.put(position, text)
    else:
        values[position] = text
