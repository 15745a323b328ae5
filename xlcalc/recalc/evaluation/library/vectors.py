"""Arrays that stay in numpy between the steps of a formula: comparisons, sums and products over ranges."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library import aggregates, arithmetic, comparing
from xlcalc.recalc.evaluation.library.arrays import ARRAYS, Chosen, Quotients, listed
from xlcalc.recalc.evaluation.library.cells import Cells
from xlcalc.recalc.evaluation.library.coded import Coded, coded
from xlcalc.recalc.evaluation.library.values import (
    fail,
    is_error,
    is_number,
    lifted,
    logical,
    numbers_of,
    rows_of,
)
from xlcalc.schema.values import ErrorCode, all_numbers

_FAR = 1.2e-14
_MIRRORED = {"=": "=", "<>": "<>", "<": ">", "<=": ">=", ">": "<", ">=": "<="}
_NUMERIC: dict[str, Callable[..., npt.NDArray[np.float64]]] = {
    "+": np.add,
    "-": np.subtract,
    "*": np.multiply,
}
Vector = npt.NDArray[np.float64] | npt.NDArray[np.bool_]


def _as_vector(raw: Raw) -> Raw:
    """Rows of numbers as an array, everything else as it is."""
    return np.array(raw) if isinstance(raw, list) and all_numbers(raw) else raw


def _held(raw: Raw) -> bool:
    return isinstance(raw, Cells | Coded | np.ndarray)


def _numbers(raw: Raw) -> npt.NDArray[np.float64] | float | None:
    """Numbers for arithmetic, blank cells as 0; None where there is anything else."""
    if isinstance(raw, Cells):
        numbers, kinds = raw.vector
        if not np.isin(kinds, ("n", "b")).all():
            return None
        return np.where(kinds == "b", 0.0, numbers)
    if isinstance(raw, Coded):
        if not raw.kinds <= {"n", "b", "l"}:
            return None
        return np.array([float(value or 0.0) for value in raw.values])[raw.codes]
    if isinstance(raw, np.ndarray):
        return raw.astype(np.float64)
    return float(raw) if is_number(raw) else None


def _by_values(plain: Callable[..., Raw], first: Raw, second: Raw) -> Raw:
    """An operator between an array and a single value, for each different value once; None for others."""
    if isinstance(first, Coded) and not isinstance(second, ARRAYS):
        found, codes = plain([first.values], second), first.codes
    elif isinstance(second, Coded) and not isinstance(first, ARRAYS):
        found, codes = plain(first, [second.values]), second.codes
    else:
        return None
    kinds = set(map(type, found[0]))
    return np.array(found[0])[codes] if kinds in ({bool}, {float}) else Coded(found[0], codes)


def compared(operator: str) -> Callable[..., Raw]:
    """A comparison operator over kept cells and arrays."""
    plain = comparing.compare(operator)

    def result(first: Raw = None, second: Raw = None) -> Raw:
        first, second = _as_vector(first), _as_vector(second)
        found = _by_values(plain, first, second)
        if found is None and (_held(first) or _held(second)):
            found = _compared(operator, first, second)
        return plain(listed(first), listed(second)) if found is None else found

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
    if isinstance(raw, Coded):
        return raw.vector[0] if raw.kinds == {"n"} else None
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
        known = _by_values(plain, first, second)
        if known is not None:
            return known
        if operator in _NUMERIC and (_held(first) or _held(second)):
            a, b = _numbers(first), _numbers(second)
            if a is not None and b is not None and _fitting(a, b):
                found = _NUMERIC[operator](a, b)
                if np.isfinite(found).all():
                    return found
        if operator == "^" and (_held(first) or _held(second)):
            power = _raised(_numbers(first), _numbers(second))
            if power is not None:
                return power
        if operator == "/" and (_held(first) or _held(second)):
            a, b = _numbers(first), _numbers(second)
            if a is not None and b is not None and _fitting(a, b):
                return _divided(np.asarray(a), np.asarray(b))
        return plain(listed(first), listed(second))

    return result


def _raised(a: npt.NDArray[np.float64] | float | None, b: npt.NDArray[np.float64] | float | None) -> Raw:
    """Powers of positive numbers, and whole positive powers of all; None for others."""
    if not isinstance(a, np.ndarray) or not isinstance(b, float):
        return None
    if not ((a > 0).all() or (b > 0 and b.is_integer())):
        return None
    with np.errstate(all="ignore"):
        found = np.power(a, b)
    return found if np.isfinite(found).all() else None


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
    if isinstance(raw, Coded):
        return None if raw.kinds & {"e", "l"} else np.nan_to_num(raw.vector[0], nan=0.0)
    if isinstance(raw, np.ndarray) and raw.dtype != np.bool_:
        return raw
    return None


def decided(condition: Raw = None, yes: Raw = True, no: Raw = False) -> Raw:
    """IF by an array of conditions."""
    tests = _tests(condition)
    yes, no = (_sided(raw) for raw in (yes, no))
    if tests is not None and all(_alike(raw, tests.shape) for raw in (yes, no)):
        return Chosen(tests, yes, no)
    return lifted(
        lambda test, a, b: a if logical(test) else b, (listed(condition), listed(yes), listed(no)), (0, 1, 2)
    )


def _tests(condition: Raw) -> npt.NDArray[np.bool_] | None:
    """Conditions that are logicals or numbers."""
    if isinstance(condition, list):
        if not {type(cell) for row in condition for cell in row} <= {bool, float}:
            return None
        condition = np.array(condition, dtype=np.float64)
    if isinstance(condition, Coded):
        if not condition.kinds <= {"n", "l"}:
            return None
        return np.array([bool(value) for value in condition.values])[condition.codes]
    if not isinstance(condition, np.ndarray):
        return None
    found: npt.NDArray[np.bool_] = condition != 0
    return found


def _sided(raw: Raw) -> Raw:
    """One of the two values or arrays between which IF chooses."""
    if isinstance(raw, Quotients | Chosen):
        raw = raw.rows()
    if isinstance(raw, list):
        return np.array(raw) if all_numbers(raw) else coded(raw)
    return raw


def _alike(raw: Raw, shape: tuple[int, ...]) -> bool:
    if isinstance(raw, Cells):
        return (raw.height, raw.width) == shape
    if isinstance(raw, Coded):
        return raw.codes.shape == shape
    return not isinstance(raw, np.ndarray) or raw.shape == shape


def otherwise(values: Raw, other: Raw) -> Raw:
    """IFERROR of an array with one other value."""
    if isinstance(values, np.ndarray):
        return values
    if isinstance(values, Quotients) and is_number(other):
        return np.where(values.failed, float(other), values.values)
    if isinstance(values, Coded):
        return Coded([_instead(value, other) for value in values.values], values.codes)
    return [[_instead(value, other) for value in row] for row in rows_of(listed(values))]


def _instead(value: Raw, other: Raw) -> Raw:
    found = other if is_error(value) else value
    return 0.0 if found is None else found


def _summary(reduce: Callable[[npt.NDArray[np.float64]], float]) -> Callable[..., Raw]:
    """A function of the numbers of one array; an error among them is shown."""

    def summed(values: Raw) -> Raw:
        if isinstance(values, Chosen):
            return reduce(values.numbers_only)
        if isinstance(values, np.ndarray):
            return reduce(np.array([]) if values.dtype == np.bool_ else values.ravel())
        return reduce(np.array(numbers_of(listed(values)), dtype=np.float64))

    return summed


def _mean(numbers: npt.NDArray[np.float64]) -> float:
    return math.fsum(numbers.tolist()) / numbers.size if numbers.size else fail(ErrorCode.DIV0)


_SUMMARIES = {
    "_SUM": _summary(lambda numbers: math.fsum(numbers.tolist())),
    "_MAX": _summary(lambda numbers: float(numbers.max()) if numbers.size else 0.0),
    "_MIN": _summary(lambda numbers: float(numbers.min()) if numbers.size else 0.0),
    "_AVERAGE": _summary(_mean),
}

FUNCTIONS: dict[str, Callable[..., Raw]] = (
    {comparing.NAMES[operator]: compared(operator) for operator in comparing.TESTS}
    | {name: computed(operator) for operator, name in arithmetic.OPERATORS.items()}
    | {"SUMPRODUCT": product_sum, "_IF": decided, "_ELSE": otherwise}
    | _SUMMARIES
)
