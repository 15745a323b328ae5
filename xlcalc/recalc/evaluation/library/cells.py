"""Cells of a range or array, with indexes made once for all look-ups in them."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.comparing import near, text_order
from xlcalc.recalc.evaluation.library.values import (
    ErrorShown,
    Uncertain,
    is_error,
    is_number,
    rows_of,
    text_number,
)

_DIGITS = "; ROUND would decide it"
_KINDS = {float: "n", int: "n", str: "t", bool: "l", type(None): "b", dict: "e"}


class CellLine:
    """A row or column, or the cells of any range one after the other."""

    def __init__(self, values: list[Raw], whole: CellLine | None = None) -> None:
        self.values = values
        self._whole = whole

    def __len__(self) -> int:
        return len(self.values)

    @cached_property
    def numbers(self) -> npt.NDArray[np.float64]:
        """The numbers, NaN in every other place."""
        return np.array([v if type(v) is float else _number(v) for v in self.values], dtype=np.float64)

    @cached_property
    def texts(self) -> tuple[dict[str, int], npt.NDArray[np.int32]]:
        """Number of each text in lower case, and the number of the text in each place, -1 for no text."""
        known: dict[str, int] = {}
        places = [-1 if text is None else known.setdefault(text, len(known)) for text in self.folded]
        return known, np.array(places, dtype=np.int32)

    @cached_property
    def numbers_as_text(self) -> npt.NDArray[np.float64]:
        """What the texts are as numbers, NaN in every other place."""
        known, places = self.texts
        values = np.array([*map(_as_number, known), np.nan], dtype=np.float64)
        return values[places]

    def padded(self, length: int) -> CellLine:
        """The same cells and blank ones behind them, kept for the next time."""
        if length == len(self):
            return self
        known = self._padded.get(length)
        if known is None:
            known = self._padded[length] = CellLine(self.values + [None] * (length - len(self)))
        return known

    @cached_property
    def _padded(self) -> dict[int, CellLine]:
        return {}

    def head(self, length: int) -> CellLine:
        """The first cells."""
        first = CellLine(self.values[:length], self)
        known, places = self.texts
        vars(first).update(
            numbers=self.numbers[:length],
            kinds=self.kinds[:length],
            texts=(known, places[:length]),
            numbers_as_text=self.numbers_as_text[:length],
        )
        return first

    @cached_property
    def kinds(self) -> npt.NDArray[np.str_]:
        """n number, t text, l logical, e error, b blank."""
        known = _KINDS
        return np.array([known.get(type(value)) or kind(value) for value in self.values], dtype="U1")

    @cached_property
    def folded(self) -> list[str | None]:
        """Texts in lower case, None in every other place."""
        return [value.lower() if isinstance(value, str) else None for value in self.values]

    @cached_property
    def _number_places(self) -> dict[float, list[int]]:
        found: dict[float, list[int]] = {}
        for place, value in enumerate(self.values):
            if is_number(value):
                found.setdefault(float(value), []).append(place)
        return found

    @cached_property
    def _sorted_numbers(self) -> list[float]:
        return sorted(self._number_places)

    @cached_property
    def _text_places(self) -> dict[str, list[int]]:
        found: dict[str, list[int]] = {}
        for place, text in enumerate(self.folded):
            if text is not None:
                found.setdefault(text, []).append(place)
        return found

    def equal(self, sought: Raw) -> list[int]:
        """Places of the cells that equal a value, exactly and in the eyes of every program."""
        if isinstance(sought, bool):
            return [place for place, value in enumerate(self.values) if value is sought]
        whole = self._whole or self
        if isinstance(sought, str):
            return self._inside(whole._text_places.get(sought.lower(), []))
        number = 0.0 if sought is None else float(sought)
        known = whole._sorted_numbers
        for index in (bisect_left(known, number) - 1, bisect_right(known, number)):
            if not 0 <= index < len(known):
                continue
            if near(known[index], number) and self._inside(whole._number_places[known[index]]):
                raise Uncertain(
                    f"{number!r} is sought and {known[index]!r} is there; programs differ in the last digits"
                    + _DIGITS
                )
        return self._inside(whole._number_places.get(number, []))

    def _inside(self, places: list[int]) -> list[int]:
        """Those of the places, in their order, that this line has."""
        return places if self._whole is None else places[: bisect_left(places, len(self))]

    @cached_property
    def first_error(self) -> Raw:
        """The first error value, None where there is none."""
        failed = np.flatnonzero(self.kinds == "e")
        return self.values[failed[0]] if failed.size else None

    @cached_property
    def ascending(self) -> npt.NDArray[np.float64]:
        """The numbers in their order; an error among the cells is shown."""
        if self.first_error is not None:
            raise ErrorShown(self.first_error)
        return np.sort(self.numbers[self.kinds == "n"])

    def like(self, pattern: str) -> list[int]:
        """Places of the texts that match a pattern with ? and *."""
        if not has_wildcards(pattern):
            return self.equal(pattern)
        match = wildcard(pattern).match
        return [place for place, text in enumerate(self.folded) if text is not None and match(text)]

    def same_kind(self, sought: Raw) -> list[int]:
        """Places of the cells that can be compared with a value by size."""
        wanted = kind(0.0 if sought is None else sought)
        return np.flatnonzero(self.kinds == wanted).tolist()

    @cached_property
    def _order(self) -> dict[str, tuple[bool, bool]]:
        return {}

    def sorted(self, sought: Raw) -> tuple[bool, bool]:
        """Whether the cells of a value's kind ascend, and whether they descend."""
        wanted = kind(0.0 if sought is None else sought)
        if wanted not in self._order:
            keys = [self.values[place] for place in self.same_kind(sought)]
            steps = [size(a, b) for a, b in pairwise(keys)]
            self._order[wanted] = (all(s <= 0 for s in steps), all(s >= 0 for s in steps))
        return self._order[wanted]


class Cells:
    """A range or an array; `height` and `width` count the blank cells that the engine cuts off."""

    def __init__(self, raw: Raw, height: int = 0, width: int = 0) -> None:
        rows = rows_of(raw) or [[None]]
        self.height = max(height, len(rows))
        self.width = max(width, len(rows[0]))
        used = len(rows)
        while used > 1 and all(cell is None for cell in rows[used - 1]):
            used -= 1
        self.rows = rows[:used]
        self._columns: dict[int, CellLine] = {}
        self._lines: dict[int, CellLine] = {}

    @property
    def raw(self) -> Raw:
        return self.rows if self.height * self.width > 1 else self.rows[0][0]

    def full(self) -> list[list[Raw]]:
        """All rows, blank ones included."""
        blank: list[list[Raw]] = [[None] * self.width for _ in range(self.height - len(self.rows))]
        return self.rows + blank

    @cached_property
    def vector(self) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.str_]]:
        """Numbers (NaN in every other place) and kinds of all cells, in the shape of the range."""
        flat = CellLine([cell for row in self.full() for cell in row])
        shape = (self.height, self.width)
        return flat.numbers.reshape(shape), flat.kinds.reshape(shape)

    def at(self, row: int, column: int) -> Raw:
        """A cell, blank beyond the last one that is used."""
        inside = row < len(self.rows) and column < len(self.rows[0])
        return self.rows[row][column] if inside else None

    def column(self, number: int) -> CellLine:
        if number not in self._columns:
            self._columns[number] = CellLine(
                [row[number] if number < len(row) else None for row in self.rows]
            )
        return self._columns[number]

    def row(self, number: int) -> CellLine:
        if number not in self._lines:
            self._lines[number] = CellLine(list(self.rows[number]) if number < len(self.rows) else [])
        return self._lines[number]

    @cached_property
    def flat(self) -> CellLine:
        """Every cell that is used, row by row."""
        if self.width == 1:
            return self.column(0)
        return CellLine([cell for row in self.rows for cell in row])

    def head(self, height: int) -> Cells:
        """The first rows of a column."""
        rows = self.rows[:height]
        while len(rows) > 1 and rows[-1][0] is None:
            rows.pop()
        first = Cells.__new__(Cells)
        first.height, first.width, first.rows = height, 1, rows
        first._columns, first._lines = {0: self.column(0).head(len(rows))}, {}
        return first

    def line(self) -> CellLine | None:
        """The one row or column; None for a range of several rows and columns."""
        if self.width == 1:
            return self.column(0)
        return self.row(0) if self.height == 1 else None


def _number(raw: Raw) -> float:
    return raw if is_number(raw) else np.nan


def _as_number(text: str) -> float:
    """A text as a number; NaN where it is none or may be another one elsewhere."""
    if not any(character.isdigit() for character in text):
        return np.nan
    try:
        value = text_number(text)
    except Uncertain:
        return np.nan
    return np.nan if value is None else value


def kind_of_cell(raw: Raw = None) -> Raw:
    """CELL("type"): b for blank, l for text, v for every other value."""
    return "b" if raw is None else "l" if isinstance(raw, str) else "v"


def kind_of_value(raw: Raw = None) -> Raw:
    """TYPE."""
    if isinstance(raw, list):
        return 64.0
    return {"b": 1.0, "n": 1.0, "t": 2.0, "l": 4.0, "e": 16.0}[kind(raw)]


def kind(raw: Raw) -> str:
    if raw is None:
        return "b"
    if isinstance(raw, bool):
        return "l"
    if isinstance(raw, str):
        return "t"
    return "e" if is_error(raw) else "n"


def size(first: Raw, second: Raw) -> int:
    """Order of two cells of one kind."""
    if isinstance(first, str):
        return text_order(first, second)
    return int(first > second) - int(first < second)


def has_wildcards(text: str) -> bool:
    return "*" in text or "?" in text or "~" in text


def wildcard(pattern: str, *, whole: bool = True) -> re.Pattern[str]:
    """A pattern with ? and *, a tilde before what stands for itself, for `whole` texts in lower case."""
    out: list[str] = []
    characters = iter(pattern.lower())
    for character in characters:
        if character == "~":
            following = next(characters, "")
            if following not in ("*", "?", "~"):
                raise Uncertain(f"the pattern {pattern!r}, in which a ~ stands before an ordinary character")
            out.append(re.escape(following))
        else:
            out.append({"*": ".*", "?": "."}.get(character) or re.escape(character))
    return re.compile("".join(out) + (r"\Z" if whole else ""), re.DOTALL)
