"""Functions of single values repeated over arrays, as array formulas ask; the engine repeats few itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from xlcalc.recalc.cellnames import cell_name
from xlcalc.recalc.evaluation.calling.overrides import register_overrides
from xlcalc.recalc.evaluation.engine import (
    Engine,
    EngineValue,
    Raw,
    Unfit,
    error_to_raw,
    plain_content,
)
from xlcalc.recalc.evaluation.feeding.feed import Content, Formula, SheetFeed
from xlcalc.recalc.evaluation.library.arrays import Chosen, Quotients, listed
from xlcalc.recalc.evaluation.library.catalogue import LIBRARY
from xlcalc.recalc.evaluation.library.coded import as_text, joined, over
from xlcalc.recalc.evaluation.library.numeric import at_once
from xlcalc.recalc.evaluation.library.values import lifted
from xlcalc.schema.values import CellError, ErrorCode

_SHEET = "Each"
_NA: Raw = error_to_raw(CellError(ErrorCode.NA))
MAX_CELLS = 200_000
Known = dict[tuple[Raw, ...], Raw]
"""Results by name of the function and its arguments."""


class Elementwise:
    """The callback for all of them."""

    def __init__(self) -> None:
        self._known: Known = {}

    def callbacks(self) -> dict[str, Callable[..., Raw]]:
        """By name; it takes the number of the formula first."""
        return {"_EACH": self.each}

    def each(self, formula: int, name: str, letters: str, *arguments: Raw) -> Raw:
        """A function with an argument letter for each argument, t for one that is used as text."""
        given = [raw.rows() if isinstance(raw, Quotients | Chosen) else raw for raw in arguments]
        numbers = at_once(name, given)
        if numbers is not None:
            return numbers
        texts = [letter == "t" for letter in letters]
        result = over(name, texts, given, lambda asked: self._results(name, asked))
        if result is not None:
            return result
        read = [_read(raw) if text else listed(raw) for text, raw in zip(texts, given, strict=True)]
        return self._repeated(name, read)

    def _results(self, name: str, asked: Sequence[tuple[Raw, ...]]) -> list[Raw]:
        if not asked:
            return []
        columns = [[[raw] for raw in column] for column in zip(*asked, strict=True)]
        return [row[0] for row in self._repeated(name, columns)]

    def _repeated(self, name: str, arguments: Sequence[Raw]) -> list[list[Raw]]:
        function = joined if name == "&" else LIBRARY.get(name)
        if function is not None:
            found: list[list[Raw]] = lifted(function, arguments, range(len(arguments)))
            return found
        return each(name, arguments, self._known)


def _read(raw: Raw) -> Raw:
    """An array with every value as text."""
    rows = listed(raw)
    return [[as_text(cell) for cell in row] for row in rows] if isinstance(rows, list) else as_text(rows)


def each(name: str, arguments: Sequence[Raw], known: Known) -> list[list[Raw]]:
    """Apply an ordinary function to every place of its arguments, one by one, in an engine of its own.

    One row or column is repeated along the other arguments; a place that some argument lacks is #N/A.
    What `known` has is not computed again; it is added to.
    Raises OverflowError for more than `MAX_CELLS` places.
    """
    grids = [item if isinstance(item, list) else [[item]] for item in arguments]
    rows = max(len(grid) for grid in grids)
    columns = max(len(grid[0]) for grid in grids)
    if rows * columns > MAX_CELLS:
        raise OverflowError(f"more than {MAX_CELLS} cells")
    if len(known) > MAX_CELLS:
        known.clear()
    if len(grids) == 1:
        return _each_of_one(name, grids[0], known)
    keys: list[tuple[Raw, ...]] = []
    asked: dict[tuple[Raw, ...], list[Raw]] = {}
    for row in range(rows):
        for column in range(columns):
            values = [_at(grid, row, column) for grid in grids]
            key = (name, *map(_key, values))
            keys.append(key)
            if key not in known and key not in asked:
                asked[key] = values
    known.update(_computed(name, asked))
    found = [known[key] for key in keys]
    return [found[start : start + columns] for start in range(0, rows * columns, columns)]


def _each_of_one(name: str, grid: list[list[Raw]], known: Known) -> list[list[Raw]]:
    """The same for functions of one argument."""
    columns = len(grid[0])
    cells = [cell for row in grid for cell in row]
    kinds = set(map(type, cells))
    plain = kinds == {str} or (kinds == {float} and 0.0 not in cells)
    keys = cells if plain else [_key(cell) for cell in cells]
    table = known.setdefault((name,), {})
    new = {(key,): [cell] for key, cell in zip(keys, cells, strict=True) if key not in table}
    table.update({key[0]: value for key, value in _computed(name, new).items()})
    found = [table[key] for key in keys]
    return [found[start : start + columns] for start in range(0, len(found), columns)]


def _key(value: Raw) -> Raw:
    """Key of a value: its kind counts too, and the sign of zero."""
    if isinstance(value, str) or value is None:
        return value
    if value is _NA or isinstance(value, dict):
        return ("missing",) if value is _NA else (value.get("kind"),)
    return (value,) if isinstance(value, bool) else float(value) or repr(float(value))


def _computed(name: str, asked: Mapping[tuple[Raw, ...], Sequence[Raw]]) -> Known:
    cells: list[tuple[int, int, Content]] = []
    numbers: dict[tuple[Raw, ...], int] = {}
    found: Known = {}
    width = 0
    for key, values in asked.items():
        if any(value is _NA for value in values):
            found[key] = _NA
            continue
        number = numbers[key] = len(numbers) + 1
        width = len(values)
        cells += [(number, i, plain_content(v)) for i, v in enumerate(values, 1) if v is not None]
        addresses = ",".join(cell_name(number, index) for index in range(1, width + 1))
        cells.append((number, width + 1, Formula(f"{name}({addresses})")))
    if not numbers:
        return found
    engine = Engine()
    register_overrides(engine)
    engine.load([SheetFeed(_SHEET, cells)])
    engine.evaluate_here()
    results = [row[0] for row in engine.rows(_SHEET, 1, width + 1, len(numbers), width + 1)]
    return found | {key: _raw(value) for key, value in zip(numbers, results, strict=True)}


def _at(grid: list[list[Raw]], row: int, column: int) -> Raw:
    row = 0 if len(grid) == 1 else row
    column = 0 if len(grid[0]) == 1 else column
    return grid[row][column] if row < len(grid) and column < len(grid[0]) else _NA


def _raw(value: EngineValue) -> Raw:
    if isinstance(value, CellError):
        return error_to_raw(value)
    return {"type": "Error", "kind": "NImpl"} if isinstance(value, Unfit) else value
