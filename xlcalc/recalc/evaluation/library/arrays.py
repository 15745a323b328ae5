"""Arrays as they stay in Python between the steps of a formula."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.cells import Cells, kind
from xlcalc.recalc.evaluation.library.coded import Coded
from xlcalc.recalc.evaluation.library.values import ErrorShown, error, is_error
from xlcalc.schema.values import ErrorCode

_DIV0 = error(ErrorCode.DIV0)


@dataclass(frozen=True)
class Quotients:
    """Numbers, and in which places there is #DIV/0! instead."""

    values: npt.NDArray[np.float64]
    failed: npt.NDArray[np.bool_]

    def rows(self) -> list[list[Raw]]:
        found = self.values.astype(object)
        found[self.failed] = _DIV0
        rows: list[list[Raw]] = found.tolist()
        return rows


def listed(raw: Raw) -> Raw:
    """Kept cells or an array as rows, everything else as it is."""
    if isinstance(raw, Cells):
        return raw.full()
    if isinstance(raw, Quotients | Coded | Chosen):
        return raw.rows()
    return raw.tolist() if isinstance(raw, np.ndarray) else raw


class Chosen:
    """What IF chose: numbers (NaN in every other place), kinds, and the values themselves when asked for."""

    def __init__(self, tests: npt.NDArray[np.bool_], yes: Raw, no: Raw) -> None:
        self._tests, self._yes, self._no = tests, yes, no
        sides = [_numbers_and_kinds(raw) for raw in (yes, no)]
        self.numbers = np.where(tests, *(numbers for numbers, _ in sides))
        self.kinds = np.where(tests, *(kinds for _, kinds in sides))

    def rows(self) -> list[list[Raw]]:
        given = [_objects(raw) for raw in (self._yes, self._no)]
        rows: list[list[Raw]] = np.where(self._tests, *given).tolist()
        return [[0.0 if cell is None else cell for cell in row] for row in rows]

    @property
    def numbers_only(self) -> npt.NDArray[np.float64]:
        """The numbers, row by row; an error is shown."""
        if (self.kinds == "e").any():
            raise ErrorShown(next(cell for row in self.rows() for cell in row if is_error(cell)))
        found: npt.NDArray[np.float64] = self.numbers[self.kinds == "n"]
        return found


def _numbers_and_kinds(raw: Raw) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.str_]]:
    if isinstance(raw, Cells | Coded):
        numbers, kinds = raw.vector
        blank = kinds == "b"
        return np.where(blank, 0.0, numbers), np.where(blank, "n", kinds)
    if isinstance(raw, np.ndarray):
        which = "l" if raw.dtype == np.bool_ else "n"
        return (np.full(raw.shape, np.nan) if which == "l" else raw), np.full(raw.shape, which)
    which = "n" if raw is None else kind(raw)
    number = 0.0 if raw is None else float(raw) if which == "n" else np.nan
    return np.full((1, 1), number), np.full((1, 1), which)


def _objects(raw: Raw) -> npt.NDArray[np.object_]:
    if isinstance(raw, Cells | Coded | np.ndarray):
        rows = listed(raw)
        array = np.empty((len(rows), len(rows[0])), dtype=object)
        array[:] = rows
        return array
    array = np.empty((1, 1), dtype=object)
    array[0, 0] = raw
    return array


COMPUTED = (list, np.ndarray, Quotients, Coded, Chosen)
"""Arrays as they pass from one step to the next."""
ARRAYS = (Cells, *COMPUTED)
"""The same and the cells of a range."""
