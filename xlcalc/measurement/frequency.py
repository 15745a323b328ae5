"""Frequency of the mains in samples: by cycle, for one window, and of a capture of a few cycles."""

from __future__ import annotations

import cmath
import math
from functools import lru_cache
from typing import Final

import numpy as np
from threadpoolctl import threadpool_limits

from xlcalc.core.errors import NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray
from xlcalc.measurement.resampling import ATTENUATION_DB, KAISER_BETA, Interpolator

LOWEST_SHARE: Final = 0.85
HIGHEST_SHARE: Final = 1.15
"""Of the nominal frequency: the range of IEC 61000-4-30 class A (42.5 to 57.5 Hz at 50 Hz; from memory)."""
TRACKED_CYCLES: Final = 4
SLOW_SHARE: Final = 0.3
"""Highest frequency in a slowed channel, as a share of its rate."""
_KEPT_SHARE: Final = 0.12
_SLOW_RATE: Final = 2_400.0
_FAINT: Final = 0.05
_MOST_POINTS: Final = 4_000
_FIRST_ORDERS: Final = 13
_TRIED: Final = 41
_LEAST_SHARE: Final = 0.02
"""Of the power of a signal that a fundamental has: that of a current with a distortion of 700 %."""
_SETTLED: Final = 1e-9
"""Advance of a cycle below which the next one would be a tenth of it, or less."""
_BLOCK: Final = 512
_BLOCKS: Final = 16
_LEAST_BLOCK: Final = 1024


def nominal_frequency(samples: FloatArray, rate: float) -> float:
    """50 or 60 Hz, whichever has more of the signal within 10 % of it.

    Parameters
    ----------
    samples : array of float, shape (n,)
        One channel; NaN counts as 0. What comes before the mains, such as a dead time, is passed over.
    rate : float
        Samples per second.

    Raises
    ------
    NoSolutionError
        The channel has no fundamental near either, or is shorter than a cycle.
    """
    size = int(2.0 * rate)
    if samples.size < 5.0 * rate / 50.0:
        few = np.nan_to_num(samples)
        return min((50.0, 60.0), key=lambda nominal: abs(fitted_frequency(few, rate, 55.0, 0.25) - nominal))
    most = 0.0
    for begin in range(0, max(1, samples.size - size // 2), size):
        shares = _shares(np.nan_to_num(samples[begin : begin + size]), rate)
        best = max(shares, key=lambda nominal: shares[nominal])
        if shares[best] > _LEAST_SHARE:
            return best
        most = max(most, shares[best])
    raise NoSolutionError(
        f"no fundamental near 50 or 60 Hz: {100.0 * most:.2g} % of the power of the signal lies there; "
        "state its frequency where it is another"
    )


def _shares(few: FloatArray, rate: float) -> dict[float, float]:
    """Share of the power of a signal that lies near 50 Hz and near 60 Hz; its mean does not count."""
    size = 1 << (int(4.0 * rate) - 1).bit_length()
    power = np.abs(np.fft.rfft((few - few.mean()) * np.hanning(few.size), size)) ** 2
    hz = np.fft.rfftfreq(size, 1.0 / rate)
    whole = float(power.sum())
    return {
        nominal: float(power[abs(hz / nominal - 1.0) < 0.09].sum()) / whole if whole > 0.0 else 0.0
        for nominal in (50.0, 60.0)
    }


def cycle_frequencies(samples: FloatArray, rate: float, nominal_hz: float) -> FloatArray:
    """Frequency tracked by cycle: the advance of the phase of the fundamental from one cycle to the next.

    Parameters
    ----------
    samples : array of float, shape (n,)
        One channel.
    rate, nominal_hz : float
        Samples per second; Hz.

    Returns
    -------
    array of float, shape (k,)
        Hz; entry i is that around the end of nominal cycle ``i + 2``: from four cycles, weighted by a Hann
        window, to the four that begin a cycle later. NaN where samples are missing or the fundamental is
        below 5 % of its median. Empty for fewer than five cycles.
    """
    per_cycle = rate / nominal_hz
    width = round(TRACKED_CYCLES * per_cycle)
    starts = np.round(np.arange(max(0, int((samples.size - width) / per_cycle) + 1)) * per_cycle).astype(int)
    starts = starts[starts + width <= samples.size]
    if starts.size < 2:
        return np.empty(0)
    instants = np.arange(width)
    weights = np.hanning(width) * np.exp(-2j * np.pi * instants / per_cycle)
    spans = np.lib.stride_tricks.sliding_window_view(samples, width)
    with threadpool_limits(limits=1, user_api="blas"):
        blocks = [spans[starts[k : k + _BLOCK]] @ weights for k in range(0, starts.size, _BLOCK)]
    phasors = np.concatenate(blocks) * np.exp(-2j * np.pi * starts / per_cycle)
    size = np.abs(phasors)
    known = size[np.isfinite(size)]
    floor = _FAINT * float(np.median(known)) if known.size else np.inf
    phasors = np.where(size > floor, phasors, np.nan)
    turn = np.angle(phasors[1:] * np.conj(phasors[:-1])) / (2.0 * np.pi)
    hz = nominal_hz + turn * rate / np.diff(starts)
    inside = (hz > LOWEST_SHARE * nominal_hz) & (hz < HIGHEST_SHARE * nominal_hz)
    return np.where(inside, hz, np.nan)


def window_frequency(
    samples: FloatArray, start: float, cycles: int, rate: float, guess: float, interpolator: Interpolator
) -> float:
    """Frequency at which two windows, one a cycle later, have the same phase of the fundamental.

    Lines of the window other than the fundamental do not disturb it, because at this frequency they are
    orthogonal to it.

    Parameters
    ----------
    samples : array of float, shape (n,)
        One channel.
    start : float
        Where the first window begins, in samples.
    cycles : int
        Of each window.
    rate, guess : float
        Samples per second; Hz.
    interpolator : Interpolator

    Returns
    -------
    float
        Hz; the guess where samples are missing or lie outside the recording.
    """
    # The interpolation leaves nothing that so few points would take for the fundamental.
    points = int(np.ceil((1.0 - interpolator.share) * rate / guess)) + 2
    turn, places = _turns(points, cycles + 1)
    hz = guess
    for _ in range(6):
        positions = start + places * (rate / (hz * points))
        if positions[0] < interpolator.taps or positions[-1] > samples.size - 1 - interpolator.taps:
            return guess
        wave = interpolator.at(samples[None], positions)[0]
        by_cycle = wave.reshape(cycles + 1, points) @ turn
        whole = complex(by_cycle.sum())
        earlier, later = whole - complex(by_cycle[-1]), whole - complex(by_cycle[0])
        advance = cmath.phase(later * earlier.conjugate()) / (2.0 * math.pi)
        if not math.isfinite(advance):
            return guess
        hz *= 1.0 + advance
        if abs(advance) < _SETTLED:
            break
    near = abs(hz / guess - 1.0) < HIGHEST_SHARE - 1.0
    return hz if near else guess


@lru_cache(maxsize=16)
def _turns(points: int, cycles: int) -> tuple[ComplexArray, FloatArray]:
    """Weights of the points of a cycle, and the numbers of all points of some cycles."""
    return np.exp(-2j * np.pi * np.arange(points) / points), np.arange(float(cycles * points))


def slow_margin(factor: int) -> int:
    """Samples at either end of a channel that `slowed` cannot give rightly, at the rate before; 0 for 1."""
    if factor < 2:
        return 0
    width = 2.0 * math.pi * (SLOW_SHARE - _KEPT_SHARE) / factor
    return math.ceil((ATTENUATION_DB - 8.0) / 2.285 / width / 2.0)


def slowed(samples: FloatArray, rate: float) -> tuple[FloatArray, int]:
    """A channel at a lower rate that still holds the fundamental, and the factor between the rates.

    What remains lies below `SLOW_SHARE` of the new rate, to 1e-10; the fundamental keeps its phase.
    """
    import scipy

    factor = int(rate // _SLOW_RATE)
    if factor < 2:
        return samples, 1
    half = slow_margin(factor)
    kept = 0.5 * (SLOW_SHARE + _KEPT_SHARE) / factor
    taps = np.sinc(2.0 * kept * np.arange(-half, half + 1)) * np.kaiser(2 * half + 1, KAISER_BETA)
    taps /= taps.sum()
    count, before = -(-samples.size // factor), -(-2 * half // factor)
    size = max(_LEAST_BLOCK, 1 << (4 * before).bit_length())
    step = size - before
    missing = np.isnan(samples)
    known = np.where(missing, 0.0, samples) if missing.any() else samples
    after = (-(-count // step) * step + before) * factor
    padded = np.zeros(before * factor - half + after)
    padded[before * factor - half :][: samples.size] = known
    blocks = np.lib.stride_tricks.sliding_window_view(padded, size * factor)[:: step * factor]
    response = scipy.fft.rfft(taps, size * factor)[: size // 2 + 1] / factor
    found = np.empty((blocks.shape[0], step))
    for k in range(0, blocks.shape[0], _BLOCKS):
        lines = scipy.fft.rfft(blocks[k : k + _BLOCKS])[:, : size // 2 + 1]
        found[k : k + _BLOCKS] = scipy.fft.irfft(lines * response, size)[:, before:]
    slow = found.ravel()[:count]
    if missing.any():
        groups = np.pad(missing, (0, count * factor - samples.size)).reshape(-1, factor).any(axis=1)
        slow[np.convolve(groups, np.ones(before + 3), "same") > 0.5] = np.nan
    return slow, factor


def fitted_frequency(
    samples: FloatArray, rate: float, nominal_hz: float, width: float = HIGHEST_SHARE - 1.0
) -> float:
    """Frequency of a capture of a few cycles: the one whose harmonics leave the least square of the rest.

    Parameters
    ----------
    samples : array of float, shape (n,)
        One channel, one cycle or more; instants that are NaN are left out.
    rate, nominal_hz : float
        Samples per second; Hz.
    width : float
        How far from the nominal frequency it may lie, as a share of it.

    Raises
    ------
    NoSolutionError
        Less than a cycle was recorded, or no frequency near the nominal one fits.
    """
    import scipy

    block = max(1, samples.size // _MOST_POINTS)
    wave = samples[: samples.size // block * block].reshape(-1, block).mean(axis=1)
    seconds = (np.arange(wave.size) * block + 0.5 * (block - 1)) / rate
    kept = np.isfinite(wave)
    wave, seconds = wave[kept], seconds[kept]
    if wave.size < 8 or np.ptp(seconds) < 0.95 / nominal_hz:
        raise NoSolutionError("less than a cycle was recorded, so that the frequency cannot be found")
    seconds = seconds - seconds.mean()
    most = int(min(MAX_ORDER, 0.45 * rate / block / nominal_hz, (wave.size - 4) // 3))

    def rest(hz: float, orders: int = most) -> float:
        angle = 2.0 * np.pi * hz * np.outer(seconds, np.arange(1, orders + 1))
        basis = np.hstack([np.ones((wave.size, 1)), np.cos(angle), np.sin(angle)])
        found = scipy.linalg.solve(basis.T @ basis, basis.T @ wave, assume_a="pos")
        return float(np.sum((wave - basis @ found) ** 2))

    row = nominal_hz * (1.0 + width * np.linspace(-1.0, 1.0, _TRIED))
    with threadpool_limits(limits=1, user_api="blas"):
        best = int(np.argmin([rest(float(hz), min(most, _FIRST_ORDERS)) for hz in row]))
        if best in (0, _TRIED - 1):
            raise NoSolutionError(f"no frequency from {row[0]:g} to {row[-1]:g} Hz fits the samples")
        step = row[1] - row[0]
        found = scipy.optimize.minimize_scalar(
            lambda offset: rest(row[best] + offset),
            bounds=(-step, step),
            method="bounded",
            options={"xatol": 1e-11},
        )
    return float(row[best] + found.x)
