"""Which rows of a sheet are hidden, and which of them by a filter, as far as its XML shows."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from xlcalc.recalc.cellnames import CellRange, parse_range

_ROW = re.compile(rb"<(?:[\w.-]+:)?row(?=\s)([^<>]*)>")
_HIDDEN = re.compile(rb"""\shidden\s*=\s*["'](?:1|true)["']""")
_NUMBER = re.compile(rb"""\sr\s*=\s*["'](\d+)["']""")
_ALL_HIDDEN = re.compile(rb"""<(?:[\w.-]+:)?sheetFormatPr(?=\s)[^<>]*\szeroHeight\s*=\s*["'](?:1|true)["']""")
_FILTER = re.compile(rb"<(?:[\w.-]+:)?autoFilter(?=\s)([^<>]*)>(.*?)</(?:[\w.-]+:)?autoFilter\s*>", re.DOTALL)
_REF = re.compile(rb"""\sref\s*=\s*["']([^"']+)["']""")


@dataclass(frozen=True)
class HiddenRows:
    """Hidden rows of one sheet.

    Parameters
    ----------
    rows : frozenset of int
        All of them.
    filtered : frozenset of int
        Those that lie inside a filter with conditions.
    doubtful : frozenset of int
        The others, on a sheet with such a filter: Excel takes them for filtered too.
    certain : bool
        Whether the file names every one of them.
    """

    rows: frozenset[int] = frozenset()
    filtered: frozenset[int] = frozenset()
    doubtful: frozenset[int] = frozenset()
    certain: bool = True


def hidden_rows(data: bytes, filters: Iterable[CellRange] = ()) -> HiddenRows:
    """Hidden rows from the XML of a sheet in UTF-8; `filters` are those of its tables, with conditions."""
    if _ALL_HIDDEN.search(data):
        return HiddenRows(certain=False)
    if b"hidden" not in data:
        return HiddenRows()
    rows: set[int] = set()
    for tag in _ROW.finditer(data):
        if _HIDDEN.search(tag[1]):
            number = _NUMBER.search(tag[1])
            if number is None:
                return HiddenRows(certain=False)
            rows.add(int(number[1]))
    if not rows:
        return HiddenRows()
    areas = list(filters)
    for found in _FILTER.finditer(data):
        ref = _REF.search(found[1])
        area = parse_range(ref[1].decode().replace("$", "")) if ref else None
        if b"filterColumn" in found[2] and area is not None:
            areas.append(area)
    filtered = {row for row in rows if any(area.first_row < row <= area.last_row for area in areas)}
    return HiddenRows(frozenset(rows), frozenset(filtered), frozenset(rows - filtered if areas else ()))
