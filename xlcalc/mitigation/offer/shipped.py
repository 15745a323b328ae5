"""Options whose price or spectrum is still that of the shipped table, which is invented."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Final

from xlcalc.core import resources
from xlcalc.mitigation.offer.curves import CostFormula, Curve
from xlcalc.mitigation.offer.drive_options import ActiveFilter, DriveOption
from xlcalc.mitigation.offer.physics import Residual
from xlcalc.mitigation.problem import Problem

TABLE: Final = "mitigation_options.csv"
EXAMPLE_PRICES: Final = "with example prices"


def price_note(problem: Problem) -> str:
    """A headline's words on the prices: all from the example, some of them, or nothing.

    Parameters
    ----------
    problem : Problem
        Its options and filters with a price of their own are looked at.
    """
    filters = {choice.name: choice for place in problem.filter_places for choice in place.choices}
    priced: list[DriveOption | ActiveFilter] = [
        *(o for o in problem.options if o.price != CostFormula()),
        *filters.values(),
    ]
    kept = [option for option in priced if has_example_price(option)]
    if not kept:
        return ""
    if len(kept) == len(priced):
        return EXAMPLE_PRICES
    return f"{len(kept)} of {len(priced)} prices are still those of the example"


def has_example_price(option: DriveOption | ActiveFilter) -> bool:
    """Whether price and remark are those of the shipped table."""
    known = _shipped().get(option.name)
    price: Curve = option.price if isinstance(option, DriveOption) else CostFormula(option.price)
    return known is not None and (price, option.remark) == (_price(known), known["remark"])


def example_spectra(options: Iterable[DriveOption]) -> tuple[str, ...]:
    """Names of the options whose residual spectrum has the basis of the shipped table."""
    return tuple(
        dict.fromkeys(
            option.name
            for option in options
            if isinstance(option.physics, Residual) and option.physics.basis.strip() in _bases()
        )
    )


def _price(row: Mapping[str, str]) -> CostFormula:
    return CostFormula(
        *(float(row[f"price {letter}"] or default) for letter, default in zip("abc", (0, 0, 1), strict=True))
    )


@cache
def _bases() -> frozenset[str]:
    return frozenset(row["basis"].strip() for row in _shipped().values() if row["basis"])


@cache
def _shipped() -> Mapping[str, Mapping[str, str]]:
    text = (resources.folder("demo") / TABLE).read_text(encoding="utf-8")
    return {row["option"]: row for row in csv.DictReader(text.splitlines())}
