"""Kinds of ranges that hold plain numbers: samples, values of intervals or months, three phasors."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from xlcalc.core.errors import InputError, Place
from xlcalc.core.spectrum import ComplexArray, FloatArray
from xlcalc.schema.kinds import NO_NUMBER, BadValue, Kind, is_blank
from xlcalc.schema.tables import as_grid
from xlcalc.schema.values import Scalar, Value, all_numbers
from xlcalc.standards.ieee519_demand import MONTHS


def _cell(cell: Scalar, name: str, place: Place, valid: str) -> float:
    if is_blank(cell):
        raise InputError(name, "with a blank cell", valid, wrong_kind=True, place=place)
    if isinstance(cell, bool) or not isinstance(cell, int | float):
        raise InputError(name, repr(cell), valid, wrong_kind=True, why=NO_NUMBER, place=place)
    if not math.isfinite(cell):
        raise InputError(name, cell, valid, place=place)
    return float(cell)


@dataclass(frozen=True)
class Row(Kind):
    """One column or one row of numbers.

    Parameters
    ----------
    least : int
        Fewest cells.
    blanks : bool
        Blank cells stand for missing values (NaN); without it they are refused.
    negative : bool
        Numbers below 0 are valid.
    """

    least: int = 1
    blanks: bool = False
    negative: bool = True
    takes_range = True

    @property
    def valid(self) -> str:
        low = "" if self.negative else " of 0 or more"
        blank = "blank where missing" if self.blanks else "none blank"
        count = f", {self.least} cells or more" if self.least > 1 else ""
        return f"one column or row of numbers{low}{count}, {blank}"

    def convert(self, value: Value, name: str) -> FloatArray:
        rows = as_grid(value)
        if len(rows) > 1 and len(rows[0]) > 1:
            raise InputError(name, f"a range of {len(rows)} x {len(rows[0])} cells", self.valid)
        if sum(map(len, rows)) < self.least:
            raise InputError(name, f"a range of {sum(map(len, rows))} cells", self.valid)
        if all_numbers(rows):
            found = np.array(rows, dtype=float).ravel()
        else:
            found = np.array(
                [
                    np.nan
                    if self.blanks and is_blank(cell)
                    else _cell(cell, name, Place(row=i, column=j), self.valid)
                    for i, row in enumerate(rows, start=1)
                    for j, cell in enumerate(row, start=1)
                ]
            )
        if not self.negative and np.any(found < 0.0):
            at = int(np.flatnonzero(found < 0.0)[0])
            place = Place(row=at + 1, column=1) if len(rows) > 1 else Place(row=1, column=at + 1)
            raise InputError(name, float(found[at]), self.valid, place=place)
        return found

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        numbers: list[Scalar] = [1.0] * max(2, self.least)
        bad = [
            BadValue("text", True),
            BadValue([numbers, numbers], True),
            BadValue([[*numbers, "text"]], True),
        ]
        if not self.blanks:
            bad.append(BadValue([[*numbers, None]], True))
        if not self.negative:
            bad.append(BadValue([[*numbers, -1.0]], False))
        return tuple(bad)


@dataclass(frozen=True)
class Phasors(Kind):
    """Three rows of rms value and angle in degrees."""

    takes_range = True

    @property
    def valid(self) -> str:
        return "three rows of rms value (0 or more) and angle in degrees"

    def convert(self, value: Value, name: str) -> ComplexArray:
        rows = as_grid(value)
        if len(rows) != 3 or any(len(row) != 2 for row in rows):
            raise InputError(name, f"a range of {len(rows)} x {len(rows[0])} cells", self.valid)
        numbers = [
            [_cell(cell, name, Place(row=i, column=j), self.valid) for j, cell in enumerate(row, start=1)]
            for i, row in enumerate(rows, start=1)
        ]
        for i, (size, _) in enumerate(numbers, start=1):
            if size < 0.0:
                raise InputError(name, size, self.valid, place=Place(row=i, column=1))
        return np.array([size * np.exp(1j * np.radians(angle)) for size, angle in numbers])

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        good: list[list[Scalar]] = [[100.0, 0.0], [100.0, -120.0]]
        return (
            BadValue("text", True),
            BadValue([*good], True),
            BadValue([*good, [100.0, "text"]], True),
            BadValue([*good, [100.0, None]], True),
            BadValue([*good, [-100.0, 120.0]], False),
        )


@dataclass(frozen=True)
class Monthly(Kind):
    """Twelve numbers of 0 or more in a row, a column or a block, none of them blank; or one number."""

    or_one: bool = False
    takes_range = True

    @property
    def valid(self) -> str:
        twelve = f"a range of {MONTHS} numbers of 0 or more, the maximum of each month, none blank"
        return f"one number above 0, or {twelve}" if self.or_one else twelve

    def convert(self, value: Value, name: str) -> tuple[float, ...]:
        cells = [
            (cell, Place(row=row_number, column=column, field="a month"))
            for row_number, row in enumerate(as_grid(value), start=1)
            for column, cell in enumerate(row, start=1)
        ]
        numbers = tuple(self._number(cell, name, place) for cell, place in cells)
        if len(numbers) != MONTHS and not (self.or_one and len(numbers) == 1):
            values = "1 value" if len(numbers) == 1 else f"{len(numbers)} values"
            raise InputError(name, values, self.valid, wrong_kind=True)
        if not any(numbers):
            raise InputError(name, "0", self.valid, wrong_kind=False)
        return numbers

    def _number(self, cell: Scalar, name: str, place: Place) -> float:
        found = _cell(cell, name, place, self.valid)
        if found < 0:
            raise InputError(name, found, self.valid, place=place)
        return found

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        months: list[Scalar] = [50.0] * MONTHS
        return (
            BadValue("text", True),
            BadValue([months[:-1]], True),
            BadValue([[*months, 50.0]], True),
            BadValue([[*months[:-1], None]], True),
            BadValue([[*months[:-1], "text"]], True),
            BadValue([[*months[:-1], -1.0]], False),
        )
