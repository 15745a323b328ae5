"""What a cell or an argument holds, read as spreadsheet programs read it, or refused where they differ."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from typing import NoReturn

from xlcalc.recalc.evaluation.engine import Raw, error_to_raw
from xlcalc.schema.values import CellError, ErrorCode

EPOCH = date(1899, 12, 30).toordinal()
"""Ordinal of the day with serial number 0, right for every date from 1 March 1900 on."""

_NUMBER = re.compile(r"\s*[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?\s*%?\s*\Z")
_ISO_DATE = re.compile(r"\s*(\d{4})-(\d{1,2})-(\d{1,2})(?:[ T](\d{1,2}):(\d{2})(?::(\d{2}))?)?\s*\Z")
_TIME = re.compile(r"\s*(\d{1,2}):([0-5]\d)(?::([0-5]\d))?\s*\Z")
_REGIONAL = re.compile(
    r"(?=.*\d)(?:[\s\d.,:/$€£¥%()'+-]+(?:[eE][+-]?\d+)?(?:\s*[AaPp][Mm])?"
    r"|.*\b(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\b.*)\Z",
    re.IGNORECASE | re.DOTALL,
)
_EARLIEST = 61
"""1 March 1900: before it programs count the days differently."""

_DIGITS = 15
_LARGEST, _SMALLEST = 1e15, 1e-4


class LeftOut:
    """Stands for an argument that is left out between two commas, where that is not the same as blank."""


LEFT_OUT = LeftOut()


class Uncertain(Exception):
    """What spreadsheet programs show is not certain; the message gives the reason."""


class ErrorShown(Exception):
    """The function shows an error value."""

    def __init__(self, raw: Raw) -> None:
        super().__init__()
        self.raw = raw


def error(code: ErrorCode) -> Raw:
    """An error value as the engine passes it."""
    return error_to_raw(CellError(code))


def fail(code: ErrorCode) -> NoReturn:
    """Show an error value."""
    raise ErrorShown(error(code))


def is_number(raw: Raw) -> bool:
    return isinstance(raw, int | float) and not isinstance(raw, bool)


def is_error(raw: Raw) -> bool:
    return isinstance(raw, dict)


def text_number(text: str) -> float | None:
    """The number that a text is read as in every region, None for a text that is none in any.

    A date or time counts where it is written as in ISO 8601.

    Raises
    ------
    Uncertain
        Where that depends on the regional settings.

    Examples
    --------
    >>> text_number("12.5%"), text_number("2023-03-15"), text_number("18:00"), text_number("north")
    (0.125, 45000.0, 0.75, None)
    """
    if _NUMBER.match(text):
        plain = text.strip()
        return float(plain[:-1]) / 100 if plain.endswith("%") else float(plain)
    match = _ISO_DATE.match(text)
    if match and text != text.strip():
        raise Uncertain(f"a date between blanks, {text!r}")
    if match:
        year, month, day, *clock = (int(part or 0) for part in match.groups())
        try:
            serial = date(year, month, day).toordinal() - EPOCH
        except ValueError:
            return None
        if serial < _EARLIEST:
            raise Uncertain(f"the date {text!r} lies before March 1900")
        return serial + (clock[0] * 3600 + clock[1] * 60 + clock[2]) / 86400
    match = _TIME.match(text)
    if match:
        hours, minutes, seconds = (int(part or 0) for part in match.groups())
        return (hours * 3600 + minutes * 60 + seconds) / 86400
    if _REGIONAL.match(text):
        raise Uncertain(f"whether {text!r} is a number or date depends on the regional settings")
    return None


def number_text(value: float) -> str | None:
    """A number as a spreadsheet joins it to text, with 15 digits; None where that is not certain.

    Examples
    --------
    >>> number_text(0.1 + 0.2), number_text(12.0), number_text(1e20)
    ('0.3', '12', None)
    """
    size = abs(value)
    if size != 0 and not _SMALLEST <= size < _LARGEST:
        return None
    shown = f"{value:.{_DIGITS}g}"
    return None if "e" in shown else shown if shown != "-0" else "0"


def number(raw: Raw) -> float:
    """One number, as an argument: blank is 0, logicals 1 and 0, text what it reads as."""
    if isinstance(raw, float):
        return raw
    if raw is None:
        return 0.0
    if isinstance(raw, dict):
        raise ErrorShown(raw)
    if isinstance(raw, list):
        return number(single(raw))
    if raw is LEFT_OUT:
        return 0.0
    if isinstance(raw, str):
        found = text_number(raw)
        return fail(ErrorCode.VALUE) if found is None else found
    return float(raw)


def whole(raw: Raw) -> int:
    """A number without its fraction."""
    found = number(raw)
    if not math.isfinite(found):
        fail(ErrorCode.NUM)
    return math.trunc(found)


def logical(raw: Raw) -> bool:
    """A condition: numbers other than 0 are true; the texts TRUE and FALSE count as logical values."""
    raw = single(raw)
    if isinstance(raw, str):
        word = raw.strip().upper()
        if word in ("TRUE", "FALSE"):
            return word == "TRUE"
        if not raw or text_number(raw) is not None:
            raise Uncertain(f"the text {raw!r} as a condition")
        fail(ErrorCode.VALUE)
    return number(raw) != 0


def single(raw: Raw) -> Raw:
    """The one value of an array of one cell; several are refused."""
    if isinstance(raw, list):
        if len(raw) != 1 or len(raw[0]) != 1:
            raise Uncertain("several values where one is expected")
        return raw[0][0]
    return raw


def rows_of(raw: Raw) -> list[list[Raw]]:
    """Rows of a range, an array or one value."""
    return raw if isinstance(raw, list) else [[raw]]


def cells_of(raw: Raw) -> Iterator[Raw]:
    """Every cell of a range or array, row by row."""
    for row in rows_of(raw):
        yield from row


def numbers_of(raw: Raw) -> list[float]:
    """The numbers of an argument, nothing else counts; the first error among them is shown.

    One text or logical alone is refused: whether it counts depends on where it stands.
    """
    if isinstance(raw, str | bool):
        raise Uncertain("one text or logical where numbers are expected")
    found: list[float] = []
    for cell in cells_of(raw):
        if isinstance(cell, dict):
            raise ErrorShown(cell)
        if is_number(cell):
            found.append(float(cell))
    return found


def finite(value: float) -> float:
    """A result; #NUM! where it is no finite number."""
    return value if math.isfinite(value) else fail(ErrorCode.NUM)


def lifted(function: Callable[..., Raw], arguments: Sequence[Raw], places: Sequence[int]) -> Raw:
    """A function of single values repeated over the arrays given at some places.

    One row or column is repeated along the other arrays; a place that some array lacks is #N/A.
    """
    grids = {place: rows_of(arguments[place]) for place in places if isinstance(arguments[place], list)}
    if not grids:
        return shown(function, arguments)
    height = max(len(grid) for grid in grids.values())
    width = max(len(grid[0]) for grid in grids.values())
    missing = error(ErrorCode.NA)
    result = []
    for row in range(height):
        line = []
        for column in range(width):
            given = list(arguments)
            lacking = False
            for place, grid in grids.items():
                r, c = 0 if len(grid) == 1 else row, 0 if len(grid[0]) == 1 else column
                if r < len(grid) and c < len(grid[0]):
                    given[place] = grid[r][c]
                else:
                    lacking = True
            value = missing if lacking else shown(function, given)
            line.append(0.0 if value is None else value)
        result.append(line)
    return result


def over_arrays(functions: Mapping[str, Callable[..., Raw]]) -> dict[str, Callable[..., Raw]]:
    """The same functions, repeated over arrays given for any of their arguments."""

    def repeated(function: Callable[..., Raw]) -> Callable[..., Raw]:
        return lambda *arguments: lifted(function, arguments, range(len(arguments)))

    return {name: repeated(function) for name, function in functions.items()}


def shown(function: Callable[..., Raw], arguments: Sequence[Raw]) -> Raw:
    """The result of a function, or the error value that it shows."""
    try:
        return function(*arguments)
    except ErrorShown as problem:
        return problem.raw
    except OverflowError:
        return error(ErrorCode.NUM)
    except ZeroDivisionError:
        return error(ErrorCode.DIV0)
