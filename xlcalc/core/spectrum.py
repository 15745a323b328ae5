"""Spectra of periodic quantities: complex rms phasors by order, and the figures of merit computed from them.

Phasor convention: ``x(t) = sum over h of sqrt(2) |X_h| cos(h w t + arg X_h)``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import InputError

MAX_ORDER = 50

ComplexArray = npt.NDArray[np.complex128]
FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Spectrum:
    """One phase of a periodic current or voltage.

    Parameters
    ----------
    phasors : array of complex, shape (n,)
        rms phasors of orders 1..n, in amperes, volts or per unit.
    """

    phasors: ComplexArray

    def __post_init__(self) -> None:
        values = np.array(self.phasors, dtype=np.complex128)
        if values.ndim != 1 or values.size == 0:
            raise InputError("phasors", f"an array of shape {values.shape}", "one row of orders 1..n")
        if not np.all(np.isfinite(values)):
            raise InputError("phasors", "not finite", "finite numbers")
        values.setflags(write=False)
        object.__setattr__(self, "phasors", values)

    @classmethod
    def from_polar(cls, magnitude: npt.ArrayLike, angle_deg: npt.ArrayLike) -> Spectrum:
        """Spectrum from rms magnitudes and angles in degrees, both for orders 1..n."""
        return cls(np.asarray(magnitude, dtype=float) * np.exp(1j * np.radians(np.asarray(angle_deg, float))))

    @classmethod
    def from_orders(cls, values: Iterable[tuple[int, complex]], max_order: int = MAX_ORDER) -> Spectrum:
        """Spectrum that is zero except at the given (order, phasor) pairs."""
        phasors = np.zeros(max_order, dtype=np.complex128)
        for order, value in values:
            if not 1 <= order <= max_order:
                raise InputError("order", order, f"1 to {max_order}")
            phasors[order - 1] = value
        return cls(phasors)

    @property
    def max_order(self) -> int:
        return int(self.phasors.size)

    @cached_property
    def orders(self) -> npt.NDArray[np.int64]:
        return np.arange(1, self.max_order + 1)

    @cached_property
    def magnitude(self) -> FloatArray:
        """rms magnitude by order."""
        return np.abs(self.phasors)

    @property
    def angle_deg(self) -> FloatArray:
        """Angle by order in degrees, -180 to 180; 0 where the magnitude is zero to rounding."""
        floor = 1e-12 * max(float(self.magnitude.max()), np.finfo(float).tiny)
        return np.where(self.magnitude > floor, np.degrees(np.angle(self.phasors)), 0.0)

    @property
    def fundamental(self) -> float:
        return float(self.magnitude[0])

    @property
    def percent(self) -> FloatArray:
        """Magnitude by order in percent of the fundamental."""
        return 100.0 * self.magnitude / self._fundamental_or_raise()

    @property
    def harmonic_rms(self) -> float:
        """Root sum square of orders 2..n."""
        return float(np.sqrt(np.sum(self.magnitude[1:] ** 2)))

    @property
    def neutral_amps(self) -> float:
        """Neutral current of three such phases a third of a cycle apart: three times orders 3, 6, 9, ..."""
        return 3.0 * float(np.linalg.norm(self.magnitude[2::3]))

    @property
    def rms(self) -> float:
        return float(np.sqrt(np.sum(self.magnitude**2)))

    @property
    def thd_pct(self) -> float:
        """Total harmonic distortion, percent of the fundamental, orders 2..n."""
        return 100.0 * self.harmonic_rms / self._fundamental_or_raise()

    def tdd_pct(self, demand: float) -> float:
        """Total demand distortion: orders 2..n in percent of the maximum demand current (IEEE 519)."""
        if not (np.isfinite(demand) and demand > 0):
            raise InputError("demand", demand, "a current above 0 A")
        return 100.0 * self.harmonic_rms / demand

    @property
    def loss_factor(self) -> float:
        """Harmonic loss factor F_HL = sum(I_h^2 h^2) / sum(I_h^2) of IEEE C57.110.

        Examples
        --------
        The example spectrum of IEEE C57.110 (recalled, not read in a licensed copy) gives 2.72:

        >>> pairs = [(1, 0.978), (5, 0.171), (7, 0.108), (11, 0.044), (13, 0.028), (17, 0.015), (19, 0.0098)]
        >>> round(Spectrum.from_orders(pairs).loss_factor, 4)
        2.7243
        """
        squares = self.magnitude**2
        total = float(np.sum(squares))
        if total == 0.0:
            raise InputError("spectrum", "all zero", "at least one order above zero")
        return float(np.sum(squares * self.orders**2)) / total

    def k_factor(self, rated_rms: float | None = None) -> float:
        """K-factor of UL 1561: sum((I_h / I_R)^2 h^2), I_R the rated rms current.

        Without `rated_rms` the transformer is taken to carry its rated rms current, and K equals F_HL.
        """
        if rated_rms is None:
            return self.loss_factor
        if not (np.isfinite(rated_rms) and rated_rms > 0):
            raise InputError("rated_rms", rated_rms, "a current above 0 A")
        return float(np.sum((self.magnitude / rated_rms) ** 2 * self.orders**2))

    def scaled(self, factor: complex) -> Spectrum:
        return Spectrum(self.phasors * factor)

    def rotated(self, shift_deg: float) -> Spectrum:
        """The waveform earlier by `shift_deg` degrees of the fundamental: order h turns by h times that."""
        return Spectrum(self.phasors * np.exp(1j * self.orders * np.radians(shift_deg)))

    def samples(self, count: int) -> FloatArray:
        """The waveform at `count` equally spaced instants of one cycle, starting at w t = 0."""
        if count < 1:
            raise InputError("count", count, "1 or more")
        if count > 2 * self.max_order:
            bins = np.zeros(count // 2 + 1, dtype=np.complex128)
            bins[1 : self.max_order + 1] = self.phasors * (count / np.sqrt(2.0))
            return np.asarray(np.fft.irfft(bins, count), dtype=np.float64)
        angle = 2.0 * np.pi * np.arange(count) / count
        phase = np.exp(1j * np.outer(angle, self.orders))
        samples: FloatArray = np.sqrt(2.0) * np.real(phase @ self.phasors)
        return samples

    def _fundamental_or_raise(self) -> float:
        if self.fundamental == 0.0:
            raise InputError("spectrum", "without a fundamental", "a fundamental above zero")
        return self.fundamental


@dataclass(frozen=True)
class ListedSpectrum(Spectrum):
    """A spectrum of which some orders were given only; the phasors of the others are zero.

    Figures of merit are those of the orders given.

    Parameters
    ----------
    given : frozenset of int
        Orders that were given.
    """

    given: frozenset[int] = frozenset()

    @property
    def listed_magnitude(self) -> FloatArray:
        """rms magnitude by order; NaN where the order was not given."""
        given = np.isin(self.orders, list(self.given))
        return np.where(given, self.magnitude, np.nan)


def phasor_sum(spectra: Sequence[Spectrum]) -> Spectrum:
    """Sum of spectra with their angles; shorter spectra count as zero above their last order."""
    if not spectra:
        raise InputError("spectra", "empty", "one spectrum or more")
    total = np.zeros(max(s.max_order for s in spectra), dtype=np.complex128)
    for spectrum in spectra:
        total[: spectrum.max_order] += spectrum.phasors
    return Spectrum(total)
