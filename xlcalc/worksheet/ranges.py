"""Kinds of ranges that hold a spectrum; one in percent refuses volts and amperes by its fundamental."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from xlcalc.core import plausible
from xlcalc.core.errors import InputError, Place
from xlcalc.core.spectrum import MAX_ORDER, FloatArray, ListedSpectrum, Spectrum
from xlcalc.schema.kinds import BadValue, Kind, is_blank
from xlcalc.schema.tables import as_grid
from xlcalc.schema.values import Grid, Scalar, Value, all_numbers

_STARTS_AS_NUMBER = re.compile(r"[\s+\-.,]*\d")


def _spectrum_of(numbers: FloatArray) -> ListedSpectrum:
    """Spectrum of rows of order, magnitude and, if given, angle in degrees."""
    phasors = np.zeros(MAX_ORDER, dtype=np.complex128)
    angles = numbers[:, 2] if numbers.shape[1] > 2 else np.zeros(len(numbers))
    orders = numbers[:, 0].astype(int)
    phasors[orders - 1] = numbers[:, 1] * np.exp(1j * np.radians(angles))
    return ListedSpectrum(phasors, frozenset(orders.tolist()))


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


def spectrum_rows(spectrum: Spectrum, magnitude: np.ndarray | None = None) -> Grid:
    """Rows of order, magnitude and angle in degrees for orders 1..n, ready for cells."""
    shown = spectrum.magnitude if magnitude is None else magnitude
    columns = (spectrum.orders.tolist(), shown.tolist(), spectrum.angle_deg.tolist())
    return [[float(order), size, angle] for order, size, angle in zip(*columns, strict=True)]


LOWEST_PCT = 80.0
HIGHEST_PCT = 120.0


@dataclass(frozen=True)
class PercentSpectrum(SpectrumRange):
    """As `SpectrumRange`, in percent; the fundamental may be left out, else it is 80 to 120."""

    @property
    def valid(self) -> str:
        return f"{super().valid}, in percent: the fundamental left out or {LOWEST_PCT:g} to {HIGHEST_PCT:g}"

    def convert(self, value: Value, name: str) -> ListedSpectrum:
        spectrum = super().convert(value, name)
        if spectrum.fundamental and not LOWEST_PCT <= spectrum.fundamental <= HIGHEST_PCT:
            raise InputError(f"fundamental in {name}", spectrum.fundamental, self.valid)
        largest = int(np.argmax(spectrum.magnitude))
        told = plausible.slip(float(spectrum.magnitude[largest]), "%", plausible.VOLTAGE_PCT)
        if told and not spectrum.fundamental:
            what = f"magnitude of order {largest + 1}, the largest, in {name}"
            valid = f"{told.partition(' (if')[0]} (if it is meant, list the fundamental as 100)"
            raise InputError(what, float(spectrum.magnitude[largest]), valid)
        return spectrum

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        return (*super().bad_values, BadValue([[1.0, 230.0], [5.0, 12.0]], False))
