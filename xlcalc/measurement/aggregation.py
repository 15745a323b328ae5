"""Values of 3 s and 10 minutes from those of windows: root of the mean square, by IEC 61000-4-30."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import MAX_ORDER, FloatArray
from xlcalc.measurement.groups import harmonic_subgroups
from xlcalc.measurement.windows import PER_3_S, Window

THREE_SECONDS: Final = "3 s"
TEN_MINUTES: Final = "10 min"
LENGTHS: Final = {THREE_SECONDS: 3.0, TEN_MINUTES: 600.0}
"""Nominal lengths, s."""
COMPLETE: Final = 0.999
"""Share of an interval that must be covered for it to count."""


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


def aggregate(windows: Iterable[Window], length: str) -> Intervals:
    """Harmonic subgroups of orders 1 to 50 by interval.

    Parameters
    ----------
    windows : iterable of Window
        In the order in which `xlcalc.measurement.windows.windows` gives them.
    length : str
        "3 s": 15 windows. "10 min": the windows that begin between two ticks.

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
    row = Aggregator(length)
    for window in windows:
        row.add(window, harmonic_subgroups(window.magnitude, window.cycles))
    return row.intervals()


class Aggregator:
    """Takes windows one by one, so that memory is flat in the length of a recording.

    Parameters
    ----------
    length : str
        "3 s" or "10 min".

    Raises
    ------
    InputError
        Another length.
    """

    def __init__(self, length: str) -> None:
        if length not in LENGTHS:
            raise InputError("length", length, "one of " + ", ".join(LENGTHS))
        self._length = length
        self._sums: list[_Sum] = []
        self._key: tuple[int, int] | None = None

    def add(self, window: Window, values: FloatArray) -> None:
        """One more window, in the order of the row, and its magnitudes, shape (m, n); NaN where not known."""
        three = self._length == THREE_SECONDS
        if window.short or (window.extra and not three):
            return
        key = (window.interval, window.position // PER_3_S if three else 0)
        if key != self._key:
            self._key = key
            self._sums.append(_Sum(window.start_s, values.shape))
        self._sums[-1].add(window, values, 1.0 / PER_3_S if three else window.cycles / window.hz / 600.0)

    def intervals(self) -> Intervals:
        """What was taken so far."""
        sums = self._sums
        return Intervals(
            length=self._length,
            start_s=np.array([one.start_s for one in sums], dtype=float),
            values=np.array([one.values for one in sums]) if sums else np.empty((0, 0, MAX_ORDER)),
            coverage=np.array([one.coverage for one in sums]) if sums else np.empty((0, 0)),
            flagged=np.array([one.flagged for one in sums], dtype=bool),
            hz=np.array([one.hz for one in sums], dtype=float),
        )


class _Sum:
    """Sum of the windows of one interval."""

    def __init__(self, start_s: float, shape: tuple[int, ...]) -> None:
        self.start_s, self.flagged = start_s, False
        self._squares, self._known = np.zeros(shape), np.zeros(shape)
        self._covered = np.zeros(shape[0])
        self._hz, self._count = 0.0, 0

    def add(self, window: Window, values: FloatArray, share: float) -> None:
        there = np.isfinite(values)
        self._squares += np.where(there, values, 0.0) ** 2
        self._known += there
        self._covered += share * there.any(axis=-1)
        self.flagged = self.flagged or window.flagged
        self._hz, self._count = self._hz + window.hz, self._count + 1

    @property
    def values(self) -> FloatArray:
        nothing = np.full_like(self._squares, np.nan)
        return np.sqrt(np.divide(self._squares, self._known, out=nothing, where=self._known > 0))

    @property
    def coverage(self) -> FloatArray:
        return np.minimum(1.0, self._covered.round(12))

    @property
    def hz(self) -> float:
        return self._hz / self._count


@dataclass(frozen=True, kw_only=True)
class Series:
    """Harmonics of one phase in consecutive intervals.

    Parameters
    ----------
    phase : str
        For instance "a" or "ab".
    length : str
        "3 s" or "10 min".
    time : array of datetime64, shape (t,)
        Start of each interval, UTC, ascending.
    percent : array of float, shape (t, n)
        Orders 1 to n in percent of the base of the limits: the maximum demand current, the nominal voltage
        (IEEE 519) or the fundamental (EN 50160). NaN where not known.
    total : array of float, shape (t,), optional
        TDD or THD where the recorder gives it; computed of the orders unless given.
    flagged : array of bool, shape (t,), optional
        Intervals with a dip, swell or interruption.

    Raises
    ------
    InputError
        Shapes that do not fit, times that do not ascend, values below 0, or another length.
    """

    phase: str
    length: str
    time: npt.NDArray[np.datetime64]
    percent: FloatArray
    total: FloatArray | None = None
    flagged: npt.NDArray[np.bool_] | None = None

    def __post_init__(self) -> None:
        what = f"series of phase {self.phase}"
        if self.length not in LENGTHS:
            raise InputError(f"length of {what}", self.length, "one of " + ", ".join(LENGTHS))
        rows = self.time.shape[0]
        for name, column in (("percent", self.percent), ("total", self.total), ("flagged", self.flagged)):
            if column is not None and column.shape[0] != rows:
                raise InputError(
                    f"{name} of {what}", f"{column.shape[0]} rows for {rows} times", "as many rows"
                )
        if self.percent.ndim != 2 or np.any(self.percent < 0.0):
            raise InputError(
                f"percent of {what}", "no rows of magnitudes", "rows of 0 or more, NaN where unknown"
            )
        steps = np.diff(self.time)
        if np.any(steps <= np.timedelta64(0)):
            at = self.time[1:][steps <= np.timedelta64(0)][0]
            raise InputError(
                f"time of {what}", f"{at} after a later or equal one", "ascending times, each once"
            )

    @classmethod
    def of_intervals(
        cls, intervals: Intervals, channel: int, phase: str, start: np.datetime64, base: float | None = None
    ) -> Series:
        """Aggregated values of a recording; intervals that are covered in part only count as missing.

        Parameters
        ----------
        intervals : Intervals
        channel : int
            Column of the recording.
        phase : str
            Its phase.
        start : datetime64
            Time of the first sample.
        base : float, optional
            What is 100 %, V or A; the fundamental of the interval unless given.
        """
        values = intervals.values[:, channel, :]
        whole = intervals.coverage[:, channel] >= COMPLETE
        over = values[:, :1] if base is None else number("base", base, above=0)
        percent = np.where(whole[:, None], 100.0 * values / over, np.nan)
        offsets = np.round(intervals.start_s * 1e9).astype("timedelta64[ns]")
        return cls(
            phase=phase,
            length=intervals.length,
            time=start.astype("datetime64[ns]") + offsets,
            percent=percent,
            flagged=intervals.flagged,
        )

    def with_total(self, last: int) -> FloatArray:
        """Orders 1 to 50 and the total of 2 to `last` as a further column; NaN where not known."""
        rows = np.full((self.time.size, MAX_ORDER + 1), np.nan)
        width = min(MAX_ORDER, self.percent.shape[1])
        rows[:, :width] = self.percent[:, :width]
        harmonics = rows[:, 1:last]
        known = np.isfinite(harmonics).any(axis=1)
        rows[known, -1] = np.sqrt(np.nansum(harmonics[known] ** 2, axis=1))
        if self.total is not None:
            rows[:, -1] = self.total
        return rows

    @property
    def left_out(self) -> npt.NDArray[np.bool_]:
        """Flagged intervals."""
        return np.zeros(self.time.size, bool) if self.flagged is None else self.flagged
