"""Why a cell shows an error value, in plain words, and the cell where the trouble begins."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from xlcalc.recalc.cellnames import cell_name
from xlcalc.recalc.evaluation.calling.typed import cell_text
from xlcalc.recalc.evaluation.dependents import Cell, CellSet, Node
from xlcalc.schema.places import corner_of
from xlcalc.schema.values import CellError, ErrorCode

_WORDS = {
    ErrorCode.DIV0: "a division by zero or by a blank cell, or an average of no numbers",
    ErrorCode.NA: "a value that was looked for is not there",
    ErrorCode.NAME: "a name that is not known",
    ErrorCode.NULL: "two ranges that have no cell in common",
    ErrorCode.NUM: "a number outside what the calculation accepts",
    ErrorCode.REF: "a reference to a cell that is outside its range or was deleted",
    ErrorCode.VALUE: "text or a range where a number is needed",
}
FOLLOWS = "follows from "
_DEEPEST = 64
_DIGIT = re.compile(r"\d")


@dataclass(frozen=True)
class Cause:
    """Where the trouble of a cell begins.

    Parameters
    ----------
    cell : str
        The cell that was typed, or the first formula that has no result.
    sentence : str
        What is wrong there.
    typed : bool
        Whether it is a cell that was typed.
    """

    cell: str
    sentence: str
    typed: bool


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
    text_in : callable, optional
        The text that was typed into a cell, empty where there is none.
    """

    def __init__(
        self,
        errors: Mapping[Cell, CellError],
        owners: Mapping[Cell, int],
        nodes: Mapping[int, Node],
        recorded: Mapping[int, Sequence[CellError]],
        text_in: Callable[[Cell], str] | None = None,
    ) -> None:
        self._errors = errors
        self._owners = owners
        self._nodes = nodes
        self._recorded = recorded
        self._text_in = text_in
        self._cells = CellSet(errors)
        self._origins: dict[Cell, Cell] = {}
        self._causes: dict[Cell, Cause] = {}
        refused = {e.typed: e for said in recorded.values() for e in said if e.typed}
        self._typed = {at: error for text, error in refused.items() if (at := _cell_of(text)) is not None}
        self._typed_cells = CellSet(self._typed)

    def error(self, cell: Cell) -> CellError:
        return self._errors[cell]

    def reason(self, cell: Cell) -> str:
        """The reason, and where the error came from if it came from elsewhere."""
        error = self._errors[cell]
        own = self._own(cell, error)
        if own is not None:
            return own.reason
        origin = self._origin(cell)
        if origin != cell:
            sheet, row, col = origin
            return f"{FOLLOWS}{sheet}!{cell_name(row, col)}"
        return self.cause(cell).sentence

    def cause(self, cell: Cell) -> Cause:
        """Where the trouble of a cell with an error begins."""
        origin = self._origin(cell)
        if origin not in self._causes:
            self._causes[origin] = self._cause(origin, 0)
        return self._causes[origin]

    def cause_at(self, text: str) -> Cause | None:
        """Where the trouble of a cell begins that is given as text; None where it shows no error."""
        at = _cell_of(text)
        return None if at is None or at not in self._errors else self.cause(at)

    def causes(self) -> Iterable[Cause]:
        """Those found so far."""
        return self._causes.values()

    def cause_of(self, error: CellError) -> Cause:
        """Where the trouble behind the refusal of a function begins."""
        return self._refusal(error, "", 0)

    def _cause(self, cell: Cell, depth: int) -> Cause:
        error = self._errors[cell]
        own = self._own(cell, error)
        if own is not None:
            return self._refusal(own, cell_text(cell), depth)
        if cell not in self._owners:
            return Cause(cell_text(cell), f"{cell_text(cell)} holds the error value {error.code}", typed=True)
        for sheet, area in self._nodes[self._owners[cell]].areas:
            known = self._typed_cells.first_inside(sheet, area)
            if known is not None and known != cell and known not in self._errors:
                return self._refusal(self._typed[known], "", depth)
        wrong = self._wrong_texts(cell) if error.code is ErrorCode.VALUE else []
        if len(wrong) == 1:
            at, text = wrong[0]
            return Cause(cell_text(at), f"{cell_text(at)} is {text!r}, which is no number", typed=True)
        return Cause(cell_text(cell), _WORDS[error.code], typed=False)

    def _refusal(self, error: CellError, cell: str, depth: int) -> Cause:
        at = _cell_of(error.typed)
        if at is not None and at in self._errors and depth < _DEEPEST and cell_text(at) != cell:
            return self._cause(self._origin(at), depth + 1)
        return Cause(error.typed or cell, error.reason, typed=bool(error.typed))

    def _wrong_texts(self, cell: Cell) -> list[tuple[Cell, str]]:
        """Single cells that a formula refers to and that hold a text with a digit, such as ``15 HP``."""
        if self._text_in is None:
            return []
        areas = self._nodes[self._owners[cell]].areas
        single = dict.fromkeys((sheet, *area[:2]) for sheet, area in areas if area.area == 1)
        return [(at, text) for at in single if _DIGIT.search(text := self._text_in(at))]

    def _own(self, cell: Cell, error: CellError) -> CellError | None:
        said = self._recorded.get(self._owners.get(cell, -1), ())
        return next((item for item in reversed(said) if item.code is error.code and item.reason), None)

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
        if identity is None or self._own(cell, error) is not None:
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


def _cell_of(text: str) -> Cell | None:
    corner = corner_of(text) if text else None
    return None if corner is None else (corner.sheet, corner.row, corner.column)
