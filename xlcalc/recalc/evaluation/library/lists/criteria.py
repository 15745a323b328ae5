"""COUNTIF, SUMIF and their kin: criteria as spreadsheet programs read them."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.cells import CellLine, Cells, has_wildcards, wildcard
from xlcalc.recalc.evaluation.library.comparing import text_order
from xlcalc.recalc.evaluation.library.values import (
    ErrorShown,
    Uncertain,
    error,
    fail,
    is_error,
    is_number,
    lifted,
    text_number,
)
from xlcalc.schema.values import ErrorCode

_CRITERION = re.compile(r"(<=|>=|<>|=|<|>)?(.*)\Z", re.DOTALL)
_ERRORS = {code.value: error(code)["kind"] for code in ErrorCode}
_CLOSE = 1.2e-14
_NOWHERE = -2
_CELLS = object()
"""The cells with the criterion are themselves added up."""
Mask = npt.NDArray[np.bool_]


def _cells(raw: Raw) -> Cells:
    return raw if isinstance(raw, Cells) else Cells(raw)


def meets(line: CellLine, criterion: Raw) -> Mask:
    """Which cells meet a criterion."""
    if is_error(criterion):
        raise Uncertain("a criterion that is an error value")
    if criterion is None:
        return _numbers(line, "=", 0.0)
    if isinstance(criterion, bool):
        return _logicals(line, criterion)
    if is_number(criterion):
        return _numbers(line, "=", float(criterion))
    match = _CRITERION.match(criterion)
    operator, rest = (match[1], match[2]) if match else (None, criterion)
    if rest == "":
        return _emptiness(line, operator)
    written = operator or "="
    if rest.upper() in ("TRUE", "FALSE"):
        if written not in ("=", "<>"):
            raise Uncertain(f"the criterion {criterion!r}")
        found = _logicals(line, rest.upper() == "TRUE")
        return found if written == "=" else ~found
    if rest.upper() in _ERRORS:
        if written not in ("=", "<>"):
            raise Uncertain(f"the criterion {criterion!r}")
        found = _errors(line, _ERRORS[rest.upper()])
        return found if written == "=" else ~found
    value = text_number(rest)
    if value is not None:
        return _numbers(line, written, value)
    if written in ("=", "<>"):
        found = _texts(line, rest)
        return found if written == "=" else ~found
    if has_wildcards(rest):
        raise Uncertain(f"the criterion {criterion!r} compares by size and has wildcards")
    tests = {"<": (-1,), "<=": (-1, 0), ">": (1,), ">=": (0, 1)}[written]
    return np.array([t is not None and text_order(t, rest) in tests for t in line.folded], dtype=np.bool_)


def _errors(line: CellLine, wanted: str) -> Mask:
    return np.array([is_error(cell) and cell.get("kind") == wanted for cell in line.values], dtype=np.bool_)


def _logicals(line: CellLine, wanted: bool) -> Mask:
    if bool(np.any(line.numbers == float(wanted))):
        raise Uncertain("a criterion that is a logical, among numbers 0 and 1")
    return np.array([cell is wanted for cell in line.values], dtype=np.bool_)


def _emptiness(line: CellLine, operator: str | None) -> Mask:
    blank: Mask = line.kinds == "b"
    if operator == "=":
        return blank
    if operator == "<>":
        return ~blank
    if operator is None:
        empty: Mask = np.array([text == "" for text in line.folded], dtype=np.bool_)
        return blank | empty
    return np.zeros(len(line), dtype=np.bool_)


def _texts(line: CellLine, pattern: str) -> Mask:
    known, places = line.texts
    if not has_wildcards(pattern):
        found: Mask = places == known.get(pattern.lower(), _NOWHERE)
        return found
    match = wildcard(pattern).match
    matching = np.array([*(bool(match(text)) for text in known), False], dtype=np.bool_)
    return matching[places]


def _numbers(line: CellLine, operator: str, value: float) -> Mask:
    numbers = line.numbers
    close = (numbers != value) & (np.abs(numbers - value) <= _CLOSE * np.maximum(np.abs(numbers), abs(value)))
    if close.any():
        other = float(numbers[np.flatnonzero(close)[0]])
        raise Uncertain(
            f"a criterion compares {other!r} with {value!r}; programs differ in the last digits, "
            "ROUND would decide it"
        )
    with np.errstate(invalid="ignore"):
        if operator in ("=", "<>"):
            found: Mask = numbers == value
            if (line.numbers_as_text == value).any():
                raise Uncertain(f"a criterion looks for {value!r}, and a cell holds that number as text")
            return found if operator == "=" else ~found
        return {
            "<": numbers < value,
            "<=": numbers <= value,
            ">": numbers > value,
            ">=": numbers >= value,
        }[operator]


def _conditions(pairs: tuple[Raw, ...]) -> list[tuple[Cells, Raw]]:
    return [(_cells(pairs[i]), pairs[i + 1]) for i in range(0, len(pairs) - 1, 2)]


def _over(pairs: tuple[Raw, ...], summary: Callable[[Mask, int], Raw], values: Cells | None = None) -> Raw:
    """A summary of the cells that meet all criteria; repeated over criteria given as arrays.

    `values` are the cells that are summarised, where it is not their number; they may reach further down
    than the ones with the criteria.
    """
    conditions = _conditions(pairs)
    ranges = [cells for cells, _ in conditions]
    if values is not None:
        ranges.append(values)
    shape = ranges[-1].height, ranges[-1].width
    if any((cells.height, cells.width) != shape for cells in ranges):
        fail(ErrorCode.VALUE)
    used = max(len(cells.flat) for cells in ranges)
    if len({len(cells.rows[0]) for cells in ranges}) > 1:
        raise Uncertain("criteria over ranges of which parts are unused")
    lines = [cells.flat.padded(used) for cells, _ in conditions]
    beyond = shape[0] * shape[1] - used

    def one(*criteria: Raw) -> Raw:
        masks = [meets(line, criterion) for line, criterion in zip(lines, criteria, strict=True)]
        mask = masks[0] if len(masks) == 1 else np.logical_and.reduce(masks)
        unused = beyond
        if beyond:
            blank = CellLine([None])
            if not all(bool(meets(blank, criterion)[0]) for criterion in criteria):
                unused = 0
        return summary(mask, unused)

    criteria = tuple(criterion for _, criterion in conditions)
    return lifted(one, criteria, range(len(criteria)))


def count(*pairs: Raw) -> Raw:
    """COUNTIF and COUNTIFS."""
    return _over(pairs, lambda mask, unused: float(mask.sum() + unused))


def _selected(line: CellLine, mask: Mask) -> npt.NDArray[np.float64]:
    """The numbers among the chosen cells; an error among them is shown."""
    kinds = line.kinds
    chosen = mask[: len(kinds)]
    failed = np.flatnonzero((kinds == "e") & chosen)
    if failed.size:
        raise ErrorShown(line.values[failed[0]])
    found: npt.NDArray[np.float64] = line.numbers[chosen & (kinds == "n")]
    return found


def _summary(values: Raw, pairs: tuple[Raw, ...], reduce: Callable[[npt.NDArray[np.float64]], float]) -> Raw:
    cells = _cells(values)
    line = cells.flat
    return _over(pairs, lambda mask, _: reduce(_selected(line, mask)), cells)


def _sum(numbers: npt.NDArray[np.float64]) -> float:
    return math.fsum(numbers.tolist())


def _mean(numbers: npt.NDArray[np.float64]) -> float:
    return _sum(numbers) / len(numbers) if len(numbers) else fail(ErrorCode.DIV0)


def sums(values: Raw, *pairs: Raw) -> Raw:
    """SUMIFS."""
    return _summary(values, pairs, _sum)


def means(values: Raw, *pairs: Raw) -> Raw:
    """AVERAGEIFS."""
    return _summary(values, pairs, _mean)


def largest(values: Raw, *pairs: Raw) -> Raw:
    """MAXIFS."""
    return _summary(values, pairs, lambda numbers: float(numbers.max()) if len(numbers) else 0.0)


def smallest(values: Raw, *pairs: Raw) -> Raw:
    """MINIFS."""
    return _summary(values, pairs, lambda numbers: float(numbers.min()) if len(numbers) else 0.0)


def sum_if(cells: Raw = None, criterion: Raw = None, values: Raw = _CELLS) -> Raw:
    """SUMIF."""
    return _summary(_summed(cells, values), (cells, criterion), _sum)


def mean_if(cells: Raw = None, criterion: Raw = None, values: Raw = _CELLS) -> Raw:
    """AVERAGEIF."""
    return _summary(_summed(cells, values), (cells, criterion), _mean)


def _summed(cells: Raw, values: Raw) -> Raw:
    if values is _CELLS:
        return cells
    first, second = _cells(cells), _cells(values)
    if (first.height, first.width) != (second.height, second.width):
        raise Uncertain("the cells to add up and those with the criteria differ in shape")
    return values


FUNCTIONS: dict[str, Callable[..., Raw]] = {
    "COUNTIF": count,
    "COUNTIFS": count,
    "SUMIF": sum_if,
    "SUMIFS": sums,
    "AVERAGEIF": mean_if,
    "AVERAGEIFS": means,
    "MAXIFS": largest,
    "MINIFS": smallest,
}
