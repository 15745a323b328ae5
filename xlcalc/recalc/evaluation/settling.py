"""Parts of arrays that formulas meet by computed addresses.

The engine waits for the formula of a cell, and an array is the formula of its first cell: OFFSET or INDIRECT
of other cells of it may be evaluated too early, and is then evaluated once more.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence

from xlcalc.recalc.cellnames import CellRange, cell_name
from xlcalc.recalc.evaluation.content import ArrayMark
from xlcalc.recalc.evaluation.dependents import SheetArea
from xlcalc.recalc.evaluation.engine import Engine
from xlcalc.recalc.evaluation.feeding.prepared import Prepared
from xlcalc.recalc.evaluation.formula.references import sheet_prefix
from xlcalc.recalc.evaluation.refusals import touch

_MOST_ROUNDS = 8


def settled(
    engine: Engine,
    run: Callable[[], None],
    formulas: Sequence[Prepared],
    met: Mapping[int, Sequence[SheetArea]],
    prepared: Callable[[int], Prepared],
) -> Collection[int]:
    """Evaluate again until nothing changes; the formulas that still change after some rounds.

    Parameters
    ----------
    run : callable
        Evaluates what has changed.
    formulas : sequence of Prepared
        Those that are kept one by one, as all array formulas are.
    met : mapping of int to areas
        Cells that formulas met by computed addresses; grows while they are evaluated.
    prepared : callable
        A formula by its number, with its text for the engine.
    """
    arrays = [item for item in formulas if item.source.mark is not ArrayMark.PLAIN] if met else []
    shown: dict[int, object] = {}
    for _ in range(_MOST_ROUNDS if arrays else 0):
        covered = [(item.sheet, spilled(engine, item)) for item in arrays]
        meeting = [identity for identity, areas in met.items() if _part_of_any(areas, covered)]
        waiting = [item for item in map(prepared, meeting) if item.fed]
        values = {item.identity: list(engine.rows(item.sheet, *spilled(engine, item))) for item in waiting}
        if values == shown:
            return ()
        shown = dict(values)
        engine.renew([(item.sheet, item.source.row, item.source.col, item.fed) for item in waiting])
        run()
    return shown


def spilled(engine: Engine, item: Prepared) -> CellRange:
    """The cells that a formula fills."""
    if item.source.mark is not ArrayMark.DYNAMIC:
        return item.area
    row, col = item.source.row, item.source.col
    rows, columns = engine.spill_size(sheet_prefix(item.sheet) + cell_name(row, col)) or (1, 1)
    return CellRange(row, col, row + rows - 1, col + columns - 1)


def _part_of_any(areas: Sequence[SheetArea], arrays: Sequence[SheetArea]) -> bool:
    """Whether one of the areas has cells of an array without the first one of it."""
    return any(
        touch(area, array) and not area[1].contains(array[1].first_row, array[1].first_col)
        for area in areas
        for array in arrays
    )
