"""A recording reduced in one pass: its windows as a trend, and the values of 3 s and of 10 minutes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, FloatArray
from xlcalc.measurement.aggregation import TEN_MINUTES, THREE_SECONDS, Aggregator, Intervals
from xlcalc.measurement.groups import harmonic_subgroups, thd_pct
from xlcalc.measurement.pieces import LongRecording, windows_of
from xlcalc.measurement.recording import Recording
from xlcalc.measurement.windows import Window


@dataclass(frozen=True, kw_only=True)
class Reduction:
    """What a recording gives.

    Parameters
    ----------
    first : Window
        Its first window; the only one of a short capture.
    start_s, hz : array of float, shape (w,)
        Start and frequency of each window.
    fundamental, thd_pct, crest_factor : array of float, shape (w, m)
        By window and channel: subgroup of order 1, THD by subgroups to the highest order up to 50 that was
        recorded, crest factor.
    flagged : array of bool, shape (w,)
    rms : array of float, shape (m, 50)
        Subgroups over all windows, root of the mean square.
    last_order : int
        Highest order that was recorded.
    three, ten : Intervals
        Values of 3 s and 10 minutes.
    """

    first: Window
    start_s: FloatArray
    hz: FloatArray
    fundamental: FloatArray
    thd_pct: FloatArray
    crest_factor: FloatArray
    flagged: npt.NDArray[np.bool_]
    rms: FloatArray
    last_order: int
    three: Intervals
    ten: Intervals

    def intervals(self, length: str) -> Intervals:
        """Values of one length."""
        return {THREE_SECONDS: self.three, TEN_MINUTES: self.ten}[length]


def reduced(
    recording: Recording | LongRecording,
    *,
    nominal_hz: float | None = None,
    hz: float | None = None,
    nominal_volts: float | None = None,
) -> Reduction:
    """Reduce a recording; arguments and errors as in `xlcalc.measurement.windows.windows`.

    A long one is read in pieces: what is held beside them are a few numbers of each window.
    """
    three, ten = Aggregator(THREE_SECONDS), Aggregator(TEN_MINUTES)
    first: Window | None = None
    rows: list[tuple[float, float, bool]] = []
    by_channel: list[FloatArray] = []
    shape = (len(recording.channels), MAX_ORDER)
    squares, known = np.zeros(shape), np.zeros(shape)
    for window in windows_of(recording, nominal_hz=nominal_hz, hz=hz, nominal_volts=nominal_volts):
        values = _harmonics(window) if window.short else harmonic_subgroups(window.magnitude, window.cycles)
        three.add(window, values)
        ten.add(window, values)
        if window.extra:
            continue
        first = first or window
        there = np.isfinite(values)
        last = max(2, int(there.any(axis=0).sum()))
        rows.append((window.start_s, window.hz, window.flagged))
        by_channel.append(np.stack([values[:, 0], thd_pct(values, last), window.crest_factor]))
        squares += np.where(there, values, 0.0) ** 2
        known += there
    if first is None:
        raise NoSolutionError("the recording holds no window")
    rms = np.sqrt(np.divide(squares, known, out=np.full(shape, np.nan), where=known > 0))
    start, found_hz, flagged = (np.array(column) for column in zip(*rows, strict=True))
    trend = np.array(by_channel)
    return Reduction(
        first=first,
        start_s=start,
        hz=found_hz,
        fundamental=trend[:, 0],
        thd_pct=trend[:, 1],
        crest_factor=trend[:, 2],
        flagged=flagged,
        rms=rms,
        last_order=int(np.isfinite(rms).any(axis=0).sum()),
        three=three.intervals(),
        ten=ten.intervals(),
    )


def _harmonics(window: Window) -> FloatArray:
    """Orders of a short capture, whose lines are too far apart for subgroups."""
    found = np.full((window.lines.shape[0], MAX_ORDER), np.nan)
    orders = window.magnitude[:, window.cycles :: window.cycles][:, :MAX_ORDER]
    found[:, : orders.shape[1]] = orders
    return found
