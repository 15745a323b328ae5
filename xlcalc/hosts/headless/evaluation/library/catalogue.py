"""The ordinary functions that the library computes, by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from xlcalc.hosts.headless.evaluation.engine import Raw
from xlcalc.hosts.headless.evaluation.library import (
    aggregates,
    arithmetic,
    calendar,
    criteria,
    engineering,
    finance,
    lookups,
    rounding,
    texts,
)
from xlcalc.hosts.headless.evaluation.library.comparing import TESTS, compare
from xlcalc.hosts.headless.evaluation.library.values import number

COMPARING: Mapping[str, str] = MappingProxyType(
    {"=": "_EQ", "<>": "_NE", "<": "_LT", "<=": "_LE", ">": "_GT", ">=": "_GE"}
)
"""Comparison operators and the functions that stand for them."""

KEEPING = frozenset(lookups.FUNCTIONS) | frozenset(criteria.FUNCTIONS)
"""Functions that take the cells of a range as they are kept for all formulas."""

LIBRARY: Mapping[str, Callable[..., Raw]] = MappingProxyType(
    {COMPARING[operator]: compare(operator) for operator in TESTS}
    | lookups.FUNCTIONS
    | criteria.FUNCTIONS
    | aggregates.FUNCTIONS
    | arithmetic.FUNCTIONS
    | calendar.FUNCTIONS
    | engineering.FUNCTIONS
    | finance.FUNCTIONS
    | rounding.FUNCTIONS
    | texts.FUNCTIONS
    | {"_SWITCH": lookups.switch, "_INDEX": number}
)

CALENDAR = frozenset(calendar.FUNCTIONS)
"""Functions that count the days from 1900."""

FROM_1904 = frozenset({"DATE", "TIME", "NETWORKDAYS", "WORKDAY"})
"""Those of them that the engine computes in workbooks that count from 1904."""

DEFAULTING = frozenset({"ADDRESS", "XLOOKUP", "NETWORKDAYS.INTL", "WORKDAY.INTL"})
"""Functions for which an argument left out between commas is not the same as a blank one."""

COUNTING_CELLS = frozenset(criteria.FUNCTIONS)
"""Functions that take cells and no computed arrays."""
