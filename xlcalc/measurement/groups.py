"""Harmonic and interharmonic groups and subgroups of IEC 61000-4-7, and the distortions built of them.

All functions take the rms values of the lines of a window of N cycles, so that order h is line ``N h`` (N is
10 at 50 Hz and 12 at 60 Hz: lines 5 Hz apart). The formula of the subgroup was cross-checked in several
secondary sources, those of the groups are from memory (high confidence); no licensed text was read.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import MAX_ORDER, FloatArray


def standard_cycles(nominal_hz: float) -> int:
    """Cycles of a window of about 200 ms: 10 at 50 Hz, 12 at 60 Hz.

    Raises
    ------
    InputError
        Another frequency.
    """
    if nominal_hz not in (50, 60):
        raise InputError("nominal_hz", nominal_hz, "50 or 60 Hz")
    return 10 if nominal_hz == 50 else 12


def harmonic_subgroups(lines: npt.ArrayLike, cycles: int, max_order: int = MAX_ORDER) -> FloatArray:
    """Harmonic subgroups ``sqrt(C[k-1]^2 + C[k]^2 + C[k+1]^2)``, k = N h.

    Parameters
    ----------
    lines : array of float, shape (..., n)
        rms values of lines 0 to n - 1, NaN where not known.
    cycles : int
        N, cycles of the window, 4 or more.
    max_order : int
        Last order of the result.

    Returns
    -------
    array of float, shape (..., max_order)
        Orders 1 to `max_order`; NaN where a line that belongs to it lies beyond the last one.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    Lines of 3, 4 and 12 around the fifth order of a 50 Hz window (by hand: 13)

    >>> lines = np.zeros(60)
    >>> lines[[49, 50, 51]] = 3, 4, 12
    >>> harmonic_subgroups(lines, 10, 5).tolist()
    [0.0, 0.0, 0.0, 0.0, 13.0]
    """
    return _summed(lines, cycles, range(1, max_order + 1), {-1: 1.0, 0: 1.0, 1: 1.0})


def harmonic_groups(lines: npt.ArrayLike, cycles: int, max_order: int = MAX_ORDER) -> FloatArray:
    """Harmonic groups: all lines nearer to an order than to another, those half way with half their square.

    ``Gg^2 = C[k-N/2]^2 / 2 + sum(C[k+i]^2, |i| < N/2) + C[k+N/2]^2 / 2``. Parameters and result as in
    `harmonic_subgroups`; `cycles` is even.
    """
    n = whole_number("cycles", cycles, least=4)
    if n % 2:
        raise InputError("cycles", cycles, "an even number of cycles, as the windows of the standard have")
    half = n // 2
    weights = {i: 0.5 if abs(i) == half else 1.0 for i in range(-half, half + 1)}
    return _summed(lines, n, range(1, max_order + 1), weights)


def interharmonic_groups(lines: npt.ArrayLike, cycles: int, max_order: int = MAX_ORDER) -> FloatArray:
    """Interharmonic groups ``sqrt(sum(C[k+i]^2, i = 1..N-1))``: all lines between two orders.

    Parameters as in `harmonic_subgroups`.

    Returns
    -------
    array of float, shape (..., max_order + 1)
        Between orders 0 and 1, 1 and 2, up to `max_order` and the next.
    """
    n = whole_number("cycles", cycles, least=4)
    return _summed(lines, n, range(max_order + 1), dict.fromkeys(range(1, n), 1.0))


def interharmonic_subgroups(lines: npt.ArrayLike, cycles: int, max_order: int = MAX_ORDER) -> FloatArray:
    """Interharmonic centred subgroups ``sqrt(sum(C[k+i]^2, i = 2..N-2))``; as `interharmonic_groups`."""
    n = whole_number("cycles", cycles, least=4)
    return _summed(lines, n, range(max_order + 1), dict.fromkeys(range(2, n - 1), 1.0))


def thd_pct(groups: npt.ArrayLike, last: int = MAX_ORDER) -> FloatArray:
    """Distortion of orders 2 to `last` in percent of the first: THDG of groups, THDS of subgroups.

    Parameters
    ----------
    groups : array of float, shape (..., n)
        Orders 1 to n.
    last : int
        Last order of the sum; 2 or more.

    Returns
    -------
    array of float, shape (...)
        NaN where an order up to `last` is missing or NaN, or the fundamental is 0.
    """
    values = _rows("groups", groups)
    fundamental = values[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = 100.0 * _harmonic_rms(values, last) / fundamental
    return np.where(fundamental > 0.0, ratio, np.nan)


def tdd_pct(groups: npt.ArrayLike, demand: float, last: int = MAX_ORDER) -> FloatArray:
    """Distortion of orders 2 to `last` in percent of the maximum demand current (IEEE 519).

    Parameters and result as in `thd_pct`; `demand` is in the unit of the groups, above 0.
    """
    return 100.0 * _harmonic_rms(_rows("groups", groups), last) / number("demand", demand, above=0)


def _harmonic_rms(values: FloatArray, last: int) -> FloatArray:
    order = whole_number("last", last, least=2)
    if values.shape[-1] < order:
        return np.full(values.shape[:-1], np.nan)
    return np.asarray(np.sqrt(np.sum(values[..., 1:order] ** 2, axis=-1)))


def _rows(name: str, values: npt.ArrayLike) -> FloatArray:
    found = np.asarray(values, dtype=float)
    if found.ndim == 0 or found.shape[-1] == 0 or np.any(found < 0.0):
        raise InputError(name, "no row of rms values", "rms values of 0 or more")
    return found


def _summed(lines: npt.ArrayLike, cycles: int, orders: range, weights: dict[int, float]) -> FloatArray:
    """Root of the weighted sum of the squares of the lines at the given distances from each order."""
    squares = _rows("lines", lines) ** 2
    n = whole_number("cycles", cycles, least=4)
    most = n * orders[-1] + max(weights) + 1
    if squares.shape[-1] < most:
        lacking = np.full((*squares.shape[:-1], most - squares.shape[-1]), np.nan)
        squares = np.concatenate([squares, lacking], axis=-1)
    first = n * np.array(orders)
    total = sum(weight * squares[..., first + distance] for distance, weight in weights.items())
    return np.asarray(np.sqrt(total))
