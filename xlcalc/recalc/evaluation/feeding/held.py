"""Arrays that stay here while a short text goes through the engine in their place."""

from __future__ import annotations

import numpy as np

from xlcalc.recalc.evaluation.engine import Raw, constant_array
from xlcalc.recalc.evaluation.internal import HELD
from xlcalc.recalc.evaluation.library.cells import Cells
from xlcalc.schema.values import all_numbers

_ONCE = "once "


class Held:
    """Arrays of our functions and of constants, and the texts that stand for them."""

    def __init__(self) -> None:
        self._arrays: list[Raw] = []
        self._constants: dict[str, str] = {}
        self._passed: dict[int, Raw] = {}
        self._number = 0

    def keep(self, value: Raw) -> str:
        """The text for an array, or for the value of a constant like ``{1}``; numbers take less memory."""
        self._arrays.append(np.array(value) if isinstance(value, list) and all_numbers(value) else value)
        return f"{HELD}{len(self._arrays) - 1}"

    def constant(self, text: str) -> str:
        """The text for an array constant as a formula writes it."""
        if text not in self._constants:
            self._constants[text] = self.keep(constant_array(text))
        return self._constants[text]

    def keep_cells(self, raw: Raw, height: float, width: float) -> str:
        """The text for the cells of a range, which look-ups share."""
        self._arrays.append(Cells(raw, int(height), int(width)))
        return f"{HELD}{len(self._arrays) - 1}"

    def head(self, kept: Raw, height: float) -> Raw:
        """The text for the first cells of a column that is kept; an error in its place stays."""
        cells = self.let_go(kept)
        return self.pass_on(cells.head(int(height))) if isinstance(cells, Cells) else kept

    def pass_on(self, array: Raw) -> str:
        """The text for an array that is taken once."""
        self._passed[self._number] = array
        self._number += 1
        return f"{HELD}{_ONCE}{self._number - 1}"

    def take(self, text: str) -> Raw:
        """The array behind a text that is taken once, else what `let_go` gives."""
        if text.startswith(HELD + _ONCE):
            return self._passed.pop(int(text.removeprefix(HELD + _ONCE)))
        return self.let_go(text)

    def let_go(self, raw: Raw) -> Raw:
        """The array behind a text, and everything else as it is."""
        if isinstance(raw, str) and raw.startswith(HELD):
            kept = self._arrays[int(raw.removeprefix(HELD))]
            return kept.tolist() if isinstance(kept, np.ndarray) else kept
        return raw
