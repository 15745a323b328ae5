"""Kinds of ranges: spectra, named values in two columns, and tables with a heading row."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from xlcalc.errors import InputError, Place
from xlcalc.spectrum import MAX_ORDER, FloatArray, ListedSpectrum, Spectrum
from xlcalc.worksheet.arguments import Argument, convert_at
from xlcalc.worksheet.kinds import BadValue, Kind, is_blank, one_of
from xlcalc.worksheet.places import PlacedValues
from xlcalc.worksheet.values import Grid, Scalar, Value, all_numbers

_STARTS_AS_NUMBER = re.compile(r"[\s+\-.,]*\d")


def _spectrum_of(numbers: FloatArray) -> ListedSpectrum:
    """Spectrum of rows of order, magnitude and, if given, angle in degrees."""
    phasors = np.zeros(MAX_ORDER, dtype=np.complex128)
    angles = numbers[:, 2] if numbers.shape[1] > 2 else np.zeros(len(numbers))
    orders = numbers[:, 0].astype(int)
    phasors[orders - 1] = numbers[:, 1] * np.exp(1j * np.radians(angles))
    return ListedSpectrum(phasors, frozenset(orders.tolist()))


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


def _is_heading(row: list[Scalar]) -> bool:
    """Whether a row holds words only: numbers typed as text are data that would be lost."""
    words = [cell for cell in row if not is_blank(cell)]
    return all(isinstance(word, str) and not _STARTS_AS_NUMBER.match(word) for word in words)


@dataclass(frozen=True)
class SpectrumRange(Kind):
    """A spectrum: rows of order, magnitude, angle in degrees; a heading row and blank rows are passed over.

    An order without a row, or with a blank magnitude, is not given.
    """

    needs_angle: bool = False
    takes_range = True

    @property
    def valid(self) -> str:
        angle = "angle deg" if self.needs_angle else "[angle deg]"
        return f"a range with columns order (1 to {MAX_ORDER}), magnitude, {angle}"

    def convert(self, value: Value, name: str) -> ListedSpectrum:
        rows = as_grid(value)
        if all_numbers(rows) and self._is_sound(numbers := np.array(rows)):
            return _spectrum_of(numbers)
        return self._converted_row_by_row(rows, name)

    def _is_sound(self, numbers: FloatArray) -> bool:
        if numbers.shape[1] < (3 if self.needs_angle else 2) or numbers[:, 1].min() < 0:
            return False
        orders = numbers[:, 0]
        in_range = orders.min() >= 1 and orders.max() <= MAX_ORDER
        return bool(in_range and (orders == np.floor(orders)).all() and len(set(orders)) == len(orders))

    def _converted_row_by_row(self, all_rows: Grid, name: str) -> ListedSpectrum:
        """The same for any spelling; the first cell that is wrong is named."""
        rows = [(number, row) for number, row in enumerate(all_rows, start=1) if not is_blank([row])]
        if rows and _is_heading(rows[0][1]):
            rows = rows[1:]
        if not rows:
            raise InputError(name, "without numbers", self.valid)
        width = len(rows[0][1])
        if width < (3 if self.needs_angle else 2):
            raise InputError(name, f"a range of {width} columns", self.valid)
        seen: set[int] = set()
        listed: list[list[float]] = []
        for number, row in rows:
            order_cell = Place(row=number, column=1, field="order")
            order = self._number(row[0], f"order in {name}", order_cell)
            if order != int(order) or not 1 <= order <= MAX_ORDER:
                valid = f"a whole number from 1 to {MAX_ORDER}"
                raise InputError(f"order in {name}", order, valid, place=order_cell)
            if int(order) in seen:
                twice = f"{order:g} twice"
                raise InputError(f"order in {name}", twice, "each order once", place=order_cell)
            seen.add(int(order))
            if is_blank(row[1]):
                continue
            magnitude_cell = Place(row=number, column=2, field="magnitude")
            what = f"magnitude of order {order:g} in {name}"
            magnitude = self._number(row[1], what, magnitude_cell)
            if magnitude < 0:
                raise InputError(what, magnitude, "0 or more", place=magnitude_cell)
            angle = 0.0
            if width > 2 and (self.needs_angle or not is_blank(row[2])):
                what = f"angle of order {order:g} in {name}"
                angle = self._number(row[2], what, Place(row=number, column=3, field="angle deg"))
            listed.append([order, magnitude, angle])
        if not listed:
            raise InputError(name, "without a magnitude", self.valid)
        return _spectrum_of(np.array(listed))

    def _number(self, cell: Scalar, name: str, place: Place) -> float:
        if is_blank(cell):
            raise InputError(name, None, self.valid, place=place)
        if isinstance(cell, bool) or not isinstance(cell, int | float):
            why = "which is no number"
            raise InputError(name, repr(cell), self.valid, wrong_kind=True, why=why, place=place)
        if not math.isfinite(cell):
            raise InputError(name, cell, self.valid, place=place)
        return float(cell)

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        return (
            BadValue("text", True),
            BadValue([[1.0, "text", 0.0]], True),
            BadValue([[1.0]], True),
            BadValue([[1.0, 100.0, 0.0], [5.0, -20.0, 0.0]], False),
            BadValue([[1.0, 100.0, 0.0], [0.5, 20.0, 0.0]], False),
            BadValue([[1.0, 100.0, 0.0], [1.0, 100.0, 0.0]], True),
        )


@dataclass(frozen=True)
class NamedValues(Kind):
    """Two columns, name and value; blank rows and values are passed over, an unknown name is an error."""

    fields: tuple[Argument, ...]
    takes_range = True

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
    def _known(self) -> dict[str, Argument]:
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

    fields: tuple[Argument, ...]
    key: str
    notes: tuple[str, ...] = ("description", "note", "notes")
    takes_range = True

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
        self, rows: Grid, headings: list[str], known: Mapping[str, Argument], name: str, heading_row: int
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
            filled = [n for n, line in enumerate(rows) if not is_blank([[line[column - 1]]])]
            if not heading and filled:
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


def spectrum_rows(spectrum: Spectrum, magnitude: np.ndarray | None = None) -> Grid:
    """Rows of order, magnitude and angle in degrees for orders 1..n, ready for cells."""
    shown = spectrum.magnitude if magnitude is None else magnitude
    columns = (spectrum.orders.tolist(), shown.tolist(), spectrum.angle_deg.tolist())
    return [[float(order), size, angle] for order, size, angle in zip(*columns, strict=True)]
