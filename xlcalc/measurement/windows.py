"""Windows of 10 cycles at 50 Hz and 12 at 60 Hz, synchronised to the mains, and their spectral lines.

IEC 61000-4-7 (rectangular windows of some 200 ms without gaps) and IEC 61000-4-30 class A (the row of windows
begins anew at every 10-minute tick of UTC; the row before it goes on until its last 3 s value is complete).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray, Spectrum
from xlcalc.measurement import frequency
from xlcalc.measurement.groups import standard_cycles
from xlcalc.measurement.line_fit import fitted_lines
from xlcalc.measurement.recording import CURRENT, VOLTAGE, Recording, disturbed_seconds
from xlcalc.measurement.resampling import Interpolator, highest_share

PER_3_S: Final = 15
TEN_MINUTES: Final = 600.0
END: Final = 0.01
"""Share of a cycle by which a window may outlast the recording."""
STEADY: Final = 1e-6
"""Change of the tracked frequency below which that of the window before is the better guess."""
_MOST_FITTED: Final = 20_000


@dataclass(frozen=True, kw_only=True)
class Window:
    """Lines of one window.

    Parameters
    ----------
    lines : array of complex, shape (m, k)
        rms phasors of lines 0 to k - 1 of each channel, ``hz / cycles`` apart, angles against the start of
        the window. NaN for a channel that lacks samples.
    rms, peak : array of float, shape (m,)
        Of the samples themselves, up to the highest frequency recorded.
    start_s : float
        Seconds after the first sample of the recording.
    hz : float
        Fundamental frequency.
    cycles : int
        Cycles of the window.
    short : bool
        The capture is shorter than a window of the standard, and `cycles` are all whole ones in it.
    interval : int
        Number of the 10-minute interval.
    position : int
        Number of the window in the interval.
    extra : bool
        The window begins after the end of its interval: it completes a 3 s value and no more.
    flagged : bool
        A dip, swell or interruption took place: the values count in no statistics (IEC 61000-4-30).
    """

    lines: ComplexArray
    rms: FloatArray
    peak: FloatArray
    start_s: float
    hz: float
    cycles: int
    short: bool = False
    interval: int = 0
    position: int = 0
    extra: bool = False
    flagged: bool = False

    @property
    def magnitude(self) -> FloatArray:
        """rms value by channel and line."""
        return np.abs(self.lines)

    @property
    def crest_factor(self) -> FloatArray:
        """Peak over rms by channel; NaN where the rms is 0."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.rms > 0.0, self.peak / self.rms, np.nan)

    def phasors(self, channel: int) -> ComplexArray:
        """Lines of orders 1, 2 and so on of a channel."""
        return self.lines[channel, self.cycles :: self.cycles]

    def spectrum(self, channel: int) -> Spectrum:
        """Orders that were recorded, as far as they go."""
        phasors = self.phasors(channel)
        return Spectrum(phasors[np.isfinite(phasors)])

    @property
    def label(self) -> str:
        """What kind of window it is."""
        if self.short:
            plural = "s" if self.cycles > 1 else ""
            return f"short capture: {self.cycles} whole cycle{plural}, no standard window"
        return f"{self.cycles} cycles, IEC 61000-4-7"


def windows(
    recording: Recording,
    *,
    nominal_hz: float | None = None,
    hz: float | None = None,
    nominal_volts: float | None = None,
    max_order: int = MAX_ORDER,
) -> Iterator[Window]:
    """Windows of a recording, one after the other without gaps.

    A capture shorter than one window gives a single one of all its whole cycles. Orders are evaluated up to
    0.9 of the Nyquist frequency; lines above it are missing.

    Parameters
    ----------
    recording : Recording
        The frequency is that of its first voltage that has one, else of its first such current.
    nominal_hz : float, optional
        50 or 60; the one nearer to the recording's unless given.
    hz : float, optional
        Frequency where it is known and constant; tracked unless given.
    nominal_volts : float, optional
        Declared line-to-line voltage, V; with it windows with a dip, swell or interruption are flagged.
    max_order : int
        Highest order, 2 to 1000.

    Raises
    ------
    InputError
        An argument is outside its range.
    NoSolutionError
        No channel has a frequency, or less than a cycle was recorded.
    """
    order = whole_number("max_order", max_order, least=2, most=1000)
    if hz is not None:
        number("hz", hz, unit="Hz", above=0, most=recording.rate / 4.0)
    column, nominal = reference_of(recording, nominal_hz, hz)
    reference = np.ascontiguousarray(recording.samples[:, column])
    disturbed = disturbed_seconds(recording, nominal, nominal_volts)
    row = _Row(recording, reference, nominal, fixed=hz, max_order=order, disturbed=disturbed)
    yield from row.all()


def interval_windows(
    recording: Recording,
    bounds: tuple[float, float],
    interval: int,
    *,
    reference: tuple[int, float],
    hz: float | None,
    nominal_volts: float | None,
    max_order: int,
) -> Iterator[Window]:
    """Windows of one 10-minute interval, which lies between two samples of a longer recording.

    `reference` is what `reference_of` gives; the rest as in `windows`.
    """
    column, nominal = reference
    wave = np.ascontiguousarray(recording.samples[:, column])
    disturbed = disturbed_seconds(recording, nominal, nominal_volts)
    row = _Row(recording, wave, nominal, fixed=hz, max_order=max_order, disturbed=disturbed)
    yield from row.interval(interval, *bounds)


def reference_of(recording: Recording, nominal_hz: float | None, hz: float | None) -> tuple[int, float]:
    """The channel whose frequency is tracked, the first voltage that has one or such a current; 50 or 60 Hz.

    Raises
    ------
    InputError
        `nominal_hz` is another.
    NoSolutionError
        No channel has a frequency.
    """
    if nominal_hz is not None and nominal_hz not in (50, 60):
        raise InputError("nominal_hz", nominal_hz, "50 or 60 Hz")
    if nominal_hz is None and hz is not None:
        nominal_hz = 50.0 if hz < 55.0 else 60.0
    problem = NoSolutionError("no channel has a frequency: all are constant or mostly missing")
    for quantity in (VOLTAGE, CURRENT):
        for column, channel in enumerate(recording.channels):
            samples = np.ascontiguousarray(recording.samples[:, column])
            if (
                channel.quantity == quantity
                and np.count_nonzero(np.isfinite(samples)) > 0.5 * samples.size
                and np.fmax.reduce(samples) > np.fmin.reduce(samples)
            ):
                try:
                    found = nominal_hz or frequency.nominal_frequency(samples, recording.rate)
                except NoSolutionError as none:
                    problem = none
                else:
                    return column, float(found)
    raise problem


def ticks(start: np.datetime64 | None, rate: float, count: int) -> list[float]:
    """First sample, the ticks of 10 minutes after it, and the end; in samples."""
    first = 0.0
    if start is not None:
        nanoseconds = int(start.astype("datetime64[ns]").astype(np.int64))
        first = (-nanoseconds % int(TEN_MINUTES * 1e9)) * 1e-9 * rate
    inner = [tick for tick in np.arange(first, count, TEN_MINUTES * rate).tolist() if tick > 0.0]
    return [0.0, *inner, float(count)]


class _Row:
    """The row of windows of one recording."""

    def __init__(
        self,
        recording: Recording,
        reference: FloatArray,
        nominal: float,
        fixed: float | None,
        max_order: int,
        disturbed: FloatArray,
    ) -> None:
        self.recording, self.reference, self.nominal, self.fixed = recording, reference, nominal, fixed
        self.rate, self.count = recording.rate, recording.samples.shape[0]
        self.cycles = standard_cycles(nominal)
        self.max_order = max_order
        wanted = (max_order + 0.5) * nominal * frequency.HIGHEST_SHARE / self.rate
        self.interpolator = Interpolator(min(wanted, highest_share()))
        self.slow, self.factor = frequency.slowed(reference, self.rate) if fixed is None else (reference, 1)
        self.follower = Interpolator(frequency.SLOW_SHARE) if self.factor > 1 else self.interpolator
        self.tracked = (
            frequency.cycle_frequencies(self.slow, self.rate / self.factor, nominal)
            if fixed is None
            else np.empty(0)
        )
        self.disturbed = disturbed
        self.last_hz = nominal if fixed is None else fixed

    def all(self) -> Iterator[Window]:
        length = self.cycles * self.rate / self._frequency(0.0)
        if length > self.count + END * length / self.cycles:
            yield self._short()
            return
        bounds = ticks(self.recording.start, self.rate, self.count)
        for interval, begin in enumerate(bounds[:-1]):
            yield from self.interval(interval, begin, bounds[interval + 1])

    def interval(self, interval: int, begin: float, end: float) -> Iterator[Window]:
        """Windows of the interval between two samples."""
        at, position = begin, 0
        while at < end - 1e-3 or position % PER_3_S:
            hz = self._frequency(at)
            length = self.cycles * self.rate / hz
            if at + length > self.count + END * length / self.cycles:
                return
            yield self._window(
                at, hz, self.cycles, interval=interval, position=position, extra=at >= end - 1e-3
            )
            at, position = at + length, position + 1

    def _frequency(self, at: float) -> float:
        """Frequency of the window that begins at a sample."""
        if self.fixed is not None:
            return self.fixed
        if not self.tracked.size:
            return frequency.fitted_frequency(self.reference, self.rate, self.nominal)
        per_cycle = self.rate / self.nominal
        first = min(max(int(at / per_cycle) - 2, 0), self.tracked.size - 1)
        near = self.tracked[first : first + self.cycles]
        known = near[np.isfinite(near)]
        guess = float(np.sort(known)[known.size // 2]) if known.size else self.last_hz
        if abs(self.last_hz / guess - 1.0) < STEADY:
            guess = self.last_hz
        margin = self.factor * (self.follower.taps + 1) + frequency.slow_margin(self.factor)
        latest = self.count - 1 - margin - (self.cycles + 1.05) * self.rate / guess
        if latest < margin:
            return frequency.fitted_frequency(self.reference, self.rate, self.nominal)
        start = min(max(at, margin), latest)
        found = frequency.window_frequency(
            self.slow, start / self.factor, self.cycles, self.rate / self.factor, guess, self.follower
        )
        self.last_hz = found
        return found

    def _short(self) -> Window:
        hz = self._frequency(0.0)
        cycles = int(self.count * hz / self.rate + END)
        if cycles < 1:
            raise NoSolutionError(f"{self.count} samples are less than a cycle of {hz:g} Hz")
        return self._window(0.0, hz, cycles, short=True)

    def _window(
        self,
        at: float,
        hz: float,
        cycles: int,
        *,
        short: bool = False,
        interval: int = 0,
        position: int = 0,
        extra: bool = False,
    ) -> Window:
        length = cycles * self.rate / hz
        last = min(
            cycles * self.max_order + cycles // 2, int(self.interpolator.share * self.rate * cycles / hz)
        )
        first = max(0, int(np.ceil(at - 1e-6)))
        end = min(self.count, max(first + 1, int(np.ceil(at + length - 1e-6))))
        taps = self.interpolator.taps
        inside = at >= taps and at + length <= self.count - 1 - taps
        if inside or end - first > _MOST_FITTED:
            rows, low = self._around(at, length)
            lines = self._resampled(rows, at - low, length, last)
        else:
            rows, low = np.ascontiguousarray(self.recording.samples[first:end].T), first
            lines = fitted_lines(rows.T, (first - at) / length, last, length)
        seconds = at / self.rate
        flags = np.searchsorted(self.disturbed, (seconds, seconds + length / self.rate))
        rows = rows[:, first - low : end - low]
        return Window(
            lines=lines,
            rms=np.sqrt(np.einsum("ij,ij->i", rows, rows) / (end - first)),
            peak=np.maximum(rows.max(axis=1), -rows.min(axis=1)),
            start_s=seconds,
            hz=hz,
            cycles=cycles,
            short=short,
            interval=interval,
            position=position,
            extra=extra,
            flagged=bool(flags[1] > flags[0]),
        )

    def _around(self, at: float, length: float) -> tuple[FloatArray, int]:
        """Samples of a window and those on either side that the resampling takes; and which is the first."""
        taps = self.interpolator.taps
        low, high = int(np.floor(at)) - taps, int(np.ceil(at + length)) + taps + 1
        samples = self.recording.samples[max(low, 0) : high]
        lacking = (max(0, -low), max(0, high - self.count))
        if any(lacking):
            samples = np.pad(samples, (lacking, (0, 0)), mode="reflect", reflect_type="odd")
        return np.ascontiguousarray(samples.T), low

    def _resampled(self, rows: FloatArray, begin: float, length: float, last: int) -> ComplexArray:
        """Lines by an FFT of equally spaced points of the window, which begins at a place in the rows."""
        import scipy

        count = scipy.fft.next_fast_len(int(np.ceil(self.interpolator.least_rate * length)), real=True)
        points = self.interpolator.at(rows, begin + np.arange(count) * (length / count))
        found = scipy.fft.rfft(points)[:, : last + 1]
        found *= np.sqrt(2.0) / count
        found[:, 0] /= np.sqrt(2.0)
        return np.asarray(found)
