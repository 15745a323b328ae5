"""Impedances as rational functions of s, and their partial fractions, which the kernels integrate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numpy.polynomial import polynomial as poly

from xlcalc.core.errors import InputError

ComplexArray = npt.NDArray[np.complex128]
FloatArray = npt.NDArray[np.float64]
Coefficients = tuple[float, ...]

_REAL = 1e-9


@dataclass(frozen=True)
class ImpedanceTerm:
    """The part ``r / (s - p)`` of an impedance together with its conjugate.

    Parameters
    ----------
    pole : complex
        rad/s; negative real part. A real pole stands for itself once: give half of its residue.
    residue : complex
        ohm rad/s.
    """

    pole: complex
    residue: complex

    def __post_init__(self) -> None:
        if not (np.isfinite(self.pole) and self.pole.real < 0.0):
            raise InputError("pole", self.pole, "a finite value with negative real part, rad/s")
        if not np.isfinite(self.residue):
            raise InputError("residue", self.residue, "a finite value, ohm rad/s")

    def at(self, s: npt.ArrayLike) -> ComplexArray:
        """Impedance at complex frequencies, ohm."""
        points = np.asarray(s, np.complex128)
        own = self.residue / (points - self.pole) + np.conj(self.residue) / (points - np.conj(self.pole))
        return np.asarray(own, np.complex128)


class SeriesImpedance(NamedTuple):
    """Resistance, inductance and partial fractions in series: ohm and H, or both per unit."""

    resistance: float
    inductance: float
    terms: tuple[ImpedanceTerm, ...] = ()

    def at(self, s: npt.ArrayLike) -> ComplexArray:
        """Impedance at complex frequencies, ohm."""
        points = np.asarray(s, np.complex128)
        total = self.resistance + points * self.inductance
        for term in self.terms:
            total = total + term.at(points)
        return np.asarray(total, np.complex128)

    @property
    def rational(self) -> Rational:
        total = Rational.series_branch(self.resistance, self.inductance)
        for term in self.terms:
            p, r = term.pole, term.residue
            total += (
                Rational((-2.0 * (r * p.conjugate()).real, 2.0 * r.real), (abs(p) ** 2, -2.0 * p.real, 1.0))
                if p.imag
                else Rational((2.0 * r.real,), (-p.real, 1.0))
            )
        return total


@dataclass(frozen=True)
class Rational:
    """Quotient of two real polynomials in s, coefficients in ascending order."""

    above: Coefficients
    below: Coefficients = (1.0,)

    @classmethod
    def series_branch(cls, resistance: float, inductance: float, capacitance: float = 0.0) -> Rational:
        """R, L and C in series; capacitance 0 leaves the capacitor out."""
        if capacitance == 0.0:
            return cls((resistance, inductance))
        return cls((1.0, resistance * capacitance, inductance * capacitance), (0.0, capacitance))

    def __add__(self, other: Rational) -> Rational:
        across = poly.polyadd(poly.polymul(self.above, other.below), poly.polymul(other.above, self.below))
        return Rational(tuple(across), tuple(poly.polymul(self.below, other.below)))

    def parallel(self, other: Rational) -> Rational:
        below = poly.polyadd(poly.polymul(self.above, other.below), poly.polymul(other.above, self.below))
        return Rational(tuple(poly.polymul(self.above, other.above)), tuple(below))

    def at(self, s: npt.ArrayLike) -> ComplexArray:
        points = np.asarray(s, np.complex128)
        return np.asarray(poly.polyval(points, self.above) / poly.polyval(points, self.below), np.complex128)

    def partial_fractions(self) -> SeriesImpedance:
        """The same in series parts; all poles are taken as simple.

        Raises
        ------
        InputError
            It rises faster than an inductance at high frequency, or has a pole without damping.
        """
        below = np.asarray(poly.polytrim(self.below), float)
        above = np.asarray(poly.polytrim(self.above), float)
        whole, rest = _divided(above, below)
        if np.any(whole[2:]):
            raise InputError("impedance", float(whole[2:].max()), "none that rises faster than an inductance")
        slope = poly.polyder(below)
        terms = []
        for pole in poly.polyroots(below) if below.size > 1 else ():
            residue = complex(poly.polyval(pole, rest) / poly.polyval(pole, slope))
            if abs(pole.imag) <= _REAL * abs(pole):
                terms.append(ImpedanceTerm(complex(pole.real), complex(0.5 * residue.real)))
            elif pole.imag > 0.0:
                terms.append(ImpedanceTerm(complex(pole), residue))
        return SeriesImpedance(float(whole[0]), float(whole[1]), tuple(terms))


def _divided(above: FloatArray, below: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Quotient, of two coefficients or more, and remainder."""
    if below.size == 1:
        return np.append(above / below[0], np.zeros(2)), np.zeros(1)
    whole, rest = poly.polydiv(above, below)
    return np.append(whole, np.zeros(2)), np.asarray(rest, float)
