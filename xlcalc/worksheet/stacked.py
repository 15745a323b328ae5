"""Kind of a range that holds several tables below each other, each under a row with its title."""

from __future__ import annotations

from dataclasses import dataclass

from xlcalc.errors import InputError, Place
from xlcalc.worksheet.kinds import BadValue, Kind, is_blank, one_of
from xlcalc.worksheet.places import PlacedValues, letters_of
from xlcalc.worksheet.ranges import Records, as_grid, normalised
from xlcalc.worksheet.values import Grid, Scalar, Value


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
