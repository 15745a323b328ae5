"""Twelve monthly values in a range."""

from __future__ import annotations

import math
from dataclasses import dataclass

from xlcalc.errors import InputError, Place
from xlcalc.standards.ieee519_demand import MONTHS
from xlcalc.worksheet.kinds import BadValue, Kind, is_blank
from xlcalc.worksheet.ranges import as_grid
from xlcalc.worksheet.values import Scalar, Value


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
        if is_blank(cell):
            raise InputError(name, "with a blank cell", self.valid, wrong_kind=True, place=place)
        if isinstance(cell, bool) or not isinstance(cell, int | float):
            why = "which is no number"
            raise InputError(name, repr(cell), self.valid, wrong_kind=True, why=why, place=place)
        if not math.isfinite(cell) or cell < 0:
            raise InputError(name, cell, self.valid, place=place)
        return float(cell)

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
