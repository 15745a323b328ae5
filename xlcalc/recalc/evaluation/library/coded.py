"""Arrays as their different values and the number of the one in each place, and functions over them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property

import numpy as np
import numpy.typing as npt

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.cells import Cells, has_wildcards, kind
from xlcalc.recalc.evaluation.library.values import Uncertain, error, number_text
from xlcalc.recalc.xlsx.cachedvalues import MAX_TEXT
from xlcalc.schema.values import ErrorCode

_VALUE = error(ErrorCode.VALUE)
_NA = error(ErrorCode.NA)
_KNOWN_ERRORS = tuple(error(code) for code in ErrorCode)
_MOST_REMEMBERED = 64
Codes = npt.NDArray[np.intp]
Compute = Callable[[Sequence[tuple[Raw, ...]]], list[Raw]]
"""Results of a function for several sets of arguments."""


class Coded:
    """An array of rows and columns: `values[codes]`."""

    def __init__(self, values: list[Raw], codes: Codes) -> None:
        self.values = values
        self.codes = codes
        self.remembered: dict[tuple[Raw, ...], tuple[Coded, tuple[Coded, ...]]] = {}
        """Results of functions, by name and other arguments, with what keeps these alive."""

    def rows(self) -> list[list[Raw]]:
        """Every value in its place."""
        table = np.empty(len(self.values), dtype=object)
        for place, value in enumerate(self.values):
            table[place] = value
        rows: list[list[Raw]] = table[self.codes].tolist()
        return rows

    @cached_property
    def cells(self) -> Cells:
        """The same as cells, with indexes for look-ups."""
        return Cells(self.rows())

    @cached_property
    def kinds(self) -> set[str]:
        """Kinds of the values."""
        return set(map(kind, self.values))

    @cached_property
    def vector(self) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.str_]]:
        """Numbers (NaN in every other place) and kinds of all places."""
        kinds = [kind(value) for value in self.values]
        numbers = [value if which == "n" else np.nan for value, which in zip(self.values, kinds, strict=True)]
        return np.array(numbers, dtype=np.float64)[self.codes], np.array(kinds, dtype="U1")[self.codes]


def coded(raw: Raw) -> Coded | None:
    """An array by its different values; None for a single value."""
    if isinstance(raw, Coded):
        return raw
    if isinstance(raw, Cells):
        known = vars(raw).get("_coded")
        if known is None:
            known = vars(raw)["_coded"] = _of_rows(raw.full())
        return known
    if isinstance(raw, np.ndarray):
        if raw.dtype == np.bool_:
            return Coded([False, True], raw.astype(np.intp))
        numbers = raw.astype(np.float64)
        bits, codes = np.unique(numbers.view(np.int64), return_inverse=True)
        return Coded(bits.view(np.float64).tolist(), codes.reshape(raw.shape))
    return _of_rows(raw) if isinstance(raw, list) else None


def _of_rows(rows: list[list[Raw]]) -> Coded:
    known: dict[Raw, int] = {}
    values: list[Raw] = []
    codes = []
    for row in rows:
        for cell in row:
            key = cell if type(cell) is str else _key(cell)
            code = known.setdefault(key, len(values))
            if code == len(values):
                values.append(cell)
            codes.append(code)
    return Coded(values, np.array(codes, dtype=np.intp).reshape(len(rows), len(rows[0])))


def _key(value: Raw) -> Raw:
    """What tells values apart: of their kind too, and zeros by their sign."""
    if isinstance(value, dict):
        return "error", value.get("kind")
    if value is None or isinstance(value, bool | str):
        return type(value), value
    return float(value) or repr(float(value)).encode()


def over(name: str, texts: Sequence[bool], arguments: Sequence[Raw], compute: Compute) -> Raw:
    """A function of single values over arrays of one shape; None where their shapes differ or none is one.

    Parameters
    ----------
    texts : sequence of bool
        Which arguments are used as text.
    compute : callable
        Computes what is not known at once.
    """
    arrays = [coded(argument) for argument in arguments]
    given = [array for array in arrays if array is not None]
    if len({array.codes.shape for array in given}) != 1:
        return None
    first = given[0]
    key = (name, *(("array", id(a)) if a else _key(raw) for a, raw in zip(arrays, arguments, strict=True)))
    if key in first.remembered:
        return first.remembered[key][0]
    codes, sets = _sets(arrays, arguments)
    asked = sets
    if any(texts):
        asked = [
            tuple(as_text(raw) if text else raw for text, raw in zip(texts, values, strict=True))
            for values in sets
        ]
    quick = _QUICK.get(name)
    found = None if quick is None else _all_quick(quick, asked)
    result = Coded(compute(asked) if found is None else found, codes)
    if len(first.remembered) >= _MOST_REMEMBERED:
        first.remembered.clear()
    first.remembered[key] = result, tuple(given[1:])
    return result


def _sets(arrays: Sequence[Coded | None], arguments: Sequence[Raw]) -> tuple[Codes, list[tuple[Raw, ...]]]:
    """The different sets of arguments, and the number of the one in each place."""
    given = [array for array in arrays if array is not None]
    codes = given[0].codes
    numbers: list[npt.NDArray[np.intp]] = [np.arange(len(given[0].values))]
    for array in given[1:]:
        size = len(array.values)
        different, places = np.unique(codes * size + array.codes, return_inverse=True)
        numbers = [chosen[different // size] for chosen in numbers] + [different % size]
        codes = places.reshape(array.codes.shape)
    columns: list[list[Raw]] = []
    turns = iter(numbers)
    for known, raw in zip(arrays, arguments, strict=True):
        if known is None:
            columns.append([raw] * len(numbers[0]))
        else:
            columns.append([known.values[place] for place in next(turns).tolist()])
    return codes, list(zip(*columns, strict=True))


def as_text(raw: Raw) -> Raw:
    """A value as a function of texts takes it."""
    if isinstance(raw, str):
        if len(raw) > MAX_TEXT:
            raise Uncertain(f"a text of more than {MAX_TEXT} characters")
        return raw
    if isinstance(raw, bool):
        return "TRUE" if raw else "FALSE"
    if raw is None or isinstance(raw, dict):
        return raw
    shown = number_text(float(raw))
    if shown is None:
        raise Uncertain(f"how a spreadsheet writes {raw!r} as text is not certain")
    return shown


class _Slow(Exception):
    """Arguments that are not ordinary ones."""


def _all_quick(function: Callable[..., Raw], asked: Sequence[tuple[Raw, ...]]) -> list[Raw] | None:
    """Every result; None where some arguments, or more of them, need the whole rules of the function."""
    try:
        return [function(*given) for given in asked]
    except (_Slow, TypeError):
        return None


def _plain(text: Raw) -> str:
    """A text in which every program counts the same characters."""
    if type(text) is str and text.isascii():
        return text
    raise _Slow


def _count(raw: Raw, least: int) -> int:
    if type(raw) is float and raw.is_integer() and least <= raw <= MAX_TEXT:
        return int(raw)
    raise _Slow


def _place(sought: Raw, text: Raw) -> Raw:
    """FIND from the first character on."""
    wanted, place = _plain(sought), _plain(text).find(_plain(sought))
    if not wanted:
        raise _Slow
    return _VALUE if place < 0 else float(place + 1)


def _place_in_any_case(sought: Raw, text: Raw) -> Raw:
    """SEARCH of a text without wildcards."""
    if has_wildcards(_plain(sought)):
        raise _Slow
    return _place(sought.lower(), _plain(text).lower())


def joined(first: Raw, second: Raw) -> Raw:
    """The operator &."""
    for raw in (first, second):
        if isinstance(raw, dict):
            return raw
    both: str = (first or "") + (second or "")
    if len(both) > MAX_TEXT:
        raise Uncertain(f"a text of more than {MAX_TEXT} characters")
    return both


def _known_kind(raw: Raw) -> str:
    if isinstance(raw, dict) and raw not in _KNOWN_ERRORS:
        raise _Slow
    return kind(raw)


def _size(raw: Raw) -> Raw:
    """ABS of a number."""
    if type(raw) is float:
        return abs(raw)
    raise _Slow


_QUICK: Mapping[str, Callable[..., Raw]] = {
    "&": joined,
    "ABS": _size,
    "FIND": _place,
    "SEARCH": _place_in_any_case,
    "LEN": lambda text: float(len(_plain(text))),
    "LEFT": lambda text, count=1.0: _plain(text)[: _count(count, 0)],
    "RIGHT": lambda text, count=1.0: _plain(text)[max(len(text) - _count(count, 0), 0) :],
    "MID": lambda text, start, count: _plain(text)[_count(start, 1) - 1 :][: _count(count, 0)],
    "UPPER": lambda text: _plain(text).upper(),
    "LOWER": lambda text: _plain(text).lower(),
    "ISNUMBER": lambda raw: _known_kind(raw) == "n",
    "ISTEXT": lambda raw: _known_kind(raw) == "t",
    "ISNONTEXT": lambda raw: _known_kind(raw) != "t",
    "ISLOGICAL": lambda raw: _known_kind(raw) == "l",
    "ISBLANK": lambda raw: _known_kind(raw) == "b",
    "ISERROR": lambda raw: _known_kind(raw) == "e",
    "ISNA": lambda raw: _known_kind(raw) == "e" and raw == _NA,
    "ISERR": lambda raw: _known_kind(raw) == "e" and raw != _NA,
}
"""The same results for ordinary arguments as the function itself gives."""
