"""Spectrum of a short capture by whole cycles, and the groups of the first window of a longer one."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice
from typing import Final

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, FloatArray, ListedSpectrum
from xlcalc.measurement import frequency
from xlcalc.measurement.line_fit import fitted_lines
from xlcalc.measurement.recording import VOLTAGE, Channel, Recording
from xlcalc.measurement.resampling import highest_share
from xlcalc.measurement.windows import END, Window, windows

_FEW_CYCLES: Final = 15


@dataclass(frozen=True)
class Capture:
    """Spectrum of whole cycles.

    Parameters
    ----------
    spectrum : ListedSpectrum
        rms phasors; angles against the first sample. Orders above 0.9 of the Nyquist frequency are not given.
    hz : float
        Fundamental frequency.
    cycles : int
        Whole cycles that were used, from the first sample on.
    """

    spectrum: ListedSpectrum
    hz: float
    cycles: int


def whole_cycles(samples: FloatArray, rate: float, hz: float | None = None) -> Capture:
    """Spectrum of all whole cycles of a row of samples, by least squares.

    Where the samples divide the cycles evenly this is the discrete Fourier transform.

    Parameters
    ----------
    samples : array of float, shape (n,)
        One cycle or more.
    rate : float
        Samples per second, above 0; 6 in a cycle or more.
    hz : float, optional
        Fundamental frequency; found near 50 or 60 Hz unless given.

    Raises
    ------
    InputError
        Samples that are not finite, or an argument outside its range.
    NoSolutionError
        Less than a cycle, or no frequency fits.

    Examples
    --------
    Two cycles of a cosine of 10 with a third of 2, 20 samples each (by hand: 10 and 2 over the root of 2)

    >>> angle = 2 * np.pi * np.arange(40) / 20
    >>> found = whole_cycles(10 * np.cos(angle) + 2 * np.cos(3 * angle), 1000.0, 50.0)
    >>> found.cycles, found.spectrum.magnitude[[0, 2]].round(6).tolist()
    (2, [7.071068, 1.414214])
    """
    per_second = number("rate", rate, unit="samples per second", above=0)
    wave = np.asarray(samples, dtype=float)
    if wave.ndim != 1 or not np.all(np.isfinite(wave)):
        raise InputError("samples", "no row of finite numbers", "one finite number per sample")
    base = _frequency(wave, per_second) if hz is None else number("hz", hz, unit="Hz", above=0)
    length = per_second / base
    cycles = int(wave.size / length + END)
    order = int(min(MAX_ORDER, highest_share() * length))
    if order < 2:
        valid = f"{2.0 * base / highest_share():.6g} samples per second or more for order 2"
        raise InputError("samples_per_second", per_second, valid)
    used = wave[: round(cycles * length)]
    if cycles < 1 or used.size < 2 * order + 1:
        raise NoSolutionError(f"{wave.size} samples are less than a cycle of {base:g} Hz")
    lines = fitted_lines(used[:, None], 0.0, order, length)[0]
    phasors = np.zeros(MAX_ORDER, dtype=np.complex128)
    phasors[:order] = lines[1:]
    return Capture(ListedSpectrum(phasors, frozenset(range(1, order + 1))), base, cycles)


def first_window(samples: FloatArray, rate: float, hz: float | None = None) -> Window:
    """The first window of IEC 61000-4-7 in a row of samples.

    Parameters and errors as in `whole_cycles`, but that `hz` lies near 50 or 60.

    Raises
    ------
    NoSolutionError
        The samples are shorter than a window.
    """
    if hz is not None:
        number("hz", hz, unit="Hz", least=42.5, most=69.0)
    channel = Channel("samples", VOLTAGE)
    wave = np.asarray(samples, dtype=float)
    recording = Recording(samples=wave[:, None], rate=number("rate", rate, above=0), channels=(channel,))
    window = next(islice(windows(recording, hz=hz), 1))
    if window.short:
        needed = "10 cycles at 50 Hz, 12 at 60 Hz"
        raise NoSolutionError(f"the samples hold {window.cycles} whole cycles; a window has {needed}")
    return window


def _frequency(wave: FloatArray, rate: float) -> float:
    nominal = frequency.nominal_frequency(wave, rate)
    cycles = wave.size * nominal / rate
    if cycles < _FEW_CYCLES:
        return frequency.fitted_frequency(wave, rate, nominal)
    tracked = frequency.cycle_frequencies(wave, rate, nominal)
    if not np.isfinite(tracked).any():
        raise NoSolutionError(f"the samples have no fundamental near {nominal:g} Hz")
    return frequency.fitted_frequency(wave, rate, float(np.nanmedian(tracked)), 0.5 / cycles)
