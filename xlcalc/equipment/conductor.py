"""Conductors under harmonic current: skin and proximity effect, permitted current, added loss."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray, Spectrum


def skin_ratio(radius_over_depth: npt.ArrayLike) -> FloatArray:
    """Resistance of a solid round conductor at a frequency over its direct-current resistance.

    ``Re[(k a / 2) J_0(k a) / J_1(k a)]`` with ``k a = (1 - j) a / delta``; exact for an isolated non-magnetic
    round wire.

    Parameters
    ----------
    radius_over_depth : array of float
        a/delta, radius over skin depth, 0 or more.

    Returns
    -------
    array of float
        1 or more, of the same shape.

    Raises
    ------
    InputError
        A negative number or one that is not finite.

    Examples
    --------
    The table of handbooks, by ``sqrt2 a/delta`` = 1, 2, 3, 4 (recalled: 1.00519, 1.07816, 1.31809, 1.67787):

    >>> [round(float(r), 5) for r in skin_ratio(np.array([1, 2, 3, 4]) / math.sqrt(2.0))]
    [1.00519, 1.07816, 1.31809, 1.67787]
    """
    from scipy.special import jve

    ratio = np.asarray(radius_over_depth, dtype=float)
    if not np.all(np.isfinite(ratio)) or np.any(ratio < 0.0):
        raise InputError("radius_over_depth", radius_over_depth, "0 or more")
    ka = (1.0 - 1.0j) * np.maximum(ratio, 1e-6)
    exact = np.real(ka / 2.0 * jve(0, ka) / jve(1, ka))
    return np.asarray(np.maximum(exact, 1.0), dtype=np.float64)


@dataclass(frozen=True)
class Conductor:
    """One of three round conductors of a three-phase circuit.

    Parameters
    ----------
    ohm_per_m : float
        Direct-current resistance at operating temperature, above 0 ohm/m.
    diameter_m : float, optional
        Conductor diameter, above 0 m; None leaves the proximity effect out.
    spacing_m : float, optional
        Distance between conductor axes, at least the diameter; None leaves the proximity effect out.

    Raises
    ------
    InputError
        A field is outside its range, or only one of diameter and spacing is given.
    """

    ohm_per_m: float
    diameter_m: float | None = None
    spacing_m: float | None = None

    def __post_init__(self) -> None:
        number("ohm_per_m", self.ohm_per_m, unit="ohm/m", above=0)
        given = (self.diameter_m is not None, self.spacing_m is not None)
        if given[0] != given[1]:
            name = "spacing_m" if given[0] else "diameter_m"
            raise InputError(name, None, "a value, because the other of diameter and spacing is given")
        if self.diameter_m is not None and self.spacing_m is not None:
            number("diameter_m", self.diameter_m, unit="m", above=0)
            number("spacing_m", self.spacing_m, unit="m", least=self.diameter_m)

    def resistance_ratio(self, hz: npt.ArrayLike) -> FloatArray:
        """Resistance at a frequency over the direct-current resistance, 1 or more.

        Skin effect of a solid round conductor of the same resistance: ``(a/delta)^2 = mu0 f / R``. Proximity
        effect after Neher and McGrath (1957; form recalled, not read):
        ``F (d/s)^2 (1.18 / (F + 0.27) + 0.312 (d/s)^2)`` with F the skin ratio less one. Stranding
        lowers both; taking the conductor as solid is on the safe side.

        Parameters
        ----------
        hz : array of float
            Frequencies, 0 Hz or more.

        Raises
        ------
        InputError
            A negative frequency or one that is not finite.
        """
        frequency = np.asarray(hz, dtype=float)
        if not np.all(np.isfinite(frequency)) or np.any(frequency < 0.0):
            raise InputError("hz", hz, "0 Hz or more")
        skin = skin_ratio(np.sqrt(4e-7 * math.pi * frequency / self.ohm_per_m)) - 1.0
        if self.diameter_m is None or self.spacing_m is None:
            return 1.0 + skin
        near = (self.diameter_m / self.spacing_m) ** 2
        return np.asarray(1.0 + skin + skin * near * (1.18 / (skin + 0.27) + 0.312 * near))

    def permitted_pct(self, current: Spectrum, hz: float) -> float:
        """rms current with the loss of a rated fundamental current, percent of that current.

        Parameters
        ----------
        current : Spectrum
            Load current in any unit; only its shape counts.
        hz : float
            Fundamental frequency, above 0 to 1000 Hz.

        Raises
        ------
        InputError
            An argument is outside its range, or the spectrum is all zero.
        """
        squares = current.magnitude**2
        total = float(np.sum(squares))
        if total == 0.0:
            raise InputError("current", "all zero", "at least one order above zero")
        ratios = self._ratios(current, hz)
        return 100.0 * math.sqrt(float(ratios[0]) * total / float(np.sum(squares * ratios)))

    def added_watts(self, current_amps: Spectrum, hz: float, metres: float) -> float:
        """Loss that the harmonics add in the three phase conductors, W.

        ``3 R l sum over h >= 2 of r_h I_h^2``, r_h the ratio of `resistance_ratio`.

        Parameters
        ----------
        current_amps : Spectrum
            Current of one phase, A; the other phases carry the same.
        hz : float
            Fundamental frequency, above 0 to 1000 Hz.
        metres : float
            Length of the circuit, 0 m or more.

        Raises
        ------
        InputError
            An argument is outside its range.
        """
        length = number("metres", metres, unit="m", least=0)
        ratios = self._ratios(current_amps, hz)
        harmonic = float(np.sum(ratios[1:] * current_amps.magnitude[1:] ** 2))
        return 3.0 * self.ohm_per_m * length * harmonic

    def _ratios(self, current: Spectrum, hz: float) -> FloatArray:
        return self.resistance_ratio(number("hz", hz, unit="Hz", above=0, most=1000) * current.orders)
