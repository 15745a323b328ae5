"""Kinds of cell values: what a raw cell must be, and its checked Python value."""

from __future__ import annotations

import difflib
import math
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from xlcalc.core import plausible
from xlcalc.core.errors import InputError
from xlcalc.schema.values import Scalar, Value

NO_NUMBER: Final = "which is no number"


@dataclass(frozen=True)
class BadValue:
    """A raw value that a kind must refuse; `wrong_kind` decides between #VALUE! and #NUM!."""

    raw: Value
    wrong_kind: bool


class Kind(ABC):
    """What a raw cell or range must be."""

    takes_range: bool = False

    @property
    @abstractmethod
    def valid(self) -> str:
        """The valid range in words."""

    @abstractmethod
    def convert(self, value: Value, name: str) -> object:
        """Checked value of a raw one that is not blank; raises `InputError` naming `name`."""

    def recognises(self, value: Value) -> bool:
        """Whether a range looks like one of this kind by its headings, names or titles."""
        return False

    @property
    @abstractmethod
    def bad_values(self) -> tuple[BadValue, ...]:
        """Values that must be refused, for the generated bad-input tests."""

    def show(self, converted: object) -> str:
        """A converted value as a user would write it."""
        return f"{converted:g}" if isinstance(converted, float) else str(converted)


def as_scalar(raw: Value, name: str, valid: str) -> Scalar:
    """A single cell; a range of one cell counts as that cell."""
    if isinstance(raw, list):
        if len(raw) == 1 and len(raw[0]) == 1:
            return raw[0][0]
        size = f"a range of {len(raw)} x {len(raw[0]) if raw else 0} cells"
        raise InputError(name, size, valid)
    return raw


def as_number(cell: Scalar, name: str, valid: str) -> float:
    """A number; TRUE and FALSE are none."""
    if isinstance(cell, bool) or not isinstance(cell, int | float):
        shown = str(cell).upper() if isinstance(cell, bool) else repr(cell)
        raise InputError(name, shown, valid, why=NO_NUMBER, wrong_kind=True)
    return cell


def is_blank(value: Value) -> bool:
    """True for a blank cell, an empty text and a range of such cells."""
    if isinstance(value, list):
        return not any(cell is not None and cell != "" for row in value for cell in row)
    return value is None or value == ""


def one_of(names: Sequence[str], given: str, shown: int = 14) -> str:
    """The valid range of a name: a hint first where the given one is close to a valid one.

    Examples
    --------
    >>> one_of(["edition", "summation"], "edtion")
    "did you mean 'edition'? One of edition, summation"
    """
    match = difflib.get_close_matches(given, names, n=1, cutoff=0.6)
    hint = f"did you mean {match[0]!r}? One of " if match else "one of "
    more = ", ... (see the function reference)" if len(names) > shown else ""
    return hint + ", ".join(names[:shown]) + more


@dataclass(frozen=True)
class Number(Kind):
    """A finite number between `low` and `high`, both included unless `above` excludes `low`.

    A text that ends with the unit is a number too; an unusual value is refused unless it is written so.
    """

    low: float
    high: float
    unit: str = ""
    above: bool = False
    usual: plausible.Usual | None = None

    @property
    def valid(self) -> str:
        unit = f" {self.unit}" if self.unit else ""
        if math.isinf(self.high):
            return f"a number {'above' if self.above else 'from'} {self.low:.15g}{unit}"
        if self.above:
            return f"a number above {self.low:.15g} up to {self.high:.15g}{unit}"
        return f"a number from {self.low:.15g} to {self.high:.15g}{unit}"

    def convert(self, value: Value, name: str) -> float:
        number = as_scalar(value, name, self.valid)
        word = self.unit or (self.usual.word if self.usual else "")
        if isinstance(number, str) and word:
            number = plausible.stated(number, word) or number
        number = as_number(number, name, self.valid)
        if not isinstance(number, plausible.Stated):
            number = float(number)
        told = self.slip(number)
        if told:
            raise InputError(name, number, told)
        inside = number > self.low if self.above else number >= self.low
        if not (math.isfinite(number) and inside and number <= self.high):
            meant = plausible.beyond(number, self.unit, self.low, self.high)
            raise InputError(name, number, f"{self.valid}; {meant}" if meant else self.valid)
        return number

    def slip(self, number: float) -> str:
        """What was probably meant by an unusual number; empty for any other."""
        if self.usual is None or not math.isfinite(number) or number > self.high:
            return ""
        return plausible.slip(number, self.unit, self.usual, self.low, self.high)

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        out_of_range = [BadValue(self.low if self.above else self.low - 1.0, False)]
        if math.isfinite(self.high):
            out_of_range.append(BadValue(self.high * 2 + 1.0, False))
        if self.usual is not None and self.usual.least > 0.0:
            out_of_range.append(BadValue(self.usual.least / 2.0, False))
        return (BadValue("text", True), BadValue([[1.0, 2.0], [3.0, 4.0]], True), *out_of_range)


@dataclass(frozen=True)
class Whole(Kind):
    """A whole number from `low` to `high` in steps of `step`."""

    low: int
    high: int
    step: int = 1
    unit: str = ""

    @property
    def valid(self) -> str:
        what = "a whole number" if self.step == 1 else f"a multiple of {self.step}"
        return f"{what} from {self.low} to {self.high}" + (f" {self.unit}" if self.unit else "")

    def convert(self, value: Value, name: str) -> int:
        number = as_scalar(value, name, self.valid)
        number = as_number(number, name, self.valid)
        fits = math.isfinite(number) and number == int(number) and self.low <= number <= self.high
        if not fits or int(number) % self.step:
            raise InputError(name, number, self.valid)
        return int(number)

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        return (
            BadValue("text", True),
            BadValue(float(self.low - self.step), False),
            BadValue(float(self.high + self.step), False),
            BadValue(self.low + 0.5, False),
        )


@dataclass(frozen=True)
class Choice(Kind):
    """One of a few words, without regard to case; a number counts as its text (edition 2022).

    Where they are too many for a help text, `described` says in it what they are.
    """

    options: tuple[str, ...]
    described: str = ""

    @property
    def valid(self) -> str:
        return self.described or "one of " + ", ".join(self.options)

    def convert(self, value: Value, name: str) -> str:
        given = as_scalar(value, name, self.valid)
        text = f"{given:.15g}" if isinstance(given, float | int) else str(given)
        for option in self.options:
            if option.casefold() == text.strip().casefold():
                return option
        shown = repr(given) if isinstance(given, str) else given
        names = [str(option) for option in self.options]
        raise InputError(name, shown, one_of(names, text), why="which is none of the choices")

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        return (BadValue("no such word", True), BadValue(-1.0, False))


@dataclass(frozen=True)
class Text(Kind):
    """Any text that is not empty; a number counts as its text."""

    @property
    def valid(self) -> str:
        return "a text"

    def convert(self, value: Value, name: str) -> str:
        given = as_scalar(value, name, self.valid)
        text = f"{given:.15g}" if isinstance(given, float | int) else str(given).strip()
        if not text:
            raise InputError(name, repr(given), f"{self.valid} that is not blank", why="which is blank")
        return text

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        return (BadValue([["a", "b"]], True),)
