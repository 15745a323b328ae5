"""Units that people write into headings and cells, and what they mean."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Final

QUANTITY_OF_FIELD: Final = {
    "rating": "power",
    "volts": "voltage",
    "pulses": "pulses",
    "quantity": "count",
    "filter tuned order": "order",
    "filter reactor x/r": "ratio",
    "phase shift deg": "angle",
}
"""Other fields of numbers are shares in percent where their name says so."""


@dataclass(frozen=True)
class Unit:
    """A unit of `lists/units.csv`.

    Parameters
    ----------
    word : str
        As written, without capitals; a percent sign counts as ``pct``.
    quantity : str
        What it measures.
    factor : float
        A value in this unit times `factor` is one in the unit `written`.
    written : str
        The unit that the study works in; hp and kW are both kept.
    """

    word: str
    quantity: str
    factor: float
    written: str


def quantity_of(field: str) -> str | None:
    """What a field of the schedule measures; None for a text.

    Examples
    --------
    >>> quantity_of("rating"), quantity_of("load pct"), quantity_of("tag")
    ('power', 'share', None)
    """
    return QUANTITY_OF_FIELD.get(field, "share" if field.endswith(" pct") else None)


def find_unit(word: str, quantity: str | None) -> Unit | None:
    """The unit that a word means for a quantity, if it is one.

    Examples
    --------
    >>> find_unit("HP", "power").written, find_unit("kV", "voltage").factor, find_unit("hp", "voltage")
    ('hp', 1000.0, None)
    """
    return _units().get((word.strip().casefold().replace("%", "pct"), quantity or ""))


def units_of(field: str) -> tuple[str, ...]:
    """Words that a heading or a cell of a field may have as its unit.

    Examples
    --------
    >>> units_of("volts")
    ('v', 'volt', 'volts', 'vac', 'kv')
    """
    quantity = quantity_of(field)
    return tuple("%" if word == "pct" else word for word, kind in _units() if kind == quantity)


@cache
def _units() -> dict[tuple[str, str], Unit]:
    text = (resources.files("xlcalc.schema") / "lists" / "units.csv").read_text(encoding="utf-8")
    found = (
        Unit(row["unit"], row["quantity"], float(row["factor"]), row["written"])
        for row in csv.DictReader(text.splitlines())
    )
    return {(unit.word, unit.quantity): unit for unit in found}
