"""Instants of samples, as a file states them: their rate, and where samples are missing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray

RATE_TOLERANCE: Final = 1e-3
"""Relative difference up to which a stated rate and the time stamps agree."""
CLOCK_TOLERANCE: Final = 2e-4
"""The same up to which nothing is said: 10 mHz at 50 Hz, the class A of IEC 61000-4-30 (from memory)."""
MOST_MISSING: Final = 9
"""Times as many samples may be missing as are there."""
BLOCK: Final = 1 << 17
"""Samples that are read at a time from a record that is larger than the memory."""
MOST_DRIFT: Final = 0.01
"""Change of the distance of samples in a recording up to which it is used."""
_GAPS_SHOWN: Final = 3
_LAG: Final = 64
_NEAR: Final = 25
_CLEAR: Final = 0.25
_LONG: Final = 1.5
_FEW: Final = 3
_FEW_SHARE: Final = 0.01
_FARTHEST: Final = 0.75
"""Distances by which an instant may lie beside an even row."""
_JITTER: Final = 0.2
"""Distances from which on that is told."""
_DRIFT_DEGREE: Final = 4


@dataclass(frozen=True)
class TimeAxis:
    """Where the samples of a file stand on an even row of instants.

    Parameters
    ----------
    positions : array of int, shape (n,)
        Number of each sample, 0 for the first.
    rate : float
        Samples per second.
    findings : tuple of str
        Gaps, each a sentence.
    """

    positions: npt.NDArray[np.int64]
    rate: float
    findings: tuple[str, ...] = ()

    def spread(self, samples: FloatArray) -> FloatArray:
        """The samples with NaN in place of those that are missing; rows are samples."""
        count = int(self.positions[-1]) + 1
        if count == samples.shape[0]:
            return samples
        whole = np.full((count, samples.shape[1]), np.nan)
        whole[self.positions] = samples
        return whole


def time_axis(seconds: FloatArray, row: Callable[[int], str], stated_rate: float | None = None) -> TimeAxis:
    """The even row of instants that time stamps follow.

    Stamps may be rounded to half of their distance, or jitter as much; a step of several distances is a gap.
    A clock that drifts slowly is named.

    Parameters
    ----------
    seconds : array of float, shape (n,)
        Two or more.
    row : callable
        Name of a row for messages.
    stated_rate : float, optional
        What the file or the map says.

    Raises
    ------
    InputError
        A stamp is missing, does not come after the one before, or the stamps are not evenly spaced; the
        stated rate is another; or far more samples are missing than there are.
    """
    if seconds.size < 2:
        raise InputError("time", f"of {seconds.size} samples", "two samples or more")
    missing = np.flatnonzero(~np.isfinite(seconds))
    if missing.size:
        raise InputError(f"time in {row(int(missing[0]))}", "missing", "a time in every row", wrong_kind=True)
    steps = np.diff(seconds)
    back = np.flatnonzero(steps <= 0.0)
    if back.size:
        k = int(back[0]) + 1
        what = "the same as in the row before" if steps[back[0]] == 0.0 else "before that of the row above"
        message = f"{row(k)}: the time {seconds[k]:.9g} s is {what}; {back.size} such row(s): sort the file, "
        raise InputError("time", seconds[k], "ascending times", message=message + "each time once")
    counts = _counts(seconds, steps)
    positions = np.concatenate([[0], np.cumsum(counts)])
    if positions[-1] > (MOST_MISSING + 1) * seconds.size + 100:
        raise InputError(
            "time",
            f"over {seconds[-1] - seconds[0]:.6g} s for {seconds.size} samples",
            "an even row of instants",
        )
    slope, start = np.polyfit(positions, seconds - seconds[0], 1)
    beside = (seconds - seconds[0] - start - slope * positions) / slope
    findings = _uneven(positions, beside, float(slope), seconds, row)
    rate = 1.0 / float(slope)
    if stated_rate is not None and abs(rate / stated_rate - 1.0) > RATE_TOLERANCE:
        raise InputError(
            "rate", f"{stated_rate:.9g} samples per second", f"{rate:.6g}, which the time stamps give"
        )
    gaps = np.flatnonzero(counts > 1)
    findings += [
        f"{row(int(k) + 1)}: {int(counts[k]) - 1} samples are missing before {seconds[k + 1]:.9g} s"
        for k in gaps[:_GAPS_SHOWN]
    ]
    if gaps.size > _GAPS_SHOWN:
        findings.append(f"{gaps.size} gaps in all, {int(counts[gaps].sum()) - gaps.size} samples missing")
    return TimeAxis(positions, rate, tuple(findings))


def _counts(seconds: FloatArray, steps: FloatArray) -> npt.NDArray[np.int64]:
    """Distances from each instant to the next: more than one only where those that follow are late as well.

    The distance is taken over many instants, and where single ones are rounded or jitter, the lateness too.
    """
    lag = max(1, min(_LAG, seconds.size // 4))
    step = float(np.median(seconds[lag:] - seconds[:-lag])) / lag
    counts = np.maximum(1, np.round(steps / step)).astype(np.int64)
    few = np.count_nonzero(counts > 1) <= max(_FEW, _FEW_SHARE * counts.size)
    if few and np.abs(steps / step - counts).max() < _CLEAR:
        return counts
    counts[:] = 1
    long = np.flatnonzero(steps > _LONG * step)
    if long.size:
        late = seconds - step * np.arange(seconds.size)
        near = np.arange(_NEAR)
        after = late[np.minimum(long[:, None] + 1 + near, seconds.size - 1)]
        before = late[np.maximum(long[:, None] - near, 0)]
        jump = (np.median(after, axis=1) - np.median(before, axis=1)) / step
        counts[long] = np.maximum(1, 1 + np.round(jump)).astype(np.int64)
    return counts


def _uneven(
    positions: npt.NDArray[np.int64],
    beside: FloatArray,
    step: float,
    seconds: FloatArray,
    row: Callable[[int], str],
) -> list[str]:
    """A sentence on a clock that drifts, and one on instants that jitter; `beside` is in distances.

    Raises
    ------
    InputError
        The instants are neither even nor those of a clock that drifts slowly.
    """
    found = []
    most = float(np.abs(beside).max())
    if most > _JITTER:
        drift = np.polynomial.Polynomial.fit(positions, beside, _DRIFT_DEGREE)
        off = np.abs(beside - drift(positions.astype(float)))
        if off.max() < 0.5 * most:
            pace = 1.0 + drift.deriv()(positions.astype(float))
            ends = f"from {1e6 * step * pace.min():.6g} to {1e6 * step * pace.max():.6g} us"
            if float(np.ptp(pace)) > MOST_DRIFT:
                what = f"of a clock that drifts: the distance of the samples goes {ends}"
                raise InputError("time", what, f"a change of {100.0 * MOST_DRIFT:g} % or less")
            found.append(
                f"the clock drifts: the distance of the samples goes {ends}; frequencies are as uncertain as "
                "that, orders are not"
            )
            beside, most = off, float(off.max())
    if most > _FARTHEST:
        k = int(np.argmax(np.abs(beside)))
        valid = f"even steps of about {step:.6g} s; are rows missing there"
        raise InputError("time", f"{seconds[k]:.9g} s in {row(k)}", valid)
    if most > _JITTER:
        found.append(
            f"the times lie up to {most:.2g} of their distance beside an even row: rounded, or the clock "
            "jitters; the samples are taken as evenly spaced"
        )
    return found


def stamps_against(rate: float, slope: float, name: str) -> list[str]:
    """A sentence where the stated rate and the distance of the time stamps, s, differ by a little."""
    apart = rate * slope - 1.0
    if abs(apart) < CLOCK_TOLERANCE:
        return []
    return [
        f"{name}: the time stamps give {1.0 / slope:.7g} samples per second, the configuration "
        f"{rate:g}: one of the clocks is off by {1e6 * abs(apart):.0f} millionths, and the frequency with it"
    ]


def spread(places: npt.NDArray[np.int64], samples: FloatArray) -> Iterator[FloatArray]:
    """Samples at their places, NaN between, in blocks that are not much larger."""
    if int(places[-1]) + 1 == samples.shape[0]:
        yield samples
        return
    edges = [0, *(np.flatnonzero(np.diff(places) > BLOCK) + 1).tolist(), samples.shape[0]]
    at = 0
    for begin, end in pairwise(edges):
        while int(places[begin]) - at > BLOCK:
            yield np.full((BLOCK, samples.shape[1]), np.nan)
            at += BLOCK
        whole = np.full((int(places[end - 1]) + 1 - at, samples.shape[1]), np.nan)
        whole[places[begin:end] - at] = samples[begin:end]
        yield whole
        at = int(places[end - 1]) + 1
