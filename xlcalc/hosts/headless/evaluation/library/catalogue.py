"""The ordinary functions that the library computes, by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from xlcalc.hosts.headless.evaluation.engine import Raw
from xlcalc.hosts.headless.evaluation.library import criteria, lookups
from xlcalc.hosts.headless.evaluation.library.comparing import TESTS, compare

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
    | {"_SWITCH": lookups.switch}
)
