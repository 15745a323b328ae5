"""A hidden sheet in the engine with one cell for each range that is looked up in, handed over only once."""

from __future__ import annotations

from collections.abc import Sequence

from xlcalc.recalc.cellnames import CellRange, column_letters
from xlcalc.recalc.evaluation.content import SheetContent
from xlcalc.recalc.evaluation.feeding.feed import Content, Formula, SheetFeed
from xlcalc.recalc.evaluation.feeding.settledcolumns import SettledColumns
from xlcalc.recalc.evaluation.internal import KEEP
from xlcalc.schema.values import CellError, ErrorCode

_NAME = "_XLC"
_ERROR_COLUMN = 2


class KeptRanges:
    """Ranges with fixed addresses, each with the cell whose text stands for it."""

    def __init__(self, sheets: Sequence[SheetContent]) -> None:
        self.columns = SettledColumns(sheets)
        taken = {sheet.name.casefold() for sheet in sheets}
        name = _NAME
        while name.casefold() in taken:
            name += "_"
        self.sheet = name
        self._cells: dict[str, tuple[int, str]] = {}

    @property
    def prefix(self) -> str:
        """The name of the hidden sheet as it stands before a cell; it is its own."""
        return f"'{self.sheet}'!"

    def cell(self, text: str, area: CellRange) -> str:
        """Where the text that stands for a range is found; `text` names it with its sheet."""
        known = self._cells.get(text)
        if known is None:
            row = len(self._cells) + 1
            known = self._cells[text] = row, f"{KEEP}({text},{area.rows},{area.cols})"
        return f"{self.prefix}$A${known[0]}"

    @property
    def blank(self) -> str:
        """A cell that holds nothing."""
        return f"{self.prefix}{column_letters(_ERROR_COLUMN + 1)}1"

    def error(self, code: ErrorCode) -> str:
        """A cell that holds an error value."""
        return f"{self.prefix}{column_letters(_ERROR_COLUMN)}{list(ErrorCode).index(code) + 1}"

    def feed(self) -> SheetFeed:
        """The hidden sheet."""
        cells: list[tuple[int, int, Content]] = [
            (row, _ERROR_COLUMN, CellError(code)) for row, code in enumerate(ErrorCode, 1)
        ]
        cells += [(row, 1, Formula(text)) for row, text in self._cells.values()]
        return SheetFeed(self.sheet, cells)
