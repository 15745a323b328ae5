"""Why a cell shows an error value, in plain words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from xlcalc.hosts.headless.cellnames import cell_name
from xlcalc.hosts.headless.evaluation.dependents import Cell, CellSet, Node
from xlcalc.hosts.headless.report import FOLLOWS
from xlcalc.worksheet.values import CellError, ErrorCode

_WORDS = {
    ErrorCode.DIV0: "a division by zero or by a blank cell, or an average of no numbers",
    ErrorCode.NA: "a value that was looked for is not there",
    ErrorCode.NAME: "a name that is not known",
    ErrorCode.NULL: "two ranges that have no cell in common",
    ErrorCode.NUM: "a number outside what the calculation accepts",
    ErrorCode.REF: "a reference to a cell that is outside its range or was deleted",
    ErrorCode.VALUE: "text or a range where a number is needed",
}


class Reasons:
    """Explains the error values of one calculation.

    Parameters
    ----------
    errors : mapping of cell to CellError
        Every cell that shows an error, constants included.
    owners : mapping of cell to formula number
        The formula of each such cell; none for a constant.
    nodes : mapping of formula number to Node
    recorded : mapping of formula number to list of CellError
        What our functions said while that formula was evaluated.
    """

    def __init__(
        self,
        errors: Mapping[Cell, CellError],
        owners: Mapping[Cell, int],
        nodes: Mapping[int, Node],
        recorded: Mapping[int, Sequence[CellError]],
    ) -> None:
        self._errors = errors
        self._owners = owners
        self._nodes = nodes
        self._recorded = recorded
        self._cells = CellSet(errors)
        self._origins: dict[Cell, Cell] = {}

    def error(self, cell: Cell) -> CellError:
        return self._errors[cell]

    def reason(self, cell: Cell) -> str:
        """The reason, and where the error came from if it came from elsewhere."""
        error = self._errors[cell]
        own = self._own(cell, error)
        if own:
            return own
        origin = self._origin(cell)
        if origin != cell:
            sheet, row, col = origin
            return f"{FOLLOWS}{sheet}!{cell_name(row, col)}"
        return _WORDS[error.code]

    def _own(self, cell: Cell, error: CellError) -> str:
        said = self._recorded.get(self._owners.get(cell, -1), ())
        return next((item.reason for item in reversed(said) if item.code is error.code), "")

    def _origin(self, cell: Cell) -> Cell:
        path: list[Cell] = []
        seen: set[Cell] = set()
        while cell not in self._origins and cell not in seen:
            seen.add(cell)
            path.append(cell)
            before = self._before(cell)
            if before is None:
                break
            cell = before
        origin = self._origins.get(cell, cell)
        for step in path:
            self._origins[step] = origin
        return origin

    def _before(self, cell: Cell) -> Cell | None:
        """A cell that the formula refers to and that shows an error, preferably the same one."""
        identity = self._owners.get(cell)
        error = self._errors[cell]
        if identity is None or self._own(cell, error):
            return None
        other = None
        for sheet, area in self._nodes[identity].areas:
            found = self._cells.first_inside(sheet, area)
            if found is None or found == cell:
                continue
            if self._errors[found].code is error.code:
                return found
            other = other or found
        return other
