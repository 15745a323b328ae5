"""Arrays that stay in numpy between the steps of a formula: comparisons, sums and products over ranges."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library import aggregates, arithmetic, comparing
from xlcalc.recalc.evaluation.library.cells import Cells
from xlcalc.recalc.evaluation.library.values import error, is_number, lifted, logical
from xlcalc.schema.values import ErrorCode, all_numbers

_FAR = 1.2e-14
_MIRRORED = {"=": "=", "<>": "<>", "<": ">", "<=": ">=", ">": "<", ">=": "<="}
_NUMERIC: dict[str, Callable[..., npt.NDArray[np.float64]]] = {
    "+": np.add,
    "-": np.subtract,
    "*": np.multiply,
}
_DIV0 = error(ErrorCode.DIV0)
Vector = npt.NDArray[np.float64] | npt.NDArray[np.bool_]


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
    if isinstance(raw, Quotients):
        return raw.rows()
    return raw.tolist() if isinstance(raw, np.ndarray) else raw


def _as_vector(raw: Raw) -> Raw:
    """Rows of numbers as an array, everything else as it is."""
    return np.array(raw) if isinstance(raw, list) and all_numbers(raw) else raw


def _held(raw: Raw) -> bool:
    return isinstance(raw, Cells | np.ndarray)


def _numbers(raw: Raw) -> npt.NDArray[np.float64] | float | None:
    """Numbers for arithmetic, blank cells as 0; None where there is anything else."""
    if isinstance(raw, Cells):
        numbers, kinds = raw.vector
        if not np.isin(kinds, ("n", "b")).all():
            return None
        return np.where(kinds == "b", 0.0, numbers)
    if isinstance(raw, np.ndarray):
        return raw.astype(np.float64)
    return float(raw) if is_number(raw) else None


def compared(operator: str) -> Callable[..., Raw]:
    """A comparison operator over kept cells and arrays."""
    plain = comparing.compare(operator)

    def result(first: Raw = None, second: Raw = None) -> Raw:
        first, second = _as_vector(first), _as_vector(second)
        if _held(first) or _held(second):
            found = _compared(operator, first, second)
            if found is not None:
                return found
            return plain(listed(first), listed(second))
        return plain(listed(first), listed(second))

    return result


def _compared(operator: str, first: Raw, second: Raw) -> Vector | None:
    if not _held(first):
        return None if isinstance(first, list) else _compared(_MIRRORED[operator], second, first)
    if isinstance(second, str) and second and isinstance(first, Cells) and operator in ("=", "<>"):
        return _text_mask(operator, first, second)
    a, b = _comparable(first, operator, second), _comparable(second, operator, first)
    if a is None or b is None:
        return None
    if isinstance(a, np.ndarray) and isinstance(b, np.ndarray) and a.shape != b.shape:
        return None
    with np.errstate(invalid="ignore"):
        difference = a - b
        close = (difference != 0) & (np.abs(difference) <= _FAR * np.maximum(np.abs(a), np.abs(b)))
        if close.any():
            return None
        found: Vector = {
            "=": np.equal,
            "<>": np.not_equal,
            "<": np.less,
            "<=": np.less_equal,
            ">": np.greater,
            ">=": np.greater_equal,
        }[operator](a, b)
    return found


def _comparable(raw: Raw, operator: str, other: Raw) -> npt.NDArray[np.float64] | float | None:
    """Numbers to be compared; cells of other kinds only where they are certainly different."""
    if isinstance(raw, np.ndarray):
        return raw if raw.dtype != np.bool_ else None
    if not isinstance(raw, Cells):
        return float(raw) if is_number(raw) else None
    numbers, kinds = raw.vector
    if (kinds == "n").all():
        return numbers
    single = is_number(other) and other != 0 and operator in ("=", "<>")
    return numbers if single and not (kinds == "e").any() else None


def _text_mask(operator: str, cells: Cells, sought: str) -> Vector | None:
    _, kinds = cells.vector
    if (kinds == "e").any():
        return None
    mask = np.zeros(kinds.size, dtype=np.bool_)
    mask[cells.flat.equal(sought)] = True
    found = mask.reshape(kinds.shape)
    return found if operator == "=" else ~found


def computed(operator: str) -> Callable[..., Raw]:
    """An arithmetic operator over kept cells and arrays."""
    plain = arithmetic.between(operator)

    def result(first: Raw = None, second: Raw = None) -> Raw:
        first, second = _as_vector(first), _as_vector(second)
        if operator in _NUMERIC and (_held(first) or _held(second)):
            a, b = _numbers(first), _numbers(second)
            if a is not None and b is not None and _fitting(a, b):
                found = _NUMERIC[operator](a, b)
                if np.isfinite(found).all():
                    return found
        if operator == "/" and (_held(first) or _held(second)):
            a, b = _numbers(first), _numbers(second)
            if a is not None and b is not None and _fitting(a, b):
                return _divided(np.asarray(a), np.asarray(b))
        return plain(listed(first), listed(second))

    return result


def _divided(a: npt.NDArray[np.float64], b: npt.NDArray[np.float64]) -> Raw:
    with np.errstate(all="ignore"):
        found = a / b
    failed = np.broadcast_to(b == 0, found.shape)
    if not np.isfinite(found[~failed]).all():
        return arithmetic.between("/")(a.tolist(), b.tolist())
    return Quotients(found, failed) if failed.any() else found


def _fitting(a: npt.NDArray[np.float64] | float, b: npt.NDArray[np.float64] | float) -> bool:
    return not (isinstance(a, np.ndarray) and isinstance(b, np.ndarray)) or a.shape == b.shape


def product_sum(*arrays: Raw) -> Raw:
    """SUMPRODUCT over kept cells and arrays."""
    if any(map(_held, arrays)) and not any(isinstance(array, list) for array in arrays):
        factors = [factor for factor in map(_factor, arrays) if factor is not None]
        if len(factors) == len(arrays) and len({factor.shape for factor in factors}) == 1:
            return math.fsum(np.multiply.reduce(factors).ravel().tolist())
    return aggregates.product_sum(*map(listed, arrays))


def _factor(raw: Raw) -> npt.NDArray[np.float64] | None:
    if isinstance(raw, Cells):
        numbers, kinds = raw.vector
        if kinds.size == 1 and (kinds == "t").all():
            return None
        return None if np.isin(kinds, ("e", "l")).any() else np.where(kinds == "n", numbers, 0.0)
    if isinstance(raw, np.ndarray) and raw.dtype != np.bool_:
        return raw
    return None


def decided(condition: Raw = None, yes: Raw = True, no: Raw = False) -> Raw:
    """IF by an array of conditions."""
    rows = _decided_at_once(condition, yes, no)
    if rows is not None:
        return rows
    return lifted(lambda test, a, b: a if logical(test) else b, (listed(condition), yes, no), (0, 1, 2))


def _decided_at_once(condition: Raw, yes: Raw, no: Raw) -> Raw:
    """The same for conditions that are logicals or numbers, with single values or arrays of their shape."""
    tests = condition
    if isinstance(condition, list):
        if not {type(cell) for row in condition for cell in row} <= {bool, float}:
            return None
        tests = np.array(condition, dtype=np.float64)
    if not isinstance(tests, np.ndarray):
        return None
    given = [np.array(raw, dtype=object) if isinstance(raw, list) else _alone(raw) for raw in (yes, no)]
    if any(array.size > 1 and array.shape != tests.shape for array in given):
        return None
    rows: list[list[Raw]] = np.where(tests != 0, *given).tolist()
    if any(None in row for row in rows):
        return [[0.0 if cell is None else cell for cell in row] for row in rows]
    return rows


def _alone(raw: Raw) -> npt.NDArray[np.object_]:
    """An array of one value of any kind."""
    array = np.empty((1, 1), dtype=object)
    array[0, 0] = raw
    return array


FUNCTIONS: dict[str, Callable[..., Raw]] = (
    {comparing.NAMES[operator]: compared(operator) for operator in comparing.TESTS}
    | {name: computed(operator) for operator, name in arithmetic.OPERATORS.items()}
    | {"SUMPRODUCT": product_sum, "_IF": decided}
)
