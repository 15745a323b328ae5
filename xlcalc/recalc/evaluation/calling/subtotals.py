"""SUBTOTAL and AGGREGATE: they know which of their rows are hidden and which cells are subtotals themselves.

Rules as in the function descriptions of Excel (support.microsoft.com, from memory): SUBTOTAL leaves out other
subtotals and filtered rows, from function number 101 on also rows that are hidden by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.evaluation.calling.addresses import parsed_address, several_areas
from xlcalc.recalc.evaluation.calling.cellformulas import CellFormulas
from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.aggregates import PLACED, SUMMARIES
from xlcalc.recalc.evaluation.library.arrays import Quotients, listed
from xlcalc.recalc.evaluation.library.values import (
    ErrorShown,
    Uncertain,
    cells_of,
    fail,
    is_error,
    is_number,
    lifted,
    rows_of,
    shown,
    single,
    whole,
)
from xlcalc.recalc.xlsx.hiddenrows import HiddenRows
from xlcalc.schema.values import ErrorCode

_COMPUTED = ""
"""Stands for the address of an array that is computed, and for a place that is not given."""


class Subtotals:
    """Callbacks that are handed each range with its address."""

    def __init__(self, hidden: Mapping[str, HiddenRows], cells: CellFormulas) -> None:
        self._hidden = hidden
        self._cells = cells

    def callbacks(self) -> dict[str, Callable[..., Raw]]:
        """By name; each takes the number of the formula first."""
        return {"_SUBTOTAL": self.subtotal, "_SUBTOTALS": self.subtotals, "_AGGREGATE": self.aggregate}

    def subtotal(self, formula: int, function: Raw, *ranges: Raw) -> Raw:
        """SUBTOTAL; an address before each range."""
        code = whole(single(function))
        wanted = code - 100 if code > 100 else code
        if not 1 <= wanted <= 11:
            fail(ErrorCode.VALUE)
        found: list[Raw] = []
        for address, values in _pairs(ranges):
            sheet, area = parsed_address(address)
            left_out = self._left_out(sheet, area, code)
            nested = self._cells.summaries(sheet)
            found += _kept(values, area.first_row, area.first_col, left_out, nested, {"SUBTOTAL"})
        return _summed(wanted, found)

    def subtotals(self, formula: int, function: Raw, around: Raw, cells: Raw, base: Raw, *steps: Raw) -> Raw:
        """SUBTOTAL of OFFSET by arrays of numbers: one for each place of them.

        `cells` are those at the address `around`, which holds them all.
        """
        sheet, area = parsed_address(around)
        code, grid = whole(single(function)), rows_of(cells)
        wanted = code - 100 if code > 100 else code
        if not 1 <= wanted <= 11:
            fail(ErrorCode.VALUE)
        left_out, nested = self._left_out(sheet, area, code), self._cells.summaries(sheet)
        bounds = several_areas(parsed_address(base)[1], steps)
        filled = area.first_row + len(grid) - 1

        def one(top: int, left: int, bottom: int, right: int) -> Raw:
            if top == bottom and left == right and (top, left) not in nested:
                cell = grid[top - area.first_row][left - area.first_col] if top <= filled else None
                return shown(_summed, (wanted, [] if top in left_out else [cell]))
            rows = grid[top - area.first_row : bottom + 1 - area.first_row]
            values = [row[left - area.first_col : right + 1 - area.first_col] for row in rows]
            kept = _kept(values, top, left, left_out, nested, {"SUBTOTAL"})
            return shown(lambda: _summed(wanted, list(kept)), ())

        return [
            [one(*place) for place in zip(*line, strict=True)]
            for line in zip(*(bound.tolist() for bound in bounds), strict=True)
        ]

    def aggregate(self, formula: int, function: Raw, options: Raw, place: Raw, *ranges: Raw) -> Raw:
        """AGGREGATE; `place` is the second argument of functions 14 to 19."""
        wanted, option = whole(single(function)), whole(single(options))
        place = None if place == _COMPUTED else place
        if not 1 <= wanted <= 19 or not 0 <= option <= 7:
            fail(ErrorCode.VALUE)
        if (wanted >= 14) != (place is not None):
            raise Uncertain("AGGREGATE with so many arguments for this function number")
        found: list[Raw] = []
        for address, values in _pairs(ranges):
            if address == _COMPUTED:
                if wanted < 14:
                    fail(ErrorCode.VALUE)
                if option in (1, 3, 5, 7) and any(
                    rows.rows or not rows.certain for rows in self._hidden.values()
                ):
                    raise Uncertain("AGGREGATE of something computed that leaves out hidden rows")
                if isinstance(values, Quotients) and option in (2, 3, 6, 7):
                    found += values.values[~values.failed].tolist()
                    continue
                found += cells_of(listed(values))
                continue
            sheet, area = parsed_address(address)
            hidden = self._hidden_rows(sheet)
            leaves_hidden = option in (1, 3, 5, 7)
            covered = any(area.first_row <= row <= area.last_row for row in hidden.filtered)
            if not leaves_hidden and covered:
                raise Uncertain("AGGREGATE over filtered rows that are not left out")
            nested = self._cells.summaries(sheet) if option < 4 else {}
            found += _kept(
                values,
                area.first_row,
                area.first_col,
                hidden.rows if leaves_hidden else frozenset(),
                nested,
                {"SUBTOTAL", "AGGREGATE"},
            )
        ignoring = option in (2, 3, 6, 7)
        if wanted in (2, 3) and not ignoring and any(map(is_error, found)):
            raise Uncertain("AGGREGATE that counts among error values")
        if place is None:
            return _summed(wanted, found, ignoring=ignoring)
        numbers = _numbers(found, ignoring=ignoring)
        return lifted(lambda k: PLACED[wanted](numbers, single(k)), (place,), (0,))

    def _left_out(self, sheet: str, area: CellRange, code: int) -> frozenset[int]:
        """The hidden rows that SUBTOTAL passes over."""
        hidden = self._hidden_rows(sheet)
        if code <= 100 and any(area.first_row <= row <= area.last_row for row in hidden.doubtful):
            raise Uncertain("rows hidden by hand beside a filter; 109 in place of 9 decides it")
        return hidden.rows if code > 100 else hidden.filtered

    def _hidden_rows(self, sheet: str) -> HiddenRows:
        hidden = self._hidden.get(sheet, HiddenRows())
        if not hidden.certain:
            raise Uncertain(f"which rows of the sheet {sheet!r} are hidden")
        return hidden


def _pairs(ranges: Sequence[Raw]) -> Iterator[tuple[Raw, Raw]]:
    return zip(ranges[::2], ranges[1::2], strict=True)


def _kept(
    values: Raw,
    top: int,
    left: int,
    hidden: frozenset[int],
    nested: Mapping[tuple[int, int], str],
    left_out: set[str],
) -> Iterator[Raw]:
    """Cells that are neither hidden nor subtotals."""
    if not hidden and not nested:
        yield from cells_of(values)
        return
    for row, cells in enumerate(rows_of(values), top):
        if row in hidden:
            continue
        for column, cell in enumerate(cells, left):
            kind = nested.get((row, column))
            if kind is not None and kind not in left_out:
                raise Uncertain("a subtotal that is a part of a formula, among the cells of another one")
            if kind is None:
                yield cell


def _numbers(cells: Sequence[Raw], *, ignoring: bool) -> list[float]:
    numbers = [cell for cell in cells if type(cell) is float]
    if len(numbers) == len(cells):
        return numbers
    if not ignoring:
        for cell in cells:
            if is_error(cell):
                raise ErrorShown(cell)
    return [float(cell) for cell in cells if is_number(cell)]


def _summed(wanted: int, cells: Sequence[Raw], *, ignoring: bool = False) -> Raw:
    if wanted == 3:
        return float(sum(cell is not None and not (ignoring and is_error(cell)) for cell in cells))
    if wanted == 2:
        return float(sum(map(is_number, cells)))
    return SUMMARIES[wanted](_numbers(cells, ignoring=ignoring))
