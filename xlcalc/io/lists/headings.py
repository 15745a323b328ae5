"""Headings of a drive schedule as people write them, from the list in `lists/headings.csv`."""

from __future__ import annotations

import csv
import difflib
import re
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Final

from xlcalc.io.lists.units import Unit, find_unit, quantity_of
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.tables import normalised

CLOSE: Final = 0.84
"""A heading at least this similar to a known one is taken for a misspelling, not for another column."""

_SEPARATORS: Final = str.maketrans(".;-–\n", "     ")
_BRACKETS: Final = re.compile(r"(?P<name>[^([]+)[([](?P<unit>[^)\]]+)[)\]]")
EXTRA_FIELDS: Final = ("site", "description", "volts")
FIELDS: Final = (*(field.name for field in DRIVES.fields), *EXTRA_FIELDS)


@dataclass(frozen=True)
class Heading:
    """What a heading means.

    Parameters
    ----------
    field : str
        Column of the schedule.
    unit : Unit or None
        Unit that the heading names.
    """

    field: str
    unit: Unit | None = None


def recognise(text: str) -> Heading | None:
    """The column that a heading means, with its unit; None for a heading that is not in the list.

    Examples
    --------
    >>> recognise("Motor rating [HP]").unit.written, recognise("Qty.").field, recognise("DC choke, %").field
    ('hp', 'quantity', 'dc choke pct')
    >>> recognise("Colour") is None
    True
    """
    whole = _plain(text)
    known = _known()
    if whole in known:
        return known[whole]
    name, _, last = whole.rpartition(" ")
    name = name.removesuffix(" in")
    if name in known:
        heading = known[name]
        unit = find_unit(last, quantity_of(heading.field))
        if unit is not None and heading.unit in (None, unit):
            return Heading(heading.field, unit)
    return None


def close_to(text: str) -> str | None:
    """The known heading that an unknown one is probably a misspelling of.

    Examples
    --------
    >>> close_to("Line reacter (%)"), close_to("Cable length")
    ('line reactor pct', None)
    """
    found = difflib.get_close_matches(_plain(text), list(_known()), n=1, cutoff=CLOSE)
    return found[0] if found else None


def unknown_unit(text: str) -> tuple[str, str] | None:
    """Column and unit of a heading that names a known column of numbers with a unit in brackets which it
    cannot have.

    Examples
    --------
    >>> unknown_unit("Line reactor (mH)"), unknown_unit("Line reactor (%)"), unknown_unit("Cable (m)")
    (('line reactor pct', 'mH'), None, None)
    """
    found = _BRACKETS.fullmatch(text.strip())
    if found is None or recognise(text) is not None:
        return None
    heading = recognise(found["name"])
    if heading is None or quantity_of(heading.field) is None:
        return None
    return heading.field, found["unit"].strip()


def list_of_headings() -> dict[str, tuple[str, ...]]:
    """Known headings by column, for the documentation."""
    listed: dict[str, list[str]] = {field: [] for field in FIELDS}
    for text, heading in _known().items():
        listed[heading.field].append(text)
    return {field: tuple(texts) for field, texts in listed.items()}


def _plain(text: str) -> str:
    return normalised(text.replace("#", " no ").translate(_SEPARATORS))


@cache
def _known() -> dict[str, Heading]:
    percent = find_unit("%", "share")
    known = {_plain(f): Heading(f, percent if f.endswith(" pct") else None) for f in FIELDS}
    text = (resources.files("xlcalc.schema") / "lists" / "headings.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(text.splitlines()):
        unit = find_unit(row["unit"], quantity_of(row["field"])) if row["unit"] else None
        known[_plain(row["heading"])] = Heading(row["field"], unit)
    return known
