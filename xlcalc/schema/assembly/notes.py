"""What a reader must know of the inputs: blank cells that stand for something, untouched examples.

The shipped files themselves are read; nothing of them stands here.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

from xlcalc.core import resources
from xlcalc.files.toml import read_toml
from xlcalc.schema.assembly.drive import assumed_efficiencies
from xlcalc.schema.inputs.drive import DRIVES, PLANT_DRIVES
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.inputs.site import SITE
from xlcalc.schema.places import PlacedValues, place_of
from xlcalc.schema.tables import Records, Tables, Values, stacked_grid
from xlcalc.schema.values import Grid, Scalar

FILLED_IN: Final = {"quantity": "1", "bus": "main", "load pct": "100"}
"""Columns of drives whose blank cells stand for something, and for what."""

ALWAYS: Final = ("quantity",)
"""Those that are named even where the whole column is blank, if it has a heading."""

SHOWN_TAGS = 6


def blank_cells(drives: Sequence[Mapping[str, Any]]) -> str:
    """A sentence on the blank cells of drives; empty where there are none to report.

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


TEMPLATE, DEMO = "template", "demo"
SITES: Final = {"starter_site.toml": TEMPLATE, "site.toml": DEMO}
PLANTS: Final = {"starter_plant.toml": TEMPLATE, "plant.toml": DEMO}
DRIVE_LISTS: Final = ("starter_drives.csv", "drives.csv")
PLANT_DRIVE_LISTS: Final = ("starter_plant_drives.csv", "plant_drives.csv")
SHOWN_TAGS = 6


@dataclass(frozen=True)
class Notes:
    """What a reader of a verdict must know of its inputs.

    Parameters
    ----------
    remarks : tuple of str
        What qualifies the verdict.
    doubts : tuple of str
        Why there can be none.
    """

    remarks: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()


def notes_on_site(site: Values, drives: Sequence[Values]) -> Notes:
    """Notes on a site with its drives.

    Parameters
    ----------
    site : mapping
        Checked values of `site`.
    drives : sequence of mapping
        Checked rows of `drives`.
    """
    assumed = (assumed_efficiencies(drives), blank_cells(drives), blank_site_cells(site))
    return notes("site", site_kind(site), example_drives(drives), len(drives), *assumed)


def notes_on_plant(tables: Tables, drives: Sequence[Values]) -> Notes:
    """Notes on a plant with its drives; parameters as the functions of plants take them, checked."""
    examples = example_drives(drives, of_plant=True)
    assumed = (assumed_efficiencies(drives), blank_cells(drives))
    return notes("plant", plant_kind(tables), examples, len(drives), *assumed)


def site_kind(site: Values) -> str:
    """Whether a site is that of a template or of a demo in every value; empty for any other."""
    return next((kind for kind, values in _sites() if dict(site) == values), "")


def plant_kind(tables: Tables) -> str:
    """The same for the network of a plant."""
    given = _plain(tables)
    return next((kind for kind, known in _plants() if given == known), "")


def example_drives(drives: Iterable[Values], *, of_plant: bool = False) -> tuple[str, ...]:
    """Tags of the rows that are those of a shipped example in every value."""
    known = _drives(of_plant)
    return tuple(
        str(row["tag"])
        for row in drives
        if (example := known.get(str(row["tag"]))) is not None
        and all(_same(row[name], value) for name, value in example.items())
    )


def _same(value: Any, other: Any) -> bool:
    """Whether two cells hold the same; NaN is how a table of rows leaves one blank."""
    return bool(value == other or (other is None and value != value))


def example_tags(*, of_plant: bool = False) -> frozenset[str]:
    """Tags that the shipped examples use, so that large schedules compare few rows."""
    return frozenset(_drives(of_plant))


def notes(what: str, shipped: str, examples: Sequence[str], drives: int, *assumed: str) -> Notes:
    """Notes in words.

    Parameters
    ----------
    what : str
        "site" or "plant".
    shipped : str
        As `site_kind` gives it.
    examples : sequence of str
        Tags of example drives.
    drives : int
        All rows of the schedule.
    assumed : str
        As `assumed_efficiencies` and `blank_cells` give it.
    """
    remarks, doubts = [], []
    if shipped == TEMPLATE:
        remarks.append(f"example {what}: every value is that of the template")
        if drives and not examples:
            doubts.append(f"the {what} is the example of the template; type the values of your own {what}")
    elif shipped == DEMO:
        remarks.append(f"example {what}: every value is that of the invented demo")
    if examples and len(examples) == drives:
        remarks.append("example drives: every row is one of the shipped examples")
    elif examples:
        more = f" and {len(examples) - SHOWN_TAGS} more" if len(examples) > SHOWN_TAGS else ""
        remarks.append(f"example drives among others: {', '.join(examples[:SHOWN_TAGS])}{more}")
    return Notes((*remarks, *(text for text in assumed if text)), tuple(doubts))


@cache
def _sites() -> tuple[tuple[str, Values], ...]:
    return tuple(
        (kind, dict(SITE.convert([[k, v] for k, v in _toml(name)["site"].items()], name)))
        for name, kind in SITES.items()
    )


@cache
def _plants() -> tuple[tuple[str, Mapping[str, object]], ...]:
    return tuple(
        (kind, _plain(NETWORK.convert(stacked_grid(NETWORK, _toml(name)), name)))
        for name, kind in PLANTS.items()
    )


@cache
def _drives(of_plant: bool) -> Mapping[str, Values]:
    """Rows of the examples by tag, those columns that are part of the study."""
    kind, names = (PLANT_DRIVES, PLANT_DRIVE_LISTS) if of_plant else (DRIVES, DRIVE_LISTS)
    rows = (row for name in names for row in _schedule(kind, resources.folder("demo") / name))
    return {str(row["tag"]): dict(row) for row in rows}


def _schedule(kind: Records, path: Path) -> Sequence[Values]:
    with path.open(encoding="utf-8", newline="") as lines:
        rows: Grid = [[_cell(text) for text in row] for row in csv.reader(lines)]
    return kind.convert(rows, path.name)


def _cell(text: str) -> Scalar:
    try:
        return float(text)
    except ValueError:
        return text.strip() or None


def _toml(name: str) -> dict[str, Any]:
    return read_toml(resources.folder("demo") / name)


def _plain(tables: Tables) -> dict[str, object]:
    """Values of a network without where they stand."""
    return {
        section.title: [
            tuple(row[field.name] for field in section.records.fields) for row in tables[section.title]
        ]
        for section in NETWORK.sections
    }
