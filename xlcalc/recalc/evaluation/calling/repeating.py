"""MAP, REDUCE, SCAN, BYROW, BYCOL, MAKEARRAY: the body of a LAMBDA evaluated in a small workbook of its own.

Each use of the body is a formula there, so that it is refused or evaluated like any other.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from xlcalc.recalc.cellnames import CellRange, column_letters
from xlcalc.recalc.evaluation.calling.recipes import Recipe, captured, parameter, written
from xlcalc.recalc.evaluation.content import ArrayMark, BookContent, CellFormula, SheetContent
from xlcalc.recalc.evaluation.engine import Raw, error_to_raw, plain_content
from xlcalc.recalc.evaluation.library.values import (
    Uncertain,
    cells_of,
    fail,
    rows_of,
    single,
    whole,
)
from xlcalc.schema.values import CellError, ErrorCode

_MOST = 20_000
_MOST_STEPS = 1_000
_RESULTS = "Results"

Values = list[list[Raw]]
Evaluate = Callable[[BookContent], tuple[dict[tuple[int, int], Any], dict[int, CellRange], str]]
"""Values of the results, arrays by number of their formula, and the first reason of a refusal."""


class Repeating:
    """Callbacks that are handed the number of a recipe and the values that it takes.

    Parameters
    ----------
    recipes : sequence of Recipe
    evaluate : callable
        Evaluates a workbook and gives the values of the sheet with the results.
    """

    def __init__(self, recipes: Sequence[Recipe], evaluate: Evaluate) -> None:
        self._recipes = recipes
        self._evaluate = evaluate

    def callbacks(self) -> dict[str, Callable[..., Raw]]:
        """By name; each takes the number of the formula first."""
        return {
            "_MAP": self.map,
            "_BYROW": self.by_row,
            "_BYCOL": self.by_column,
            "_MAKEARRAY": self.make,
            "_SCAN": self.scan,
            "_REDUCE": self.reduce,
        }

    def _taken(self, number: Raw, values: Sequence[Raw]) -> tuple[_Book, list[Values]]:
        recipe = self._recipes[int(number)]
        given = [rows_of(value) for value in values[: recipe.parameters]]
        return _Book(recipe, values[recipe.parameters :]), given

    def map(self, formula: int, number: Raw, *values: Raw) -> Raw:
        """MAP."""
        book, arrays = self._taken(number, values)
        height, width = len(arrays[0]), len(arrays[0][0])
        if any((len(array), len(array[0])) != (height, width) for array in arrays):
            raise Uncertain("MAP of arrays of different sizes")
        for place, array in enumerate(arrays):
            book.put(place, array)
        for row in range(height):
            for column in range(width):
                cell = _fixed(row + 1, column + 1)
                book.use([f"Given{place}!{cell}" for place in range(len(arrays))])
        return _shaped(self._results(book), width)

    def by_row(self, formula: int, number: Raw, *values: Raw) -> Raw:
        """BYROW."""
        book, [array] = self._taken(number, values)
        book.put(0, array)
        last = column_letters(len(array[0]))
        for row in range(1, len(array) + 1):
            book.use([f"Given0!$A${row}" + (f":${last}${row}" if last != "A" else "")])
        return _shaped(self._results(book), 1)

    def by_column(self, formula: int, number: Raw, *values: Raw) -> Raw:
        """BYCOL."""
        book, [array] = self._taken(number, values)
        book.put(0, array)
        for column in range(1, len(array[0]) + 1):
            letters = column_letters(column)
            book.use([f"Given0!${letters}$1" + (f":${letters}${len(array)}" if len(array) > 1 else "")])
        return _shaped(self._results(book), len(array[0]))

    def make(self, formula: int, number: Raw, rows: Raw, columns: Raw, *values: Raw) -> Raw:
        """MAKEARRAY."""
        book = _Book(self._recipes[int(number)], values)
        if any(isinstance(single(size), str) for size in (rows, columns)):
            raise Uncertain("a text as the size of MAKEARRAY")
        height, width = whole(single(rows)), whole(single(columns))
        if height < 1 or width < 1:
            fail(ErrorCode.VALUE)
        if height * width > _MOST:
            raise Uncertain(f"more than {_MOST} uses of a LAMBDA")
        for row in range(1, height + 1):
            for column in range(1, width + 1):
                book.use([str(row), str(column)])
        return _shaped(self._results(book), width)

    def scan(self, formula: int, number: Raw, *values: Raw) -> Raw:
        """SCAN."""
        book, [initial, array] = self._taken(number, values)
        if len(initial) > 1 or len(initial[0]) > 1:
            raise Uncertain("SCAN from an array")
        self._chain(book, initial, array)
        return _shaped(self._results(book), len(array[0]))

    def reduce(self, formula: int, number: Raw, *values: Raw) -> Raw:
        """REDUCE; step by step where what is carried on is an array."""
        book, [initial, array] = self._taken(number, values)
        cells = list(cells_of(array))
        if len(initial) == len(initial[0]) == 1:
            self._chain(book, initial, array)
            found, arrays, refused = self._evaluate(book.content())
            if not refused and not arrays:
                return _raw(found[len(cells), 1])
        if len(cells) > _MOST_STEPS:
            raise Uncertain(f"REDUCE over more than {_MOST_STEPS} values that carries on an array")
        carried: Values = initial
        for cell in cells:
            step, _ = self._taken(number, values)
            step.put(0, carried)
            step.put(1, [[cell]])
            step.use([_area("Given0", carried), "Given1!$A$1"])
            found, arrays, refused = self._evaluate(step.content())
            if refused:
                raise Uncertain(refused)
            area = arrays.get(0, CellRange(1, 1, 1, 1))
            carried = [
                [_raw(found[row, column]) for column in range(1, area.last_col + 1)]
                for row in range(1, area.last_row + 1)
            ]
        return carried if len(carried) > 1 or len(carried[0]) > 1 else carried[0][0]

    def _chain(self, book: _Book, initial: Values, array: Values) -> None:
        """One formula for each value, which uses the one before."""
        book.put(0, initial)
        book.put(1, array)
        before = "Given0!$A$1"
        for row in range(1, len(array) + 1):
            for column in range(1, len(array[0]) + 1):
                book.use([before, f"Given1!{_fixed(row, column)}"])
                before = f"{_RESULTS}!$A${book.uses}"

    def _results(self, book: _Book) -> list[Raw]:
        found, arrays, refused = self._evaluate(book.content())
        if refused:
            raise Uncertain(refused)
        if arrays:
            raise Uncertain("a LAMBDA that gives several values where one is expected")
        return [_raw(found[row, 1]) for row in range(1, book.uses + 1)]


class _Book:
    """The workbook of one call."""

    def __init__(self, recipe: Recipe, used: Sequence[Raw]) -> None:
        self._recipe = recipe
        self._sheets: list[SheetContent] = []
        self._formulas: list[CellFormula] = []
        self._texts: dict[Any, str] = {}
        for number, (how, raw) in enumerate(zip(recipe.captured, used, strict=True)):
            name, values = f"Used{number}", rows_of(raw)
            self._put(name, values)
            text = _area(name, values)
            if how.columns:
                text = f"{name}!$A:${column_letters(how.columns)}"
            elif how.rows:
                text = f"{name}!$1:${how.rows}"
            self._texts[captured(number)] = text

    @property
    def uses(self) -> int:
        return len(self._formulas)

    def put(self, number: int, values: Values) -> None:
        """Values of a parameter, on a sheet of their own."""
        self._put(f"Given{number}", values)

    def _put(self, name: str, values: Values) -> None:
        constants = [
            (row, column, plain_content(cell))
            for row, cells in enumerate(values, 1)
            for column, cell in enumerate(cells, 1)
            if cell is not None
        ]
        self._sheets.append(SheetContent(name, "", constants=constants))

    def use(self, parameters: Sequence[str]) -> None:
        """One formula with the body, its parameters given by their texts."""
        row = len(self._formulas) + 1
        if row > _MOST:
            raise Uncertain(f"more than {_MOST} uses of a LAMBDA")
        texts = self._texts | {parameter(number): text for number, text in enumerate(parameters)}
        text = written(self._recipe.body, texts)
        area = CellRange(row, 1, row, 1)
        self._formulas.append(CellFormula(row, 1, text, ArrayMark.DYNAMIC, area))

    def content(self) -> BookContent:
        """The workbook; the results come first."""
        results = SheetContent(_RESULTS, "", formulas=self._formulas)
        return BookContent((results, *self._sheets), {}, {})


def _fixed(row: int, column: int) -> str:
    return f"${column_letters(column)}${row}"


def _area(sheet: str, values: Values) -> str:
    last = _fixed(len(values), len(values[0]))
    return f"{sheet}!$A$1" + (f":{last}" if last != "$A$1" else "")


def _raw(value: Any) -> Raw:
    return error_to_raw(value) if isinstance(value, CellError) else value


def _shaped(values: list[Raw], width: int) -> Raw:
    if len(values) == 1:
        return values[0]
    return [values[start : start + width] for start in range(0, len(values), width)]
