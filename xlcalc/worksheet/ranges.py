"""Kinds of ranges: spectra, named values in two columns, and tables with a heading row."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from xlcalc.errors import InputError
from xlcalc.spectrum import MAX_ORDER, FloatArray, Spectrum
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.kinds import BadValue, Kind, is_blank, one_of
from xlcalc.worksheet.values import Grid, Scalar, Value, all_numbers


def _spectrum_of(numbers: FloatArray) -> Spectrum:
    """Spectrum of rows of order, magnitude and, if given, angle in degrees."""
    phasors = np.zeros(MAX_ORDER, dtype=np.complex128)
    angles = numbers[:, 2] if numbers.shape[1] > 2 else np.zeros(len(numbers))
    phasors[numbers[:, 0].astype(int) - 1] = numbers[:, 1] * np.exp(1j * np.radians(angles))
    return Spectrum(phasors)


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
class SpectrumRange(Kind):
    """A spectrum: rows of order, magnitude, angle in degrees; heading and blank rows are passed over."""

    needs_angle: bool = False
    takes_range = True

    @property
    def valid(self) -> str:
        angle = "angle deg" if self.needs_angle else "[angle deg]"
        return f"a range with columns order (1 to {MAX_ORDER}), magnitude, {angle}"

    def convert(self, value: Value, name: str) -> Spectrum:
        rows = as_grid(value)
        if all_numbers(rows) and self._is_sound(numbers := np.array(rows)):
            return _spectrum_of(numbers)
        return self._converted_row_by_row(value, name)

    def _is_sound(self, numbers: FloatArray) -> bool:
        if numbers.shape[1] < (3 if self.needs_angle else 2) or numbers[:, 1].min() < 0:
            return False
        orders = numbers[:, 0]
        in_range = orders.min() >= 1 and orders.max() <= MAX_ORDER
        return bool(in_range and (orders == np.floor(orders)).all() and len(set(orders)) == len(orders))

    def _converted_row_by_row(self, value: Value, name: str) -> Spectrum:
        """The same for any spelling; every row that is wrong is named."""
        rows = [row for row in as_grid(value) if not is_blank([row])]
        if rows and all(isinstance(cell, str) for cell in rows[0] if cell not in (None, "")):
            rows = rows[1:]
        if not rows:
            raise InputError(name, "without numbers", self.valid)
        width = len(rows[0])
        if width < (3 if self.needs_angle else 2):
            raise InputError(name, f"a range of {width} columns", self.valid)
        phasors = np.zeros(MAX_ORDER, dtype=np.complex128)
        seen: set[int] = set()
        for row in rows:
            order, magnitude, angle = (self._number(cell, name) for cell in (*row[:3], 0.0)[:3])
            if order != int(order) or not 1 <= order <= MAX_ORDER:
                raise InputError(f"order in {name}", order, f"a whole number from 1 to {MAX_ORDER}")
            if int(order) in seen:
                raise InputError(f"order in {name}", f"{order:g} twice", "each order once")
            if magnitude < 0:
                raise InputError(f"magnitude of order {order:g} in {name}", magnitude, "0 or more")
            seen.add(int(order))
            phasors[int(order) - 1] = magnitude * np.exp(1j * math.radians(angle))
        return Spectrum(phasors)

    def _number(self, cell: Scalar, name: str) -> float:
        if cell is None or isinstance(cell, str) or not isinstance(cell, int | float):
            raise InputError(
                name, "with a blank cell" if cell is None else f"with {cell!r}", self.valid, wrong_kind=True
            )
        if not math.isfinite(cell):
            raise InputError(name, f"with {cell}", self.valid)
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

    def convert(self, value: Value, name: str) -> dict[str, object]:
        known = self._known
        raw: dict[str, Value] = {}
        for row in as_grid(value):
            if is_blank([row]):
                continue
            if len(row) != 2:
                raise InputError(name, f"a range of {len(row)} columns", self.valid)
            key = normalised(row[0]) if row[0] is not None else ""
            if key not in known:
                raise InputError(f"name in {name}", str(row[0] or ""), one_of(list(known), key))
            if key in raw:
                raise InputError(f"name in {name}", f"{key} twice", "each name once")
            raw[key] = row[1]
        values = dict(self._all_defaults)
        for key in [key for key in known if key in raw or key in self._required]:
            field = known[key]
            values[field.name] = field.convert(raw.get(key), f"{field.name} in {name}")
        return values

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

    def convert(self, value: Value, name: str) -> tuple[dict[str, object], ...]:
        return self.records(as_grid(value), name)

    def records(
        self, rows: Grid, name: str, heading_row: int = 1, letters: tuple[str, ...] = ()
    ) -> tuple[dict[str, object], ...]:
        """Records of a table whose headings stand in row `heading_row` of what the user sees.

        With the letters of its columns, errors name cells too.
        """
        cell_of = dict(zip(headings_of(rows), letters, strict=False))
        headings = headings_of(rows)
        known = {normalised(f.name): f for f in self.fields}
        for original, heading in zip(rows[0], headings, strict=True):
            if heading and heading not in known and heading not in self.notes:
                raise InputError(f"heading in {name}", str(original), one_of(list(known), heading))
            if heading and headings.count(heading) > 1:
                raise InputError(f"heading in {name}", f"{original} twice", "each column once")
        missing = [f.name for k, f in known.items() if f.required and k not in headings]
        if missing:
            raise InputError(
                f"column {missing[0]} in {name}", None, "a heading row with this column", wrong_kind=True
            )
        records = []
        seen: set[str] = set()
        for number, row in enumerate(rows[1:], start=heading_row + 1):
            if is_blank([row]):
                continue
            cells = dict(zip(headings, row, strict=True))
            where = f"row {number} of {name}"
            places = {k: f"cell {letter}{number}, " for k, letter in cell_of.items()}
            record = {
                f.name: f.convert(cells.get(k), f"{f.name} in {places.get(k, '')}{where}")
                for k, f in known.items()
            }
            key = str(record[self.key]) if self.key else ""
            if key.casefold() in seen and self.key:
                raise InputError(f"{self.key} in {where}", key, f"each {self.key} once")
            seen.add(key.casefold())
            records.append(record)
        if not records:
            raise InputError(name, "without rows", self.valid)
        return tuple(records)

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
