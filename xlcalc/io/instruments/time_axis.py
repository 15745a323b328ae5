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
MOST_MISSING: Final = 9
"""Times as many samples may be missing as are there."""
BLOCK: Final = 1 << 17
"""Samples that are read at a time from a record that is larger than the memory."""
_GAPS_SHOWN: Final = 3


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

    Stamps may be rounded to half of their distance; a step of several distances is a gap.

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
    step = float(np.median(steps))
    counts = np.maximum(1, np.round(steps / step)).astype(np.int64)
    positions = np.concatenate([[0], np.cumsum(counts)])
    if positions[-1] > (MOST_MISSING + 1) * seconds.size + 100:
        raise InputError(
            "time",
            f"over {seconds[-1] - seconds[0]:.6g} s for {seconds.size} samples",
            "an even row of instants",
        )
    slope, start = np.polyfit(positions, seconds - seconds[0], 1)
    off = np.abs(seconds - seconds[0] - start - slope * positions) / slope
    if off.max() > 0.75:
        k = int(np.argmax(off))
        raise InputError(
            "time",
            f"{seconds[k]:.9g} s in {row(k)}",
            f"even steps of about {slope:.6g} s; are rows missing there",
        )
    rate = 1.0 / float(slope)
    if stated_rate is not None and abs(rate / stated_rate - 1.0) > RATE_TOLERANCE:
        raise InputError(
            "rate", f"{stated_rate:.9g} samples per second", f"{rate:.6g}, which the time stamps give"
        )
    gaps = np.flatnonzero(counts > 1)
    findings = [
        f"{row(int(k) + 1)}: {int(counts[k]) - 1} samples are missing before {seconds[k + 1]:.9g} s"
        for k in gaps[:_GAPS_SHOWN]
    ]
    if gaps.size > _GAPS_SHOWN:
        findings.append(f"{gaps.size} gaps in all, {int(counts[gaps].sum()) - gaps.size} samples missing")
    return TimeAxis(positions, rate, tuple(findings))


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
