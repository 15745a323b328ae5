"""Values of the formula cells of one sheet as the rows that the engine gave, without an object a cell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from xlcalc.recalc.cellnames import Position

LEFT_OUT: Any = object()
"""In place of a value: the cell keeps what the file has."""

Grid = list[list[Any]] | dict[int, dict[int, Any]]


class GridValues(Mapping[Position, Any]):
    """Values by row and column.

    Parameters
    ----------
    rows, cols : sequence of int
        The formula cells in the order of the file.
    top, left : int
        Row and column of the first value of `grid`.
    grid : list of list, or the same as mappings
        Values by distance from there.
    """

    def __init__(self, rows: Sequence[int], cols: Sequence[int], top: int, left: int, grid: Grid) -> None:
        self._rows, self._cols = rows, cols
        self._top, self.left = top, left
        self._grid = grid
        self._without: set[Position] = set()
        self._known: set[Position] | None = None

    def unusual(self) -> Iterator[tuple[int, Any]]:
        """Number and value of the formulas that do not give a number; a blank is made zero."""
        grid, top, left = self._grid, self._top, self.left
        for index, (row, col) in enumerate(zip(self._rows, self._cols, strict=True)):
            values = grid[row - top]
            value = values[col - left]
            if type(value) is float:
                continue
            if value is None:
                values[col - left] = 0.0
            else:
                yield index, value

    def leave_out(self, position: Position) -> None:
        """Take the cell of a formula out: it keeps what the file has."""
        self._without.add(position)
        self._grid[position[0] - self._top][position[1] - self.left] = LEFT_OUT

    def put(self, position: Position, value: Any) -> None:
        """Give the cell of a formula another value."""
        self._without.discard(position)
        self._grid[position[0] - self._top][position[1] - self.left] = value

    def row(self, row: int) -> list[Any] | dict[int, Any]:
        """Values of a row that holds a formula, by distance from the column `left`."""
        return self._grid[row - self._top]

    def __getitem__(self, position: Position) -> Any:
        if position not in self:
            raise KeyError(position)
        return self._grid[position[0] - self._top][position[1] - self.left]

    def __contains__(self, position: object) -> bool:
        if self._known is None:
            self._known = set(zip(self._rows, self._cols, strict=True))
        return position in self._known and position not in self._without

    def __iter__(self) -> Iterator[Position]:
        return (at for at in zip(self._rows, self._cols, strict=True) if at not in self._without)

    def __len__(self) -> int:
        return len(self._rows) - len(self._without)
