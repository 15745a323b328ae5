"""What blank cells stand for, in words: every value that a study takes and nobody typed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from xlcalc.schema.fields import Field
from xlcalc.schema.kinds import Kind
from xlcalc.schema.places import PlacedValues
from xlcalc.schema.tables import NamedValues, Records, StackedTables

LISTED = 6
_BACKGROUND = re.compile(r"background \d+(st|nd|rd|th) (pct|deg)")


def assumed(declared: Sequence[Field], converted: Sequence[Any]) -> str:
    """Names whose cells are blank, with the value that counts for them, in one line.

    Parameters
    ----------
    declared : sequence of Field
        Of the function, those that are ranges of names or tables count.
    converted : sequence
        The checked value of each.

    Examples
    --------
    >>> from xlcalc.schema.kinds import Number
    >>> ratio = Field("x/r", Number(1, 50), "X/R", 10.0)
    >>> site = Field("site", NamedValues((ratio, Field("kv", Number(0, 50), "kV"))), "Site")
    >>> assumed([site], [site.convert([["kv", 11.0]])])
    'site: x/r 10'
    """
    parts = []
    for argument, value in zip(declared, converted, strict=False):
        texts = list(_texts(argument.kind, value))
        if texts:
            parts.append(f"{argument.name}: {', '.join(texts)}")
    return "; ".join(parts)


def _texts(kind: Kind, value: Any) -> Iterator[str]:
    if isinstance(kind, NamedValues) and isinstance(value, PlacedValues):
        yield from _names(kind, value)
    elif isinstance(kind, Records) and isinstance(value, tuple):
        yield from _columns(kind, value)
    elif isinstance(kind, StackedTables) and isinstance(value, Mapping):
        for section in kind.sections:
            yield from _columns(section.records, value[section.title], f" of {section.title}")


def _names(kind: NamedValues, values: PlacedValues) -> Iterator[str]:
    """Blank names; the many of the background in one text."""
    background = [field for field in kind.fields if _BACKGROUND.fullmatch(field.name)]
    blank = [field for field in background if field.name in values.blank and field.name.endswith("pct")]
    yield from (_text(f) for f in kind.fields if f.name in values.blank and f not in background)
    if blank:
        yield "background none" if 2 * len(blank) == len(background) else "background of other orders none"


def _columns(kind: Records, rows: Sequence[PlacedValues], where: str = "") -> Iterator[str]:
    """Columns with blank cells; one without a default only where some of the named rows have a value."""
    for field in kind.fields:
        blank = [row for row in rows if field.name in row.blank]
        every = len(blank) == len(rows)
        if not blank or (field.default is None and (every or not kind.key)):
            continue
        if every:
            yield f"{_text(field)}{where}"
        elif kind.key:
            yield f"{_text(field)} ({_listed(str(row.get(kind.key) or '?') for row in blank)})"
        else:
            yield f"{_text(field)} in {len(blank)} rows{where}"


def _text(field: Field) -> str:
    if field.default is None:
        return f"{field.name} none"
    shown = f"{field.default:g}" if isinstance(field.default, int | float) else str(field.default)
    return f"{field.name} {shown}"


def _listed(names: Iterable[str]) -> str:
    found = list(names)
    more = f" and {len(found) - LISTED} more" if len(found) > LISTED else ""
    return ", ".join(found[:LISTED]) + more
