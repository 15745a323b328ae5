"""Values of a sheet after evaluation: in one go where the cells lie close, else area by area."""

from __future__ import annotations

from collections.abc import Iterable

from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.evaluation.engine import Engine, EngineValue
from xlcalc.recalc.evaluation.feeding.plainsheet import PlainSheet
from xlcalc.recalc.xlsx.gridvalues import GridValues

_MAX_CELLS = 4_000_000
_MAX_SPARSE = 40


class SheetValues:
    """Reads areas of one sheet from an engine that has evaluated it."""

    def __init__(self, engine: Engine, sheet: str, areas: Iterable[CellRange]) -> None:
        self._engine = engine
        self._sheet = sheet
        listed = list(areas)
        self._frame = _frame(listed)
        worth = min(_MAX_CELLS, max(10_000, _MAX_SPARSE * len(listed)))
        self._rows: list[list[EngineValue]] | None = None
        if self._frame is not None and self._frame.area <= worth:
            self._rows = list(engine.rows(sheet, *self._frame))

    def rows(self, area: CellRange) -> list[list[EngineValue]]:
        """Values of an area, as rows."""
        frame = self._frame
        if self._rows is None or frame is None:
            return list(self._engine.rows(self._sheet, *area))
        left, right = area.first_col - frame.first_col, area.last_col - frame.first_col + 1
        top, bottom = area.first_row - frame.first_row, area.last_row - frame.first_row + 1
        return [row[left:right] for row in self._rows[top:bottom]]

    def every(self, area: CellRange) -> list[EngineValue]:
        """Values of an area, row after row."""
        if area.area == 1:
            return [self.value(area.first_row, area.first_col)]
        return [value for row in self.rows(area) for value in row]

    def value(self, row: int, col: int) -> EngineValue:
        """Value of one cell."""
        frame = self._frame
        if self._rows is None or frame is None:
            return self.rows(CellRange(row, col, row, col))[0][0]
        return self._rows[row - frame.first_row][col - frame.first_col]


def sheet_grid(engine: Engine, sheet: PlainSheet) -> GridValues:
    """Values of the formula cells of a plain sheet; blank ones are zero."""
    rows, cols = sheet.rows, sheet.cols
    if not rows:
        return GridValues(rows, cols, 1, 1, [])
    top, left, bottom, right = rows[0], min(cols), rows[-1], max(cols)
    area = (bottom - top + 1) * (right - left + 1)
    if area <= min(_MAX_CELLS, max(10_000, _MAX_SPARSE * len(rows))):
        return GridValues(rows, cols, top, left, list(engine.rows(sheet.name, top, left, bottom, right)))
    sparse: dict[int, dict[int, EngineValue]] = {}
    for row, col in zip(rows, cols, strict=True):
        [[value]] = engine.rows(sheet.name, row, col, row, col)
        sparse.setdefault(row - top, {})[col - left] = value
    return GridValues(rows, cols, top, left, sparse)


def _frame(areas: list[CellRange]) -> CellRange | None:
    if not areas:
        return None
    return CellRange(
        min(area.first_row for area in areas),
        min(area.first_col for area in areas),
        max(area.last_row for area in areas),
        max(area.last_col for area in areas),
    )
