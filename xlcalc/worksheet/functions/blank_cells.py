"""Blank cells that a study fills in silently where other rows of the same column were typed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from xlcalc.worksheet.places import PlacedValues, place_of

FILLED_IN: Final = {"quantity": "1", "bus": "main", "load pct": "100"}
"""Columns of drives whose blank cells stand for something, and for what."""
ALWAYS: Final = ("quantity",)
"""Those that are named even where the whole column is blank, if it has a heading."""
SHOWN_TAGS = 6


def blank_cells(drives: Sequence[Mapping[str, Any]]) -> str:
    """A sentence on the blank cells of drives; empty where there are none to be told.

    Parameters
    ----------
    drives : sequence of mapping
        Checked rows of `drives` with their places; others are taken as typed in every cell.
    """
    parts = []
    for name in FILLED_IN:
        blank = [row for row in drives if isinstance(row, PlacedValues) and name in row.blank]
        place = place_of(blank[0], name) if blank else None
        headed = place is not None and place.column is not None
        whole = len(blank) == len(drives)
        if blank and headed and (name in ALWAYS or not whole):
            parts.append(in_words(name, [] if whole else [str(row["tag"]) for row in blank]))
    return sentence(parts)


def in_words(name: str, tags: Sequence[str]) -> str:
    """One column in words; without `tags` all rows."""
    more = f" and {len(tags) - SHOWN_TAGS} more" if len(tags) > SHOWN_TAGS else ""
    shown = f"{', '.join(tags[:SHOWN_TAGS])}{more}" if tags else "all rows"
    return f"{name} {FILLED_IN[name]} ({shown})"


def sentence(parts: Iterable[str]) -> str:
    """The columns of a schedule in one sentence.

    Examples
    --------
    >>> sentence([in_words("quantity", ["P1", "P2"])])
    'blank cells taken as: quantity 1 (P1, P2)'
    """
    text = ", ".join(parts)
    return f"blank cells taken as: {text}" if text else ""


def blank_site_cells(site: Mapping[str, Any]) -> str:
    """The same for the place where a site is judged."""
    place = place_of(site, "pcc")
    blank = isinstance(site, PlacedValues) and "pcc" in site.blank
    return f"PCC is blank: judged at the {site['pcc']}" if blank and place is not None else ""
