"""Values of 3 s and 10 minutes from those of windows: root of the mean square, as IEC 61000-4-30 says."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import chain, groupby
from typing import Final

import numpy as np
import numpy.typing as npt

from xlcalc.errors import InputError
from xlcalc.measurement.groups import harmonic_subgroups
from xlcalc.measurement.windows import PER_3_S, Window
from xlcalc.spectrum import MAX_ORDER, FloatArray

THREE_SECONDS: Final = "3 s"
TEN_MINUTES: Final = "10 min"
LENGTHS: Final = {THREE_SECONDS: 3.0, TEN_MINUTES: 600.0}
"""Nominal lengths, s."""


@dataclass(frozen=True, kw_only=True)
class Intervals:
    """Values of consecutive intervals.

    Parameters
    ----------
    length : str
        "3 s" or "10 min".
    start_s : array of float, shape (t,)
        Seconds after the first sample of the recording.
    values : array of float, shape (t, m, n)
        rms by interval, channel and order 1 to n; NaN where nothing is known.
    coverage : array of float, shape (t, m)
        Share of the interval of which windows are known, 0 to 1.
    flagged : array of bool, shape (t,)
        A dip, swell or interruption took place in it.
    hz : array of float, shape (t,)
        Mean frequency.
    """

    length: str
    start_s: FloatArray
    values: FloatArray
    coverage: FloatArray
    flagged: npt.NDArray[np.bool_]
    hz: FloatArray


def aggregate(
    windows: Iterable[Window],
    length: str,
    reduce: Callable[[Window], FloatArray] | None = None,
) -> Intervals:
    """Aggregated values; takes the windows one by one, so that memory is flat in the length of a recording.

    Parameters
    ----------
    windows : iterable of Window
        In the order in which `xlcalc.measurement.windows.windows` gives them.
    length : str
        "3 s": 15 windows. "10 min": the windows that begin between two ticks.
    reduce : callable, optional
        Magnitudes of a window, shape (m, n); its harmonic subgroups to order 50 unless given.

    Returns
    -------
    Intervals
        Empty for a short capture, which is no window. An interval that the recording covers in part only
        has a coverage below 1; a channel's value is that of its windows that are known.

    Raises
    ------
    InputError
        Another length.

    Examples
    --------
    >>> from xlcalc.measurement.windows import Window
    >>> def window(k, rms):
    ...     lines = np.zeros((1, 60), complex); lines[0, 50] = rms
    ...     ones = np.ones(1)
    ...     return Window(lines=lines, rms=ones, peak=ones, start_s=0.2 * k, hz=50.0, cycles=10, position=k)
    >>> found = aggregate([window(k, 5.0 if k < 5 else 3.0) for k in range(15)], "3 s")
    >>> found.values[0, 0, 4].round(6), found.coverage.tolist()
    (np.float64(3.785939), [[1.0]])
    """
    if length not in LENGTHS:
        raise InputError("length", length, "one of " + ", ".join(LENGTHS))
    found = reduce or _subgroups
    rows = [_row(part, length, found) for part in _parts(windows, length)]
    return Intervals(
        length=length,
        start_s=np.array([row.start_s for row in rows], dtype=float),
        values=np.array([row.values for row in rows]) if rows else np.empty((0, 0, MAX_ORDER)),
        coverage=np.array([row.coverage for row in rows]) if rows else np.empty((0, 0)),
        flagged=np.array([row.flagged for row in rows], dtype=bool),
        hz=np.array([row.hz for row in rows], dtype=float),
    )


def _parts(windows: Iterable[Window], length: str) -> Iterator[Iterator[Window]]:
    """The windows of one interval after the other."""
    three = length == THREE_SECONDS
    counted = (w for w in windows if not w.short and (three or not w.extra))
    for _, part in groupby(counted, lambda w: (w.interval, w.position // PER_3_S if three else 0)):
        yield part


def _subgroups(window: Window) -> FloatArray:
    return harmonic_subgroups(window.magnitude, window.cycles)


@dataclass(frozen=True)
class _Row:
    """Values of one interval."""

    start_s: float
    values: FloatArray
    coverage: FloatArray
    flagged: bool
    hz: float


def _row(part: Iterator[Window], length: str, reduce: Callable[[Window], FloatArray]) -> _Row:
    first = next(part)
    squares, known, covered = (np.zeros_like(reduce(first)) for _ in range(3))
    flagged, hz, count = False, 0.0, 0
    for window in chain([first], part):
        values = reduce(window)
        there = np.isfinite(values)
        squares += np.where(there, values, 0.0) ** 2
        known += there
        covered += there * (1.0 if length == THREE_SECONDS else window.cycles / window.hz)
        flagged, hz, count = flagged or window.flagged, hz + window.hz, count + 1
    mean = np.sqrt(np.divide(squares, known, out=np.full_like(squares, np.nan), where=known > 0))
    coverage = np.minimum(
        1.0, covered.max(axis=-1) / (PER_3_S if length == THREE_SECONDS else LENGTHS[length])
    )
    return _Row(first.start_s, mean, coverage, flagged, hz / count)
