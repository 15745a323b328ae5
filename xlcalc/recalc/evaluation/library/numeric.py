"""Functions of numbers over whole arrays of them at once, where their result is beyond doubt."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.cells import Cells
from xlcalc.recalc.evaluation.library.values import is_number
from xlcalc.schema.values import all_numbers

Numbers = npt.NDArray[np.float64]
_EXACT = 1e15
_CLEAR = 1e-6
_MOST_DECIMALS = 15
_MANY_TURNS = 1e6


def at_once(name: str, arguments: Sequence[Raw]) -> Numbers | None:
    """The function over arrays of numbers of one shape; None where it has to be looked at one by one."""
    function = _FUNCTIONS.get(name)
    if function is None:
        return None
    given = [_numbers(raw) for raw in arguments]
    known = [array for array in given if array is not None]
    if len(known) < len(given) or len({array.shape for array in known if array.ndim}) > 1:
        return None
    try:
        return function(*known)
    except TypeError:
        return None


def _numbers(raw: Raw) -> Numbers | None:
    """Numbers and nothing else."""
    if isinstance(raw, Cells):
        numbers, kinds = raw.vector
        return numbers if (kinds == "n").all() else None
    if isinstance(raw, np.ndarray):
        return raw.astype(np.float64) if raw.dtype != np.bool_ else None
    if isinstance(raw, list):
        return np.array(raw, dtype=np.float64) if all_numbers(raw) else None
    return np.array(float(raw)) if is_number(raw) else None


def _size(values: Numbers) -> Numbers | None:
    """ABS."""
    found: Numbers = np.abs(values)
    return found


def _root(values: Numbers) -> Numbers | None:
    """SQRT."""
    found: Numbers | None = np.sqrt(values) if (values >= 0).all() else None
    return found


def _rounded(values: Numbers, decimals: Numbers) -> Numbers | None:
    """ROUND of numbers that are clearly not half-way, or are so to the last bit."""
    if decimals.ndim or not float(decimals).is_integer() or abs(float(decimals)) > _MOST_DECIMALS:
        return None
    power = 10.0 ** abs(int(decimals))
    scaled = values * power if decimals >= 0 else values / power
    size = np.abs(scaled)
    from_half = np.abs(size % 1 - 0.5)
    doubtful = from_half < _CLEAR if power > 1 else (from_half < _CLEAR) & (from_half > 0)
    if doubtful.any() or (size > _EXACT * _CLEAR).any():
        return None
    whole = np.copysign(np.floor(size + 0.5), scaled) + 0.0
    found: Numbers = whole / power if decimals >= 0 else whole * power
    return found


def _remainder(values: Numbers, divisor: Numbers) -> Numbers | None:
    """MOD of whole numbers."""
    for array in (values, divisor):
        if (array != np.trunc(array)).any() or (np.abs(array) > _EXACT).any():
            return None
    if (divisor == 0).any():
        return None
    found: Numbers = np.mod(values, divisor) + 0.0
    return found


def _below(values: Numbers) -> Numbers | None:
    """INT of numbers that are whole or clearly are not."""
    near = np.abs(values - np.rint(values))
    if ((near > 0) & (near < _CLEAR)).any() or (np.abs(values) > _EXACT * _CLEAR).any():
        return None
    found: Numbers = np.floor(values) + 0.0
    return found


def _angular(function: Callable[[float], float]) -> Callable[[Numbers], Numbers | None]:
    """A function of angles, one by one, since numpy has other last digits than the engine."""

    def found(angles: Numbers) -> Numbers | None:
        if (np.abs(angles) > _MANY_TURNS).any():
            return None
        return np.reshape([function(angle) for angle in angles.ravel().tolist()], angles.shape) + 0.0

    return found


_FUNCTIONS: Mapping[str, Callable[..., Numbers | None]] = MappingProxyType(
    {
        "ABS": _size,
        "SQRT": _root,
        "ROUND": _rounded,
        "MOD": _remainder,
        "INT": _below,
        "RADIANS": lambda angles: angles * math.pi / 180.0 + 0.0,
        "COS": _angular(math.cos),
        "SIN": _angular(math.sin),
    }
)
