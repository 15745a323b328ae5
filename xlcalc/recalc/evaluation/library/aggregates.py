"""SUMPRODUCT, LARGE and SMALL over several places, MODE, and what SUBTOTAL and AGGREGATE add up."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.internal import MARK
from xlcalc.recalc.evaluation.library.arrays import Chosen, listed
from xlcalc.recalc.evaluation.library.cells import Cells
from xlcalc.recalc.evaluation.library.values import (
    ErrorShown,
    Uncertain,
    cells_of,
    error,
    fail,
    is_error,
    is_number,
    lifted,
    logical,
    number,
    numbers_of,
    rows_of,
    whole,
)
from xlcalc.schema.values import ErrorCode, all_numbers

Numbers = npt.NDArray[np.float64]
_NA = error(ErrorCode.NA)


def product_sum(*arrays: Raw) -> Raw:
    """SUMPRODUCT; what is no number counts as 0, logicals are refused because programs differ over them."""
    grids = [rows_of(array) for array in arrays]
    if any(len(grid) == len(grid[0]) == 1 and isinstance(grid[0][0], str) for grid in grids):
        raise Uncertain("a single text in SUMPRODUCT")
    if len({(len(grid), len(grid[0])) for grid in grids}) > 1:
        for grid in grids:
            _first_error(grid)
        fail(ErrorCode.VALUE)
    if all(all_numbers(grid) for grid in grids):
        factors = [np.array(grid, dtype=np.float64) for grid in grids]
        return math.fsum(np.multiply.reduce(factors).ravel().tolist())
    total = []
    for cells in zip(*(cells_of(grid) for grid in grids), strict=True):
        factor = 1.0
        for cell in cells:
            if is_error(cell):
                raise ErrorShown(cell)
            if isinstance(cell, bool):
                raise Uncertain("a logical in SUMPRODUCT, which programs count differently; --( ) decides it")
            factor *= float(cell) if is_number(cell) else 0.0
        total.append(factor)
    return math.fsum(total)


def _first_error(grid: list[list[Raw]]) -> None:
    for cell in cells_of(grid):
        if is_error(cell):
            raise ErrorShown(cell)


def _place(raw: Raw) -> int:
    found = number(raw)
    if not found.is_integer():
        raise Uncertain("a place that is no whole number")
    return int(found)


def ascending(values: Raw) -> Numbers:
    """The numbers of an argument in their order, sorted once for cells that are kept."""
    if isinstance(values, Cells):
        return values.flat.ascending
    if isinstance(values, Chosen):
        return np.sort(values.numbers_only)
    return np.sort(np.array(numbers_of(listed(values))))


def _ranked(values: Numbers, place: Raw, *, descending: bool) -> Raw:
    wanted = _place(place)
    if not 1 <= wanted <= len(values):
        fail(ErrorCode.NUM)
    return float(values[-wanted] if descending else values[wanted - 1])


def large(values: Raw = None, place: Raw = None) -> Raw:
    """LARGE."""
    found = ascending(values)
    return lifted(lambda wanted: _ranked(found, wanted, descending=True), (place,), (0,))


def small(values: Raw = None, place: Raw = None) -> Raw:
    """SMALL."""
    found = ascending(values)
    return lifted(lambda wanted: _ranked(found, wanted, descending=False), (place,), (0,))


def mode(*arguments: Raw) -> Raw:
    """MODE and MODE.SNGL: the most frequent number, of several the one that comes first."""
    if any(argument is None for argument in arguments):
        raise Uncertain("a single blank cell among the numbers of MODE")
    counts = Counter(value for argument in arguments for value in numbers_of(argument))
    best = max(counts.values(), default=0)
    if best < 2:
        fail(ErrorCode.NA)
    most = [value for value, count in counts.items() if count == best]
    if min(most) != most[0] and len(arguments) > 1 and any(isinstance(item, list) for item in arguments):
        raise Uncertain("several numbers that are equally frequent")
    return most[0]


def percentile(values: Numbers | Sequence[float], share: float) -> float:
    """PERCENTILE.INC of numbers."""
    if not len(values) or not 0 <= share <= 1:
        fail(ErrorCode.NUM)
    return float(np.quantile(values, share, method="linear"))


def percentile_exclusive(values: Numbers | Sequence[float], share: float) -> float:
    """PERCENTILE.EXC of numbers."""
    count = len(values)
    if not len(values) or not 1 / (count + 1) <= share <= count / (count + 1):
        fail(ErrorCode.NUM)
    return float(np.quantile(values, share, method="weibull"))


def percentile_of(values: Raw = None, share: Raw = None) -> Raw:
    """PERCENTILE and PERCENTILE.INC."""
    found = ascending(values)
    return lifted(lambda wanted: percentile(found, number(wanted)), (share,), (0,))


def percentile_exclusive_of(values: Raw = None, share: Raw = None) -> Raw:
    """PERCENTILE.EXC."""
    found = ascending(values)
    return lifted(lambda wanted: percentile_exclusive(found, number(wanted)), (share,), (0,))


def _quarter(raw: Raw) -> float:
    wanted = number(raw)
    return math.trunc(wanted) / 4 if 0 <= wanted < 5 else fail(ErrorCode.NUM)


def quartile_of(values: Raw = None, quarter: Raw = None) -> Raw:
    """QUARTILE and QUARTILE.INC."""
    found = ascending(values)
    return lifted(lambda wanted: percentile(found, _quarter(wanted)), (quarter,), (0,))


def quartile_exclusive_of(values: Raw = None, quarter: Raw = None) -> Raw:
    """QUARTILE.EXC."""
    found = ascending(values)
    return lifted(lambda wanted: percentile_exclusive(found, _quarter(wanted)), (quarter,), (0,))


def _spread(values: Sequence[float], *, sample: bool) -> float:
    if len(values) < (2 if sample else 1):
        fail(ErrorCode.DIV0)
    return float(np.var(values, ddof=1 if sample else 0))


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values) if values else fail(ErrorCode.DIV0)


SUMMARIES: dict[int, Callable[[Sequence[float]], float]] = {
    1: _mean,
    2: lambda values: float(len(values)),
    4: lambda values: max(values, default=0.0),
    5: lambda values: min(values, default=0.0),
    6: lambda values: math.prod(values) if values else 0.0,
    7: lambda values: math.sqrt(_spread(values, sample=True)),
    8: lambda values: math.sqrt(_spread(values, sample=False)),
    9: math.fsum,
    10: lambda values: _spread(values, sample=True),
    11: lambda values: _spread(values, sample=False),
    12: lambda values: float(np.median(values)) if values else fail(ErrorCode.NUM),
    13: lambda values: mode([list(values)]) if values else fail(ErrorCode.NA),
}
PLACED: dict[int, Callable[[Sequence[float], Raw], Raw]] = {
    14: lambda values, place: _ranked(np.sort(values), place, descending=True),
    15: lambda values, place: _ranked(np.sort(values), place, descending=False),
    16: lambda values, share: percentile(values, number(share)),
    17: lambda values, quarter: percentile(values, _quarter(quarter)),
    18: lambda values, share: percentile_exclusive(values, number(share)),
    19: lambda values, quarter: percentile_exclusive(values, _quarter(quarter)),
}
"""Functions of SUBTOTAL and AGGREGATE by number, the latter with a second argument."""


def chosen(index: Raw = None, *values: Raw) -> Raw:
    """CHOOSE by an array of numbers."""

    def one(number_of_value: Raw, *cells: Raw) -> Raw:
        place = whole(number_of_value)
        return cells[place - 1] if 1 <= place <= len(cells) else fail(ErrorCode.VALUE)

    return lifted(one, (index, *values), range(len(values) + 1))


def first_true(*given: Raw) -> Raw:
    """IFS by arrays of conditions."""

    def one(*cells: Raw) -> Raw:
        pairs = zip(cells[::2], cells[1::2], strict=True)
        return next((value for test, value in pairs if logical(test)), _NA)

    return lifted(one, given, range(len(given)))


def instead(values: Raw, others: Raw) -> Raw:
    """IFERROR and IFNA with an array of other values; what they catch is a mark among the values."""
    first, second = rows_of(values), rows_of(others)
    height, width = max(len(first), len(second)), max(len(first[0]), len(second[0]))
    if any(1 < given < whole for given, whole in ((len(first), height), (len(first[0]), width))):
        raise Uncertain("IFERROR with more other values than values")

    def at(grid: list[list[Raw]], row: int, column: int) -> Raw:
        row, column = 0 if len(grid) == 1 else row, 0 if len(grid[0]) == 1 else column
        return grid[row][column] if row < len(grid) and column < len(grid[0]) else _NA

    def one(row: int, column: int) -> Raw:
        value = at(first, row, column)
        found = at(second, row, column) if isinstance(value, str) and value.startswith(MARK) else value
        return 0.0 if found is None else found

    return [[one(row, column) for column in range(width)] for row in range(height)]


def _of_pairs(term: Callable[[float, float], float], *, complete: bool = False) -> Callable[..., Raw]:
    """A sum over pairs of numbers; a pair with a blank cell or a text does not count, or is refused."""

    def computed(first: Raw, second: Raw) -> Raw:
        grids = [rows_of(raw) for raw in (first, second)]
        for grid in grids:
            _first_error(grid)
        (height, width), (other_height, other_width) = ((len(grid), len(grid[0])) for grid in grids)
        if height * width != other_height * other_width:
            fail(ErrorCode.NA)
        if height != other_height:
            raise Uncertain("two ranges of the same size that have different shapes")
        pairs = list(zip(cells_of(first), cells_of(second), strict=True))
        if any(isinstance(cell, bool) for pair in pairs for cell in pair):
            raise Uncertain("a logical in one of two ranges that belong together")
        terms = [term(a, b) for a, b in pairs if is_number(a) and is_number(b)]
        if not terms or (complete and len(terms) < len(pairs)):
            raise Uncertain("blank cells or texts in one of two ranges that belong together")
        return math.fsum(terms)

    return computed


def frequency(values: Raw = None, limits: Raw = None) -> Raw:
    """FREQUENCY: how many numbers lie up to each limit, and above the last."""
    numbers, bounds = sorted(numbers_of(values)), numbers_of(limits)
    if not bounds:
        raise Uncertain("FREQUENCY without limits")
    counts: dict[int, int] = {}
    below = 0
    for place in sorted(range(len(bounds)), key=lambda at: (bounds[at], at)):
        upto = bisect_right(numbers, bounds[place])
        counts[place], below = upto - below, upto
    return [[float(counts[place])] for place in range(len(bounds))] + [[float(len(numbers) - below)]]


def cut(kind: Raw, result: Raw, sought: Raw, *beyond: Raw) -> Raw:
    """The result over cells that were cut off; refused where they count.

    Parameters
    ----------
    kind : str
        What the function does with what it is given.
    result : value
        From the cells in use.
    sought : value
        What a look-up wants.
    beyond : values
        What each argument is for the cells that were cut off; error values as texts with a mark.
    """
    failed = [isinstance(value, str) and value.startswith(MARK) for value in beyond]
    nothing = [isinstance(value, bool | str) for value in beyond]
    zero = [(is_number(value) and value == 0) or value is None for value in beyond]
    certain = {
        "SUM": not any(failed) and all(a or b for a, b in zip(nothing, zero, strict=True)),
        "SUMPRODUCT": not any(failed) and (any(zero) or any(nothing)),
        "PASSED": not any(failed) and all(nothing),
        "COUNT": all(nothing),
        "MAX": not any(failed) and (all(nothing) or (all(zero) and is_number(result) and result >= 0)),
        "MIN": not any(failed) and (all(nothing) or (all(zero) and is_number(result) and result <= 0)),
        "CHOSEN": not any(failed) and all(value is False or z for value, z in zip(beyond, zero, strict=True)),
        "ORDERED": failed[0],
        "EXACT": failed[0] or not _may_equal(sought, beyond[0]),
        "FIRST": is_number(result) or failed[0] or not _may_equal(sought, beyond[0]),
    }
    if not certain.get(str(kind), False):
        raise Uncertain("an array made of a whole column or row, in which blank cells count")
    return result


def padded(tall: Raw, line: Raw, *others: Raw) -> Raw:
    """A whole column (or row) with blank cells up to the length of the longest of the formula."""
    rows, grids = rows_of(line), [rows_of(other) for other in others]
    if tall:
        height = max(map(len, grids))
        return rows + [[None] * len(rows[0]) for _ in range(height - len(rows))]
    width = max(len(grid[0]) for grid in grids)
    return [[*row, *[None] * (width - len(row))] for row in rows]


def _may_equal(sought: Raw, other: Raw) -> bool:
    if sought is None or other is None or isinstance(sought, list):
        return True
    if isinstance(sought, str) != isinstance(other, str) or isinstance(sought, bool) != isinstance(
        other, bool
    ):
        return False
    return isinstance(sought, str) or sought == other


def stacked(*ranges: Raw) -> Raw:
    """The cells of several ranges, one below the other."""
    return [[cell] for cells in ranges for cell in cells_of(cells)]


KEEPING = frozenset(
    "LARGE SMALL PERCENTILE PERCENTILE.INC PERCENTILE.EXC QUARTILE QUARTILE.INC QUARTILE.EXC".split()
)
"""Functions that take the cells of a range as they are kept for all formulas."""

FUNCTIONS: dict[str, Callable[..., Raw]] = {
    "LARGE": large,
    "SMALL": small,
    "MODE": mode,
    "MODE.SNGL": mode,
    "PERCENTILE": percentile_of,
    "PERCENTILE.INC": percentile_of,
    "PERCENTILE.EXC": percentile_exclusive_of,
    "QUARTILE": quartile_of,
    "QUARTILE.INC": quartile_of,
    "QUARTILE.EXC": quartile_exclusive_of,
    "FREQUENCY": frequency,
    "SUMX2MY2": _of_pairs(lambda x, y: x * x - y * y),
    "SUMX2PY2": _of_pairs(lambda x, y: x * x + y * y),
    "SUMXMY2": _of_pairs(lambda x, y: (x - y) ** 2, complete=True),
    "_INSTEAD": instead,
    "_CHOOSE": chosen,
    "_IFS": first_true,
    "_STACKED": stacked,
    "_CUT": cut,
    "_PADDED": padded,
}
