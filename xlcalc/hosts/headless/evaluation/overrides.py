"""Ordinary functions that the engine lacks or computes differently from spreadsheets, in plain Python."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from xlcalc.hosts.headless.evaluation.engine import Engine, Raw, error_to_raw
from xlcalc.hosts.headless.evaluation.texts import repeated, substituted
from xlcalc.worksheet.values import CellError, ErrorCode

_MAX_CELLS = 1_000_000
_TOO_LARGE: Raw = {"type": "Error", "kind": "NImpl"}
_DIV0 = error_to_raw(CellError(ErrorCode.DIV0))
_NUM = error_to_raw(CellError(ErrorCode.NUM))
_VALUE = error_to_raw(CellError(ErrorCode.VALUE))


def register_overrides(engine: Engine) -> None:
    """CEILING and FLOOR (swapped for two negative numbers), PROPER (no capital after a digit), matrices.

    And REPT and SUBSTITUTE, which can make a very long text.
    """
    engine.register("REPT", repeated, override=True)
    engine.register("SUBSTITUTE", substituted, override=True)
    engine.register("CEILING", _ceiling, override=True)
    engine.register("FLOOR", _floor, override=True)
    engine.register("PROPER", _proper, override=True)
    engine.register("MMULT", _product)
    engine.register("MINVERSE", _inverse)
    engine.register("MDETERM", _determinant)


def _ceiling(number: Raw = None, significance: Raw = None) -> Raw:
    return _rounded(number, significance, away=True)


def _floor(number: Raw = None, significance: Raw = None) -> Raw:
    return _rounded(number, significance, away=False)


def _proper(text: Raw = None) -> Raw:
    return text.title() if isinstance(text, str) else text


def _rounded(number: Raw, significance: Raw, *, away: bool) -> Raw:
    """Multiple of the significance; with two negative numbers up means away from zero (ECMA-376 18.17.7)."""
    values = []
    for raw in (number, significance):
        if isinstance(raw, dict):
            return raw
        value = _number(raw)
        if value is None:
            return _VALUE
        values.append(value)
    x, step = values
    if x == 0:
        return 0.0
    if step == 0:
        return 0.0 if away else _DIV0
    if x > 0 > step:
        return _NUM
    quotient = x / step
    near = round(quotient)
    if math.isclose(quotient, near, rel_tol=1e-15):
        return near * step
    return (math.ceil(quotient) if away else math.floor(quotient)) * step


def _number(raw: Raw) -> float | None:
    if raw is None:
        return 0.0
    if isinstance(raw, str):
        try:
            return float(raw)
        except ValueError:
            return None
    return float(raw) if isinstance(raw, bool | int | float) else None


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
