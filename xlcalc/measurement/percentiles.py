"""Percentiles of a period of which some values may be missing: what they can be at least and at most.

The percentile is the smallest value that the stated share of all values does not exceed, so that "95 % of the
values keep the limit" and "the percentile keeps the limit" are one statement (numpy's method "inverted_cdf").
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray


@dataclass(frozen=True)
class Bounds:
    """What a percentile is; `low` equals `high` where no value is missing.

    Parameters
    ----------
    low, high : array of float, shape (n,)
        The percentile if every missing value were 0, and if every one were infinite.
    observed : array of float, shape (n,)
        That of the known values alone; NaN where there is none.
    known : array of int, shape (n,)
        Number of known values.
    """

    low: FloatArray
    high: FloatArray
    observed: FloatArray
    known: FloatArray


def percentile_bounds(values: FloatArray, percent: float, count: int) -> Bounds:
    """Bounds of a percentile.

    Parameters
    ----------
    values : array of float, shape (t, n)
        Values of n quantities, each 0 or more; NaN where missing.
    percent : float
        Above 0 up to 100.
    count : int
        How many values the period has, those that are missing altogether included; t or more.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    20 values, of which one is missing: 95 % are 19, so that it does not matter; with two missing it does

    >>> values = np.arange(1.0, 20.0)[:, None]
    >>> bounds = percentile_bounds(values, 95, 20)
    >>> bounds.low.item(), bounds.high.item()
    (18.0, 19.0)
    >>> bounds = percentile_bounds(values[:-1], 95, 20)
    >>> bounds.low.item(), bounds.high.item(), bounds.observed.item()
    (17.0, inf, 18.0)
    """
    if values.ndim != 2 or np.any(values < 0.0):
        raise InputError("values", f"of shape {values.shape}", "one row per interval of values of 0 or more")
    if not 0.0 < percent <= 100.0:
        raise InputError("percent", percent, "above 0 up to 100 %")
    if count < max(1, values.shape[0]):
        raise InputError("count", count, f"{max(1, values.shape[0])} or more")
    ascending = np.sort(values, axis=0)
    known = np.sum(np.isfinite(values), axis=0)
    rank = _rank(percent, count)
    own = np.maximum(1, np.ceil(np.round(percent * known / 100.0, 9))).astype(int)
    return Bounds(
        _ranked(ascending, rank - (count - known), known, 0.0),
        _ranked(ascending, np.full(known.shape, rank), known, math.inf),
        _ranked(ascending, np.where(known > 0, own, 0), known, math.nan),
        known,
    )


def _rank(percent: float, count: int) -> int:
    return max(1, math.ceil(round(percent * count / 100.0, 9)))


def _ranked(ascending: FloatArray, rank: FloatArray, known: FloatArray, otherwise: float) -> FloatArray:
    """The value of a rank, counted from 1, where there are so many."""
    there = (rank >= 1) & (rank <= known)
    if not ascending.shape[0]:
        return np.full(rank.shape, otherwise)
    at = np.where(there, rank, 1) - 1
    found = np.take_along_axis(ascending, at[None, :].astype(int), axis=0)[0]
    return np.where(there, found, otherwise)
