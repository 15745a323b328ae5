"""A recording that is longer than the memory: its windows, read and reduced by intervals of 10 minutes.

The row of windows begins anew at every tick of 10 minutes (IEC 61000-4-30), so that an interval needs no
samples of the one before, and only those of the next 3 s after it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, FloatArray
from xlcalc.measurement.recording import Channel, Recording
from xlcalc.measurement.windows import TEN_MINUTES, Window, interval_windows, reference_of, ticks, windows

_AFTER: Final = 4.0
_BEFORE: Final = 0.1
"""Seconds that an interval needs of its neighbours: the last 3 s value, and the taps of the resampling."""
_ROOM: Final = 1 << 18
"""Rows by which a block may reach beyond what was asked for without a larger array."""


@dataclass(frozen=True, kw_only=True)
class LongRecording:
    """Samples of several channels, equally spaced, that are read anew for each pass.

    Parameters
    ----------
    pieces : callable
        Gives consecutive blocks of samples, each of shape (k, m), in V and A; NaN where nothing was recorded.
    count : int
        Samples of all blocks together.
    rate : float
        Samples per second.
    channels : tuple of Channel
    start : datetime64, optional
        Time of the first sample, UTC.
    findings : tuple of str
    """

    pieces: Callable[[], Iterator[FloatArray]]
    count: int
    rate: float
    channels: tuple[Channel, ...]
    start: np.datetime64 | None = None
    findings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        number("rate", self.rate, unit="samples per second", above=0)

    @property
    def seconds(self) -> float:
        """Duration."""
        return self.count / self.rate

    def first_part(self, seconds: float = TEN_MINUTES) -> Recording:
        """Its beginning, as long as that at most."""
        window = _Buffer(self)
        return self._recording(window.samples(0, min(self.count, int(seconds * self.rate))), self.start)

    def _recording(self, samples: FloatArray, start: np.datetime64 | None) -> Recording:
        return Recording(
            samples=samples, rate=self.rate, channels=self.channels, start=start, findings=self.findings
        )

    def with_findings(self, *findings: str) -> LongRecording:
        """The same recording with more findings."""
        return replace(self, findings=(*self.findings, *findings))


class _Buffer:
    """Samples of a long recording from one place to another; places only move on."""

    def __init__(self, recording: LongRecording) -> None:
        self._blocks = recording.pieces()
        self._count = recording.count
        self._held = np.empty((0, len(recording.channels)))
        self._first = self._filled = 0

    def samples(self, first: int, last: int) -> FloatArray:
        """Rows from `first` to before `last`; the array is written over by the next call."""
        kept = max(0, self._filled - first)
        if self._held.shape[0] < last - first:
            room = np.empty((last - first + _ROOM, self._held.shape[1]))
            room[:kept] = self._held[first - self._first : self._filled - self._first]
            self._held = room
        else:
            self._held[:kept] = self._held[first - self._first : self._filled - self._first].copy()
        self._first, at = first, first + kept
        while at < last:
            block = next(self._blocks, None)
            if block is None:
                raise InputError("recording", f"of {at} samples", f"the {self._count} that it states")
            end = at + block.shape[0]
            self._grow(end)
            if end > first:
                self._held[max(0, at - first) : end - first] = block[max(0, first - at) :]
            at = end
        self._filled = at
        return self._held[: last - first]

    def _grow(self, end: int) -> None:
        if end - self._first > self._held.shape[0]:
            room = np.empty((end - self._first, self._held.shape[1]))
            room[: self._held.shape[0]] = self._held
            self._held = room


def windows_of(
    recording: Recording | LongRecording,
    *,
    nominal_hz: float | None = None,
    hz: float | None = None,
    nominal_volts: float | None = None,
    max_order: int = MAX_ORDER,
) -> Iterator[Window]:
    """Windows of either kind of recording; otherwise as `xlcalc.measurement.windows.windows`.

    Intervals of 10 minutes before the first that has a frequency give none.
    """
    if isinstance(recording, Recording):
        yield from windows(
            recording,
            nominal_hz=nominal_hz,
            hz=hz,
            nominal_volts=nominal_volts,
            max_order=max_order,
        )
        return
    bounds = ticks(recording.start, recording.rate, recording.count)
    buffer = _Buffer(recording)
    reference: tuple[int, float] | None = None
    problem: NoSolutionError | None = None
    for interval, (begin, end) in enumerate(pairwise(bounds)):
        first = max(0, int(begin - _BEFORE * recording.rate))
        last = min(recording.count, int(end + _AFTER * recording.rate))
        piece = recording._recording(buffer.samples(first, last), None)
        if reference is None:
            try:
                reference = reference_of(piece, nominal_hz, hz)
            except NoSolutionError as found_none:
                problem = found_none
                continue
        found = interval_windows(
            piece,
            (begin - first, end - first),
            interval,
            reference=reference,
            hz=hz,
            nominal_volts=nominal_volts,
            max_order=max_order,
        )
        for window in found:
            yield replace(window, start_s=window.start_s + first / recording.rate)
    if reference is None and problem is not None:
        raise problem
