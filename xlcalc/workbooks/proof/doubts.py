"""Formulas that say why typed or pasted values of a record cannot be what the sheets take them for."""

from __future__ import annotations

from typing import Final

from xlcalc.core.plausible import LEAST_RECORDED_PCT
from xlcalc.files.books import names
from xlcalc.standards.verdict import FAIL, NO_VERDICT
from xlcalc.workbooks.kit import verdict_cells
from xlcalc.workbooks.proof import proof_names as here
from xlcalc.workbooks.proof import values_sheet
from xlcalc.workbooks.proof.proof_data import ORDERS, PHASES, WEEK

LEAST_HOURS: Final = 0.16
"""Between two values of 10 minutes, which are rounded to 6 digits."""
FRACTION: Final = 1.5
"""Shares of a limit, percent, up to which they are probably fractions; common practice, no source."""
DAYS_OF_WEEK: Final = 7
MOST_KNOWN: Final = 28_830
"""Values of 3 s in a day, a few more for their ticks."""


def of_values() -> str:
    """Why the week of values is not judged; empty where nothing is odd, in every phase."""
    tops = [_cells(phase, 2, 2, rows=1) for phase in range(PHASES)]
    twice = [f'AND({a}<>"",{a}={b})' for k, a in enumerate(tops) for b in tops[k + 1 :]]
    checks = [("the room of a phase holds rows of another", [_mixed(phase) for phase in range(PHASES)])]
    checks.append(("two rooms of the sheet Values hold the same phase", twice))
    for what, condition in (
        ("hours are missing on the sheet Values", _without_hours),
        ("the hours of a phase do not rise by 10 minutes: values of 3 s, or a time twice?", _close),
        ("the hours of a phase are more than a week", _long),
        ("every order of a phase is 0: is the channel connected?", _dead),
        ("the TDD of a phase is less than its orders make: is it typed as a fraction?", _low_total),
        (
            f"the fundamental of a phase stays below {LEAST_RECORDED_PCT:g} % of IL: is it the ratio of a "
            "transformer, an IL of another voltage level, or are percent typed as fractions?",
            _small,
        ),
    ):
        checks.append((what, [condition(phase) for phase in range(PHASES)]))
    told = '""'
    for text, conditions in reversed(checks):
        told = f'IF(OR({",".join(conditions)}),"{text}",{told})'
    return f'IFERROR({told},"the sheet Values holds what is no number")'


def of_days() -> str:
    """Why the list of days is not judged; empty where nothing is odd."""
    area, words = here.DAY_INPUTS, here.DAY_WORDS
    named, shares = (f"INDEX({area},0,{column})" for column in (1, 3))
    wanted = DAYS_OF_WEEK * PHASES
    return (
        f'IF(COUNTA({named})=0,"no values of 3 s",'
        f'IF(SUMPRODUCT(({named}<>"")*(COUNTIF({named},{named})>1))>0,"a day and phase stands twice",'
        f'IF(COUNTIF({shares},"<={FRACTION}")>0,'
        f'"a share of a limit is {FRACTION} % or less: is it typed as a fraction?",'
        f'IF(COUNTIF({words},"{NO_VERDICT}")>0,"a day lacks some of its 28800 values, or they are no number",'
        f'IF(COUNTA({named})<{wanted},"3 s values of "&COUNTA({named})&" of the {wanted} days and phases",'
        '"")))))'
    )


def week(words: str) -> str:
    """The verdict of the week from those of its orders."""
    return f'IF({here.VALUE_DOUBT}<>"","{NO_VERDICT}",{verdict_cells.worst([words])})'


def days() -> str:
    """The verdict of the days: any day may fail, all must be there to pass."""
    worst = verdict_cells.worst([here.DAY_WORDS])
    failed = f'COUNTIF({here.DAY_WORDS},"{FAIL}")=0'
    return f'IF(AND({here.DAY_DOUBT}<>"",{failed}),"{NO_VERDICT}",{worst})'


def _cells(phase: int, first: int, last: int, rows: int = WEEK, below: int = 0) -> str:
    """Cells of the room of a phase."""
    row = values_sheet.rows_of(phase)[0] + below
    area = names.area(row, first, row + rows - 1, last)
    return names.reference(here.VALUES, area if (rows, first) != (1, last) else area.partition(":")[0])


def _orders(phase: int) -> str:
    return _cells(phase, values_sheet.column_of(2), values_sheet.column_of(ORDERS))


def _mixed(phase: int) -> str:
    cells = _cells(phase, 2, 2)
    return f"COUNTIF({cells},{_cells(phase, 2, 2, rows=1)})<>COUNTA({cells})"


def _without_hours(phase: int) -> str:
    hours = f"COUNT({_cells(phase, 1, 1)})"
    return f"OR(COUNTA({_cells(phase, 2, 2)})<>{hours},COUNT({_total(phase)})>{hours})"


def _total(phase: int) -> str:
    return _cells(phase, values_sheet.TOTAL, values_sheet.TOTAL)


def _close(phase: int) -> str:
    before = _cells(phase, 1, 1, rows=WEEK - 1)
    after = _cells(phase, 1, 1, rows=WEEK - 1, below=1)
    return f'SUMPRODUCT(({after}<>"")*({after}-{before}<{LEAST_HOURS}))>0'


def _long(phase: int) -> str:
    hours = _cells(phase, 1, 1)
    return f"MAX({hours})-MIN({hours})>{DAYS_OF_WEEK * 24}"


def _dead(phase: int) -> str:
    orders = _orders(phase)
    return f"AND(COUNT({orders})>0,SUMSQ({orders})=0)"


def _low_total(phase: int) -> str:
    total = _total(phase)
    share = f"COUNT({total})/MAX(1,COUNT({_cells(phase, 1, 1)}))"
    return f"AND(COUNT({total})>0,SUMSQ({total})<0.5*SUMSQ({_orders(phase)})*{share})"


def _small(phase: int) -> str:
    first = _cells(phase, values_sheet.column_of(1), values_sheet.column_of(1))
    return f"AND(COUNT({first})>0,MAX({first})*{here.SCALE}<{LEAST_RECORDED_PCT:g})"
