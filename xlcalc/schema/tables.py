"""Kinds of ranges that hold fields: names and values in two columns, tables with headings, stacked tables."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from xlcalc.core.errors import InputError, Place
from xlcalc.schema.fields import Field, convert_at
from xlcalc.schema.kinds import BadValue, Kind, is_blank, one_of
from xlcalc.schema.places import PlacedValues, letters_of
from xlcalc.schema.values import Grid, Scalar, Value

Values = Mapping[str, Any]
"""Checked values by name."""

Tables = Mapping[str, Sequence[Values]]
"""Checked rows of tables by title."""


def as_grid(raw: Value) -> Grid:
    """A range as rows; a single cell counts as a range of one."""
    return raw if isinstance(raw, list) else [[raw]]


def normalised(heading: Scalar) -> str:
    """A name or heading without regard to case, spaces and brackets around its unit.

    Examples
    --------
    >>> normalised("DC choke (%)"), normalised(" Rating  [kW] "), normalised("source X/R")
    ('dc choke pct', 'rating kw', 'source x/r')
    """
    return _normalised(str(heading))


@lru_cache(maxsize=4096)
def _normalised(heading: str) -> str:
    text = heading.casefold().replace("%", " pct ")
    return " ".join(re.sub(r"[()\[\],:_]", " ", text).split())


@dataclass(frozen=True)
class NamedValues(Kind):
    """Two columns, name and value; blank rows and values are passed over, an unknown name is an error."""

    fields: tuple[Field, ...]
    takes_range = True

    def field(self, name: str) -> Field:
        """The field of a name."""
        return next(field for field in self.fields if field.name == name)

    @property
    def valid(self) -> str:
        return "a range of two columns, name and value (names on the function reference sheet)"

    def show(self, converted: object) -> str:
        return "all defaults"

    @property
    def defaults(self) -> dict[str, object]:
        """Values of all names where nothing is given; required ones are absent."""
        return {f.name: f.default for f in self.fields if not f.required}

    @cached_property
    def _known(self) -> dict[str, Field]:
        return {normalised(f.name): f for f in self.fields}

    @cached_property
    def _required(self) -> frozenset[str]:
        return frozenset(key for key, f in self._known.items() if f.required)

    @cached_property
    def _all_defaults(self) -> dict[str, object]:
        return {f.name: f.default for f in self.fields}

    def recognises(self, value: Value) -> bool:
        """Whether a range looks like names of this kind with their values."""
        rows = [row for row in as_grid(value) if not is_blank([row])]
        texts = [row[0] for row in rows if isinstance(row[0], str)]
        known = sum(normalised(text) in self._known for text in texts)
        return known > 0 and 2 * known >= len(rows)

    def convert(self, value: Value, name: str) -> PlacedValues:
        known = self._known
        raw: dict[str, tuple[Value, Place]] = {}
        for number, row in enumerate(as_grid(value), start=1):
            if is_blank([row]):
                continue
            if len(row) != 2:
                raise InputError(name, f"a range of {len(row)} columns", self.valid)
            key = normalised(row[0]) if row[0] is not None else ""
            if key not in known:
                raise InputError(
                    f"name in {name}",
                    repr(str(row[0])) if key else None,
                    one_of(list(known), key),
                    wrong_kind=True,
                    why="which is no known name" if key else "",
                    place=Place(row=number, column=1, field="a name"),
                )
            if key in raw:
                place = Place(row=number, column=1, field="a name")
                raise InputError(f"name in {name}", f"{key} twice", "each name once", place=place)
            raw[key] = row[1], Place(row=number, column=2, field=known[key].name)
        values = dict(self._all_defaults)
        places: dict[str, Place] = {}
        for key in [key for key in known if key in raw or key in self._required]:
            field = known[key]
            cell, place = raw.get(key, (None, Place()))
            values[field.name] = convert_at(field, cell, f"{field.name} in {name}", place)
            places[field.name] = place
        typed = {known[key].name for key, (cell, _) in raw.items() if not is_blank(cell)}
        return PlacedValues(values, places, values.keys() - typed)

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        first = self.fields[0].name
        return (
            BadValue("text", True),
            BadValue([["no such name", 1.0]], True),
            BadValue([[first, 1.0, 2.0]], True),
        )


@dataclass(frozen=True)
class Records(Kind):
    """A table with a heading row; blank rows are passed over, an unknown or missing column is an error.

    A value of the column `key` may come once; an empty `key` lets rows repeat.
    """

    fields: tuple[Field, ...]
    key: str
    notes: tuple[str, ...] = ("description", "note", "notes")
    takes_range = True

    def field(self, name: str) -> Field:
        """The column of a name."""
        return next(field for field in self.fields if field.name == name)

    @property
    def valid(self) -> str:
        return "a table with a heading row (columns on the function reference sheet)"

    def convert(self, value: Value, name: str) -> tuple[PlacedValues, ...]:
        return self.records(as_grid(value), name)

    def recognises(self, value: Value) -> bool:
        """Whether a range looks like a table of this kind."""
        headings = [heading for heading in headings_of(as_grid(value)) if heading]
        names = {normalised(f.name) for f in self.fields}
        known = sum(heading in names for heading in headings)
        return known >= min(2, len(names)) and 2 * known >= len(headings)

    def records(
        self, rows: Grid, name: str, heading_row: int = 1, letters: tuple[str, ...] = ()
    ) -> tuple[PlacedValues, ...]:
        """Records of a table whose headings stand in row `heading_row` of what the user sees.

        With the letters of its columns, errors name cells too.
        """
        headings = headings_of(rows)
        cell_of = dict(zip(headings, letters, strict=False))
        column_of = {heading: k for k, heading in enumerate(headings, start=1)}
        known = {normalised(f.name): f for f in self.fields}
        self._check_headings(rows, headings, known, name, heading_row)
        records = []
        seen: set[str] = set()
        for number, row in enumerate(rows[1:], start=heading_row + 1):
            if is_blank([row]):
                continue
            cells = dict(zip(headings, row, strict=True))
            where = f"row {number} of {name}"
            cell_names = {k: f"cell {letter}{number}, " for k, letter in cell_of.items()}
            places = {
                f.name: Place(row=number, column=column_of.get(k), field=f.name) for k, f in known.items()
            }
            record = {
                f.name: convert_at(
                    f, cells.get(k), f"{f.name} in {cell_names.get(k, '')}{where}", places[f.name]
                )
                for k, f in known.items()
            }
            key = str(record[self.key]) if self.key else ""
            if key.casefold() in seen and self.key:
                raise InputError(
                    f"{self.key} in {where}",
                    repr(key),
                    f"each {self.key} once",
                    why="which stands above already",
                    place=places[self.key],
                )
            seen.add(key.casefold())
            blank = (f.name for k, f in known.items() if is_blank(cells.get(k)))
            records.append(PlacedValues(record, places, blank))
        if not records:
            raise InputError(name, "without rows", self.valid)
        return tuple(records)

    def _check_headings(
        self, rows: Grid, headings: list[str], known: Mapping[str, Field], name: str, heading_row: int
    ) -> None:
        for column, (original, heading) in enumerate(zip(rows[0], headings, strict=True), start=1):
            place = Place(row=heading_row, column=column, field="a heading")
            if heading and heading not in known and heading not in self.notes:
                raise InputError(
                    f"heading in {name}",
                    repr(str(original)),
                    one_of(list(known), heading),
                    why="which is no known heading",
                    place=place,
                )
            if heading and heading in headings[: column - 1]:
                raise InputError(
                    f"heading in {name}",
                    f"{str(original)!r} twice",
                    "each column once",
                    why="of which the first stands further left",
                    place=place,
                )
            filled = [] if heading else [n for n, row in enumerate(rows) if not is_blank(row[column - 1])]
            if filled:
                raise InputError(
                    f"cell without a heading in row {filled[0] + heading_row} of {name}",
                    repr(rows[filled[0]][column - 1]),
                    "blank, or a heading above it",
                    wrong_kind=True,
                    place=Place(
                        row=filled[0] + heading_row, column=column, field="a value without a heading"
                    ),
                )
        missing = [f.name for k, f in known.items() if f.required and k not in headings]
        if missing:
            message = f"column {missing[0]} in {name} is missing; valid: a heading row with this column"
            raise InputError(
                f"column {missing[0]} in {name}",
                None,
                "a heading row with this column",
                wrong_kind=True,
                place=Place(row=heading_row),
                message=message,
            )

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        required = [f.name for f in self.fields if f.required]
        return (
            BadValue("text", True),
            BadValue([["no such column"], [1.0]], True),
            BadValue([list(required[1:]), [1.0 for _ in required[1:]]], True),
            BadValue([list(required)], True),
        )


def headings_of(rows: Grid) -> list[str]:
    """Normalised headings of a table; empty where a column has none."""
    return [normalised(cell) if not is_blank(cell) else "" for cell in rows[0]]


@dataclass(frozen=True)
class Section:
    """One table of a stack: its title and its columns."""

    title: str
    records: Records
    required: bool = False


@dataclass(frozen=True)
class StackedTables(Kind):
    """Tables below each other: a row with the title alone, a row of headings, the rows; blank rows anywhere.

    What stands above the first title is passed over. Errors count from the first cell of the range, so that
    they name cells of the sheet where the range begins in A1. A record has its row as ``row`` and the letters
    of its columns, by normalised heading, as ``columns``.
    """

    sections: tuple[Section, ...]
    takes_range = True

    @property
    def valid(self) -> str:
        return "tables below each other, each under its title (see the function reference sheet)"

    def convert(self, value: Value, name: str) -> dict[str, tuple[PlacedValues, ...]]:
        rows = as_grid(value)
        if not isinstance(value, list):
            raise InputError(name, repr(value), self.valid, wrong_kind=True)
        found = self._found(rows, name)
        tables: dict[str, tuple[PlacedValues, ...]] = {}
        for section in self.sections:
            if section.title not in found:
                tables[section.title] = self._none(section, name)
                continue
            first, body = found[section.title]
            label = f"table {section.title} of {name}"
            filled = [k for k, row in enumerate(body) if not is_blank([row])]
            if len(filled) < 2:
                tables[section.title] = self._none(section, name)
                continue
            body = _trimmed(body[filled[0] :], label, first + filled[0])
            letters = tuple(letters_of(k) for k in range(1, len(body[0]) + 1))
            records = section.records.records(body, label, first + filled[0], letters)
            columns = dict(zip(map(normalised, body[0]), letters, strict=True))
            numbers = (first + k for k in filled[1:])
            tables[section.title] = tuple(
                PlacedValues({**record, "row": number, "columns": columns}, record.places, record.blank)
                for record, number in zip(records, numbers, strict=True)
            )
        return tables

    def recognises(self, value: Value) -> bool:
        """Whether a range holds the title of one of the tables."""
        titles = {normalised(section.title) for section in self.sections}
        return isinstance(value, list) and any(_title(row) in titles for row in value)

    def _found(self, rows: Grid, name: str) -> dict[str, tuple[int, Grid]]:
        """First row and rows of each table, its title left out."""
        titles = {normalised(section.title): section.title for section in self.sections}
        starts: list[tuple[int, str]] = []
        for number, row in enumerate(rows, start=1):
            key = _title(row)
            if key in titles:
                if any(title == titles[key] for _, title in starts):
                    raise InputError(
                        f"title in row {number} of {name}",
                        f"{row[0]} twice",
                        "each table once",
                        place=Place(row=number, column=1, field="a title"),
                    )
                starts.append((number, titles[key]))
        if not starts:
            given = next((_title(row) for row in rows if _title(row)), "")
            raise InputError(
                f"tables of {name}", given or "missing", one_of(list(titles), given), wrong_kind=True
            )
        ends = [number - 1 for number, _ in starts[1:]] + [len(rows)]
        return {
            title: (number + 1, rows[number:end]) for (number, title), end in zip(starts, ends, strict=True)
        }

    def _none(self, section: Section, name: str) -> tuple[PlacedValues, ...]:
        if section.required:
            raise InputError(f"table {section.title} of {name}", None, "one row or more", wrong_kind=True)
        return ()

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        first = self.sections[0]
        headings: list[Scalar] = [field.name for field in first.records.fields]
        blank: list[Scalar] = [""] * (len(headings) - 1)
        return (
            BadValue("text", True),
            BadValue([["no such table"], [1.0]], True),
            BadValue([[first.title, *blank], headings], True),
            BadValue([[first.title, *blank], ["no such column", *blank], ["x", *blank]], True),
        )


def _title(row: list[Scalar]) -> str:
    """The one text of a row that holds nothing else, in its first cell."""
    if is_blank(row[0]) or not is_blank([row[1:]]):
        return ""
    return normalised(row[0])


def _trimmed(rows: Grid, label: str, heading_row: int) -> Grid:
    """The columns that have a heading; a value beside them is an error."""
    width = max(k for k, cell in enumerate(rows[0], start=1) if not is_blank(cell))
    for number, row in enumerate(rows[1:], start=heading_row + 1):
        for column, cell in enumerate(row[width:], start=width + 1):
            if not is_blank(cell):
                raise InputError(
                    f"cell without a heading in row {number} of {label}",
                    repr(cell) if isinstance(cell, str) else cell,
                    "blank",
                    wrong_kind=True,
                    why="under no heading",
                    place=Place(row=number, column=column),
                )
    return [row[:width] for row in rows]


def stacked_grid(kind: StackedTables, content: Mapping[str, Any]) -> Grid:
    """Lists of rows by title, as a TOML file has them, in the form that a sheet has."""
    rows: Grid = []
    for section in kind.sections:
        records = content.get(section.title)
        if records:
            headings = list(dict.fromkeys(key for record in records for key in record))
            rows += [[section.title], [*headings], *([r.get(key) for key in headings] for r in records)]
    width = max((len(row) for row in rows), default=1)
    return [[*row, *[None] * (width - len(row))] for row in rows]
