"""Formulas that distinguish the example values of the comparison from typed ones."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from xlcalc.core import plausible
from xlcalc.files.books import comparison_names as here
from xlcalc.workbooks.comparison import comparison_front_ends as inputs
from xlcalc.workbooks.comparison.comparison_data import ComparisonData

EXAMPLE_SUPPLY: Final = "example_supply"
EXAMPLE_DRIVE: Final = "example_drive"
BASIS: Final = "residual_basis"
COMPARED_LENGTH: Final = 250
"""Of a text; a formula holds no longer one."""


def untouched_block(values: Mapping[str, Any]) -> str:
    """Whether all inputs of a block hold their example values."""
    return _all(f"{here.field(name)}={_constant(value)}" for name, value in values.items())


def untouched_price(data: ComparisonData, number: int) -> str:
    """Whether price, losses and remark of a front end, from 1, hold their example values."""
    values = data.front_ends[number - 1]
    columns = inputs.PRICE_HEADINGS[1:]
    given = (*values["price"], *values["loss"], inputs.MARK)
    pairs = zip(columns, given, strict=True)
    return _all(f"{inputs.price(column, number)}={_constant(value)}" for column, value in pairs)


def is_priced(data: ComparisonData, number: int) -> bool:
    """Whether the example gives a front end, from 1, a price: the plain drive is the base, without one."""
    a, b, *_ = data.front_ends[number - 1]["price"]
    return bool(a or b)


def untouched_basis(data: ComparisonData) -> str:
    """Whether the residual spectrum has the basis of the example, or none."""
    text = _constant(data.basis[:COMPARED_LENGTH])
    return f'OR({BASIS}="",LEFT({BASIS},{COMPARED_LENGTH})={text})'


def residual_in_fractions() -> str:
    """Whether even the largest order of the residual spectrum is a fraction of a percent."""
    percents = inputs.residual_percents()
    return f"AND(COUNT({percents})>0,MAX({percents})<{plausible.SPECTRUM_PCT.least:g})"


def _all(conditions: Any) -> str:
    return f"AND({','.join(conditions)})"


def _constant(value: Any) -> str:
    if isinstance(value, str):
        return '"' + value.replace('"', '""') + '"'
    return f"{value:.15g}"
