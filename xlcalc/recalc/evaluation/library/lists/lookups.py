"""MATCH, XMATCH, LOOKUP, VLOOKUP, HLOOKUP, XLOOKUP, RANK and SWITCH.

Semantics as the vendors document them: an exact match goes from the first cell; an approximate one asks for
sorted cells, and is refused where they are not sorted and the answer hangs on how a program searches.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from xlcalc.recalc.evaluation.engine import BLANK, Raw
from xlcalc.recalc.evaluation.library.arrays import Quotients, listed
from xlcalc.recalc.evaluation.library.cells import CellLine, Cells, has_wildcards, kind, size
from xlcalc.recalc.evaluation.library.coded import Coded
from xlcalc.recalc.evaluation.library.comparing import near, order
from xlcalc.recalc.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    error,
    fail,
    is_error,
    is_number,
    lifted,
    logical,
    number,
    single,
    whole,
)
from xlcalc.schema.values import ErrorCode

_BY_EXPRESSIONS = 3
_CLEAR = 1e-9
_BLANK_AS: dict[str, Raw] = {"n": 0.0, "t": "", "l": False}


def _cells(raw: Raw) -> Cells:
    if isinstance(raw, Coded):
        return raw.cells
    return raw if isinstance(raw, Cells) else Cells(listed(raw))


def _in_vector(sought: Raw, cells: Raw, *, exact: bool) -> int | None:
    """Place of a number in a computed row or column of numbers, without making cells of them.

    None where they do not decide it alone: the last of numbers that all lie below is found, or an equal one.
    """
    values = cells.values if isinstance(cells, Quotients) else cells
    if not isinstance(values, np.ndarray) or min(values.shape) > 1 or not is_number(sought):
        return None
    numbers = values.ravel()
    if values.dtype == np.bool_ or numbers.size == 0:
        return None
    places = (
        np.flatnonzero(~cells.failed.ravel()) if isinstance(cells, Quotients) else np.arange(numbers.size)
    )
    clear = np.abs(numbers[places] - sought) > _CLEAR * max(abs(sought), 1.0)
    if exact:
        equal = places[numbers[places] == sought]
        return int(equal[0]) if equal.size and (clear | (numbers[places] == sought)).all() else None
    below = numbers[places] < sought
    return int(places[-1]) if places.size and (clear & below).all() else None


def _size(cells: Cells) -> int:
    return cells.height * cells.width


def _line(raw: Raw) -> CellLine:
    found = _cells(raw).line()
    return fail(ErrorCode.NA) if found is None else found


def _sought(raw: Raw) -> Raw:
    """What is looked up; an error shows itself."""
    raw = single(raw)
    if is_error(raw):
        raise ErrorShown(raw)
    return raw


def _nothing_or(places: list[int], *, last: bool = False) -> int:
    return (places[-1] if last else places[0]) if places else fail(ErrorCode.NA)


def _exact(sought: Raw, line: CellLine, *, wildcards: bool, last: bool = False) -> int:
    if wildcards and isinstance(sought, str) and has_wildcards(sought):
        return _nothing_or(line.like(sought), last=last)
    return _nothing_or(line.equal(sought), last=last)


def _check_near(sought: Raw, value: Raw) -> None:
    if is_number(sought) and is_number(value) and near(float(sought), float(value)):
        raise Uncertain(
            f"{sought!r} is sought and {value!r} is there; programs differ in the last digits, "
            "ROUND would decide it"
        )


def _approximate(sought: Raw, line: CellLine, *, descending: bool = False) -> int:
    """The last cell not above the value in ascending cells, or the last not below it in descending ones.

    Every program ends at the last cell of the kind where the value lies above all, sorted or not.
    """
    if sought is None and descending:
        raise Uncertain("a blank cell looked up among descending cells")
    sought = 0.0 if sought is None else sought
    sign = -1 if descending else 1
    places = line.same_kind(sought)
    if not places:
        fail(ErrorCode.NA)
    fitting = []
    for place in places:
        value = line.values[place]
        _check_near(sought, value)
        if sign * size(value, sought) <= 0:
            fitting.append(place)
    if not fitting and not descending:
        return fail(ErrorCode.NA)
    above_all = not descending and all(size(line.values[place], sought) < 0 for place in places)
    if not above_all:
        if not line.sorted(sought)[1 if descending else 0]:
            raise Uncertain("an approximate match among cells that are not sorted")
        between = places[-1] - places[0] + 1 - len(places)
        if between and set(line.kinds[places[0] : places[-1]]) - {kind(sought), "b"}:
            raise Uncertain("an approximate match among cells of several kinds")
    if not fitting:
        return fail(ErrorCode.NA)
    found = fitting[-1]
    if descending and len(fitting) > 1 and size(line.values[fitting[-2]], line.values[found]) == 0:
        raise Uncertain("an approximate match among descending cells of which several are equal")
    return found


def match(sought: Raw = None, cells: Raw = None, way: Raw = 1.0) -> Raw:
    """MATCH."""
    place = _in_vector(sought, cells, exact=True) if is_number(way) and way == 0 else None
    if place is not None:
        return float(place + 1)
    line = _line(cells)

    def one(value: Raw, kind_of_match: Raw) -> Raw:
        value, chosen = _sought(value), number(kind_of_match)
        if chosen == 0:
            return float(_exact(value, line, wildcards=True) + 1)
        return float(_approximate(value, line, descending=chosen < 0) + 1)

    return lifted(one, (sought, way), (0,))


def vertical(sought: Raw = None, table: Raw = None, index: Raw = None, ranged: Raw = True) -> Raw:
    """VLOOKUP."""
    return _in_table(sought, _cells(table), index, ranged, down=True)


def horizontal(sought: Raw = None, table: Raw = None, index: Raw = None, ranged: Raw = True) -> Raw:
    """HLOOKUP."""
    return _in_table(sought, _cells(table), index, ranged, down=False)


def _in_table(sought: Raw, table: Cells, index: Raw, ranged: Raw, *, down: bool) -> Raw:
    line = table.column(0) if down else table.row(0)
    breadth = table.width if down else table.height

    def one(value: Raw, chosen: Raw) -> Raw:
        value = _sought(value)
        number_of_line = whole(chosen)
        approximate = logical(ranged)
        if number_of_line < 1:
            fail(ErrorCode.VALUE)
        if number_of_line > breadth:
            fail(ErrorCode.REF)
        place = _approximate(value, line) if approximate else _exact(value, line, wildcards=True)
        found = table.at(place, number_of_line - 1) if down else table.at(number_of_line - 1, place)
        return BLANK if found is None else found

    return lifted(one, (sought, index), (0, 1))


def lookup(sought: Raw = None, cells: Raw = None, results: Raw = LEFT_OUT) -> Raw:
    """LOOKUP, with a result vector or within an array."""
    place = _in_vector(sought, cells, exact=False)
    if place is not None and isinstance(results, Cells):
        line = results.line()
        if line is not None and place < len(line):
            return BLANK if line.values[place] is None else line.values[place]
    table = _cells(cells)
    down = table.height >= table.width
    line = table.column(0) if down else table.row(0)
    given = None if results is LEFT_OUT else _line(results)
    shorter = given is not None and _size(_cells(results)) < (table.height if down else table.width)

    def one(value: Raw) -> Raw:
        place = _approximate(_sought(value), line)
        if given is not None:
            if place >= len(given):
                if shorter:
                    raise Uncertain("LOOKUP with fewer results than cells to search")
                found = None
            else:
                found = given.values[place]
        else:
            found = table.at(place, table.width - 1) if down else table.at(table.height - 1, place)
        return BLANK if found is None else found

    return lifted(one, (sought,), (0,))


def _check_searched(line: CellLine, mode: Raw, direction: Raw) -> None:
    for option in (mode, direction):
        _sought(option)
    if len(line) == 1 and is_error(line.values[0]):
        raise Uncertain("a single error value to search")


def _has_blanks(line: CellLine, size_searched: int) -> bool:
    return len(line) < size_searched or "b" in line.kinds


def _check_other_kinds(value: Raw, line: CellLine, best: int | None, way: int, *, blanks: bool) -> None:
    """Refuse where cells of another kind, or blank ones taken for 0 or "", may be the nearest ones."""
    if best is None and set(line.kinds.tolist()) - {kind(value), "b"}:
        raise Uncertain("the next smaller or larger cell among cells of several kinds")
    blank = _BLANK_AS[kind(value)]
    if (
        blanks
        and size(blank, value) * way >= 0
        and (best is None or size(line.values[best], blank) * way >= 0)
    ):
        raise Uncertain("the next smaller or larger cell among blank cells, which may count as 0")


def _check_sorted(sought: Raw, line: CellLine, *, descending: bool) -> None:
    if not line.sorted(sought)[1 if descending else 0]:
        raise Uncertain("a binary search among cells that are not sorted")
    if set(line.kinds.tolist()) - {kind(0.0 if sought is None else sought)}:
        raise Uncertain("a binary search among cells of several kinds")


def _extended(sought: Raw, line: CellLine, mode: Raw, direction: Raw, *, size_searched: int) -> int:
    """Place by the rules of XMATCH and XLOOKUP."""
    sought = _sought(sought)
    way, search = whole(mode), whole(direction)
    if sought is None and (way != 0 or _has_blanks(line, size_searched) or line.equal(0.0)):
        raise Uncertain("a blank cell looked up among blank cells or zeros, or for the next one")
    if way == _BY_EXPRESSIONS:
        raise Uncertain("a look-up by regular expressions")
    if way not in (-1, 0, 1, 2) or search not in (-2, -1, 1, 2):
        fail(ErrorCode.VALUE)
    if abs(search) == 2:
        _check_sorted(sought, line, descending=search < 0)
    last = search == -1
    if way == 2:
        if abs(search) == 2:
            fail(ErrorCode.VALUE)
        return _exact(sought, line, wildcards=True, last=last)
    places = line.equal(sought)
    if abs(search) == 2 and len(places) > 1:
        raise Uncertain("a binary search among cells of which several are equal")
    if places or way == 0:
        return _nothing_or(places, last=last)
    value = 0.0 if sought is None else sought
    best: int | None = None
    for place in reversed(line.same_kind(value)) if last else line.same_kind(value):
        cell = line.values[place]
        if size(cell, value) * way > 0 and (best is None or size(cell, line.values[best]) * way < 0):
            best = place
    if abs(search) == 2 and best is not None and len(line.equal(line.values[best])) > 1:
        raise Uncertain("a binary search among cells of which several are equal")
    _check_other_kinds(value, line, best, way, blanks=_has_blanks(line, size_searched))
    return fail(ErrorCode.NA) if best is None else best


def extended_match(sought: Raw = None, cells: Raw = None, mode: Raw = 0.0, direction: Raw = 1.0) -> Raw:
    """XMATCH."""
    line, count = _cells(cells).line(), _size(_cells(cells))
    if line is None:
        fail(ErrorCode.VALUE)
    _check_searched(line, mode, direction)
    return lifted(
        lambda value: float(_extended(value, line, mode, direction, size_searched=count) + 1), (sought,), (0,)
    )


def extended_lookup(
    sought: Raw = None,
    cells: Raw = None,
    results: Raw = None,
    missing: Raw = LEFT_OUT,
    mode: Raw = 0.0,
    direction: Raw = 1.0,
) -> Raw:
    """XLOOKUP."""
    searched, given = _cells(cells), _cells(results)
    line = searched.line()
    if line is None:
        fail(ErrorCode.VALUE)
    _check_searched(line, mode, direction)
    if _size(searched) == 1 < _size(given):
        raise Uncertain("XLOOKUP in a single cell with several results")
    down = searched.width == 1 and (searched.height > 1 or given.height == 1)
    if (searched.height != given.height) if down else (searched.width != given.width):
        fail(ErrorCode.VALUE)
    across = given.width if down else given.height

    def found(value: Raw) -> Raw:
        try:
            place = _extended(value, line, mode, direction, size_searched=_size(searched))
        except ErrorShown as problem:
            if missing is LEFT_OUT or is_error(value) or problem.raw != error(ErrorCode.NA):
                raise
            return missing
        if across == 1:
            cell = given.at(place, 0) if down else given.at(0, place)
            return BLANK if cell is None else cell
        if down:
            return [[_or_zero(given.at(place, column)) for column in range(across)]]
        return [[_or_zero(given.at(row, place))] for row in range(across)]

    if isinstance(sought, list) and across > 1:
        raise Uncertain("XLOOKUP of several values with several results each")
    return lifted(found, (sought,), (0,))


def _or_zero(raw: Raw) -> Raw:
    return 0.0 if raw is None else raw


def rank(value: Raw = None, cells: Raw = None, ascending: Raw = 0.0) -> Raw:
    """RANK and RANK.EQ."""
    return lifted(partial(_rank, _cells(cells).flat, average=False), (value, ascending), (0,))


def average_rank(value: Raw = None, cells: Raw = None, ascending: Raw = 0.0) -> Raw:
    """RANK.AVG."""
    return lifted(partial(_rank, _cells(cells).flat, average=True), (value, ascending), (0,))


def _rank(line: CellLine, value: Raw, ascending: Raw, *, average: bool) -> Raw:
    sought = number(_sought(value))
    if line.first_error is not None:
        raise ErrorShown(line.first_error)
    equal = line.equal(sought)
    if not equal:
        fail(ErrorCode.NA)
    numbers = line.numbers
    before = int((numbers < sought).sum()) if logical(ascending) else int((numbers > sought).sum())
    return before + 1 + ((len(equal) - 1) / 2 if average else 0.0)


def switch(value: Raw = None, *cases: Raw) -> Raw:
    """Number of the first case that equals the value; one more than there are where none does."""
    value = _sought(value)
    for place, case in enumerate(cases, 1):
        if is_error(case):
            raise Uncertain("SWITCH with a case that is an error value")
        if (kind(case) == kind(value) or case is None or value is None) and order(case, value) == 0:
            if case is None or value is None:
                raise Uncertain("SWITCH of a blank cell beside a zero, FALSE, or another blank cell")
            return float(place)
    return float(len(cases) + 1)


def switched(*given: Raw) -> Raw:
    """SWITCH by an array of values."""

    def one(value: Raw, *rest: Raw) -> Raw:
        cases, results = rest[: len(rest) - 1 : 2], rest[1::2]
        others = rest[-1] if len(rest) % 2 else error(ErrorCode.NA)
        place = int(single(switch(value, *cases)))
        return results[place - 1] if place <= len(results) else others

    return lifted(one, given, range(len(given)))


FUNCTIONS: dict[str, Callable[..., Raw]] = {
    "MATCH": match,
    "XMATCH": extended_match,
    "VLOOKUP": vertical,
    "HLOOKUP": horizontal,
    "LOOKUP": lookup,
    "XLOOKUP": extended_lookup,
    "RANK": rank,
    "RANK.EQ": rank,
    "RANK.AVG": average_rank,
}
"""By name; SWITCH is not among them because its results must not be evaluated before it chooses."""
