"""The ordinary functions that the library computes, by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library import aggregates, arithmetic, calendar, cells, rounding, vectors
from xlcalc.recalc.evaluation.library.comparing import NAMES
from xlcalc.recalc.evaluation.library.engineering import bases, complex_numbers, numerals, special, units
from xlcalc.recalc.evaluation.library.lists import criteria, databases, lookups, ordering, shapes
from xlcalc.recalc.evaluation.library.money import depreciation, finance
from xlcalc.recalc.evaluation.library.statistics import discrete, distributions, regression, samples
from xlcalc.recalc.evaluation.library.text import splitting, texts
from xlcalc.recalc.evaluation.library.values import number

COMPARING: Mapping[str, str] = MappingProxyType(NAMES)
"""Comparison operators and the functions that stand for them."""

KEEPING = (
    frozenset(lookups.FUNCTIONS)
    | frozenset(criteria.FUNCTIONS)
    | aggregates.KEEPING
    | {"PERCENTRANK", "PERCENTRANK.INC", "PERCENTRANK.EXC"}
)
"""Functions that take the cells of a range as they are kept for all formulas."""

LIBRARY: Mapping[str, Callable[..., Raw]] = MappingProxyType(
    lookups.FUNCTIONS
    | criteria.FUNCTIONS
    | aggregates.FUNCTIONS
    | calendar.FUNCTIONS
    | complex_numbers.FUNCTIONS
    | databases.FUNCTIONS
    | depreciation.FUNCTIONS
    | discrete.FUNCTIONS
    | distributions.FUNCTIONS
    | bases.FUNCTIONS
    | finance.FUNCTIONS
    | numerals.FUNCTIONS
    | ordering.FUNCTIONS
    | regression.FUNCTIONS
    | rounding.FUNCTIONS
    | samples.FUNCTIONS
    | shapes.FUNCTIONS
    | special.FUNCTIONS
    | splitting.FUNCTIONS
    | texts.FUNCTIONS
    | units.FUNCTIONS
    | vectors.FUNCTIONS
    | {
        "_CASE": lookups.switch,
        "_SWITCH": lookups.switched,
        "_INDEX": number,
        "POWER": arithmetic.between("^"),
        **{name: arithmetic.last(operator) for operator, name in arithmetic.LAST.items()},
        "_CELLTYPE": cells.kind_of_cell,
        "TYPE": cells.kind_of_value,
    }
)

CALENDAR = frozenset(calendar.FUNCTIONS)
"""Functions that count the days from 1900."""

FROM_1904 = frozenset({"DATE", "TIME", "NETWORKDAYS", "WORKDAY", "EDATE", "EOMONTH", "WEEKDAY"})
"""Those of them that the engine computes in workbooks that count from 1904."""

DEFAULTING = frozenset(
    "ADDRESS XLOOKUP NETWORKDAYS.INTL WORKDAY.INTL LINEST LOGEST TREND GROWTH DCOUNT DCOUNTA TEXTBEFORE "
    "TEXTAFTER TEXTSPLIT SORT SORTBY UNIQUE FILTER _PICKED WRAPROWS WRAPCOLS EXPAND TAKE DROP SEQUENCE TOCOL "
    "TOROW".split()
)
"""Functions for which an argument left out between commas is not the same as a blank one."""

ADD_IN = frozenset(
    "BESSELI BESSELJ BESSELK BESSELY COMPLEX CONVERT CUMIPMT CUMPRINC DELTA DOLLARDE DOLLARFR EDATE EFFECT "
    "EOMONTH ERF ERFC FACTDOUBLE GESTEP ISEVEN ISODD MROUND NETWORKDAYS NOMINAL QUOTIENT RANDBETWEEN SQRTPI "
    "WEEKNUM WORKDAY YEARFRAC".split()
) | frozenset(name for name in LIBRARY if name.startswith(("IM", "BIN2", "OCT2", "DEC2", "HEX2")))
"""Functions that once came with an add-in: several cells in place of one value are #VALUE! in Excel."""

COUNTING_CELLS = frozenset(criteria.FUNCTIONS)
"""Functions that take cells and no computed arrays."""

VECTORS = frozenset(vectors.FUNCTIONS) | {"_EACH", "_ROW", "_COLUMN", "_SUBTOTALS"}
"""Functions that take and give arrays as they stay in Python between the steps of a formula."""
