"""Functions of single values repeated over arrays, as array formulas ask; the engine repeats few itself."""

from __future__ import annotations

from collections.abc import Sequence

from xlcalc.hosts.headless.cellnames import cell_name
from xlcalc.hosts.headless.evaluation.calling.overrides import register_overrides
from xlcalc.hosts.headless.evaluation.engine import (
    Engine,
    EngineValue,
    Raw,
    Unfit,
    error_to_raw,
    plain_content,
)
from xlcalc.hosts.headless.evaluation.feeding.feed import Content, Formula, SheetFeed
from xlcalc.schema.values import CellError, ErrorCode

_SHEET = "Each"
_NA: Raw = error_to_raw(CellError(ErrorCode.NA))
MAX_CELLS = 200_000


def each(name: str, arguments: Sequence[Raw]) -> Raw:
    """Apply an ordinary function to every place of its arguments, one by one, in an engine of its own.

    One row or column is repeated along the other arguments; a place that some argument lacks is #N/A.
    Raises OverflowError for more than `MAX_CELLS` places.
    """
    grids = [item if isinstance(item, list) else [[item]] for item in arguments]
    rows = max(len(grid) for grid in grids)
    columns = max(len(grid[0]) for grid in grids)
    if rows * columns > MAX_CELLS:
        raise OverflowError(f"more than {MAX_CELLS} cells")
    cells: list[tuple[int, int, Content]] = []
    present: set[tuple[int, int]] = set()
    for row in range(rows):
        for column in range(columns):
            number = row * columns + column + 1
            values = [_at(grid, row, column) for grid in grids]
            if any(value is _NA for value in values):
                continue
            present.add((row, column))
            for index, value in enumerate(values, 1):
                if value is not None:
                    cells.append((number, index, plain_content(value)))
            addresses = ",".join(cell_name(number, index) for index in range(1, len(values) + 1))
            cells.append((number, len(values) + 1, Formula(f"{name}({addresses})")))
    engine = Engine()
    register_overrides(engine)
    engine.load([SheetFeed(_SHEET, cells)])
    engine.evaluate_here()
    results = [row[0] for row in engine.rows(_SHEET, 1, len(grids) + 1, rows * columns, len(grids) + 1)]
    return [
        [
            _raw(results[row * columns + column]) if (row, column) in present else _NA
            for column in range(columns)
        ]
        for row in range(rows)
    ]


def _at(grid: list[list[Raw]], row: int, column: int) -> Raw:
    row = 0 if len(grid) == 1 else row
    column = 0 if len(grid[0]) == 1 else column
    return grid[row][column] if row < len(grid) and column < len(grid[0]) else _NA


def _raw(value: EngineValue) -> Raw:
    if isinstance(value, CellError):
        return error_to_raw(value)
    return {"type": "Error", "kind": "NImpl"} if isinstance(value, Unfit) else value
