"""Ordinary functions that the engine lacks or computes differently from spreadsheets, in plain Python."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from xlcalc.recalc.evaluation.engine import Engine, Raw, error_to_raw
from xlcalc.recalc.evaluation.texts import repeated, substituted
from xlcalc.schema.values import CellError, ErrorCode

_MAX_CELLS = 1_000_000
_TOO_LARGE: Raw = {"type": "Error", "kind": "NImpl"}
_NUM = error_to_raw(CellError(ErrorCode.NUM))
_VALUE = error_to_raw(CellError(ErrorCode.VALUE))


def register_overrides(engine: Engine) -> None:
    """PROPER (no capital after a digit), matrices.

    And REPT and SUBSTITUTE, which can make a very long text.
    """
    engine.register("REPT", repeated, override=True)
    engine.register("SUBSTITUTE", substituted, override=True)
    engine.register("PROPER", _proper, override=True)
    engine.register("MMULT", _product)
    engine.register("MINVERSE", _inverse)
    engine.register("MDETERM", _determinant)


def _proper(text: Raw = None) -> Raw:
    return text.title() if isinstance(text, str) else "" if text is None else text


def _product(left: Raw = None, right: Raw = None) -> Raw:
    first, second = _matrix(left), _matrix(right)
    if first is None or second is None or first.shape[1] != second.shape[0]:
        return _first_error(left, right) or _VALUE
    if first.shape[0] * second.shape[1] > _MAX_CELLS:
        return _TOO_LARGE
    return (first @ second).tolist()


def _inverse(raw: Raw = None) -> Raw:
    return _square(raw, lambda matrix: np.linalg.inv(matrix).tolist())


def _determinant(raw: Raw = None) -> Raw:
    return _square(raw, lambda matrix: float(np.linalg.det(matrix)))


def _square(raw: Raw, compute: Callable[[npt.NDArray[np.float64]], Raw]) -> Raw:
    matrix = _matrix(raw)
    if matrix is None or matrix.shape[0] != matrix.shape[1]:
        return _first_error(raw) or _VALUE
    try:
        return compute(matrix)
    except np.linalg.LinAlgError:
        return _NUM


def _matrix(raw: Raw) -> npt.NDArray[np.float64] | None:
    rows = raw if isinstance(raw, list) else [[raw]]
    if any(isinstance(cell, bool) or not isinstance(cell, int | float) for row in rows for cell in row):
        return None
    return np.array(rows, dtype=np.float64)


def _first_error(*raws: Raw) -> Raw:
    for raw in raws:
        for row in raw if isinstance(raw, list) else [[raw]]:
            for cell in row:
                if isinstance(cell, dict):
                    return cell
    return None
