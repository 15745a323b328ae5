"""The elements of a plant, in volts, volt-amperes and ohms.

Impedances are per phase, positive sequence, with reactance proportional to the order; the negative sequence
is the same for these static elements. Resistance is constant unless a resistance exponent says otherwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import ComplexArray

LEAST_X_OVER_R, MAX_X_OVER_R = 0.1, 1000.0


@dataclass(frozen=True)
class Utility:
    """The public supply as an EMF behind its short-circuit impedance.

    Parameters
    ----------
    volts : float
        Nominal line-to-line rms voltage, above 0 V.
    short_circuit_va : float
        Three-phase short-circuit level, above 0 VA.
    x_over_r : float
        Reactance over resistance at the fundamental, 0.1 to 1000.
    background : tuple of (int, float, float)
        Harmonic distortion that is present without the plant: order (2 to 50, each once), percent of the
        nominal voltage (0 to 30 %), angle in degrees of the phase-a cosine. Triplens count in
        the voltage of the buses that zero sequence reaches; they do not act on the drives.
    unbalance_pct, unbalance_deg : float
        Negative-sequence fundamental voltage, 0 to 20 % of nominal, and its angle in phase a.
    least_va : float, optional
        Least three-phase short-circuit level, up to `short_circuit_va`, where verdicts have to hold for both.
    unknown : frozenset of int, optional
        Orders whose level nobody has measured, 1 being the unbalance: they count as zero here, and a verdict
        has to try another level too. None takes all of them where no background is given, and the unbalance
        where it is zero; an empty set says that what is zero is known to be zero.

    Raises
    ------
    InputError
        A field is outside its range.
    """

    volts: float
    short_circuit_va: float
    x_over_r: float = 10.0
    background: tuple[tuple[int, float, float], ...] = ()
    unbalance_pct: float = 0.0
    unbalance_deg: float = 0.0
    unknown: frozenset[int] | None = None
    least_va: float | None = None

    def __post_init__(self) -> None:
        number("volts", self.volts, unit="V", above=0)
        number("short_circuit_va", self.short_circuit_va, unit="VA", above=0)
        if self.least_va is not None:
            number("least_va", self.least_va, unit="VA", above=0, most=self.short_circuit_va)
        number("x_over_r", self.x_over_r, least=LEAST_X_OVER_R, most=MAX_X_OVER_R)
        number("unbalance_pct", self.unbalance_pct, unit="%", least=0, most=20)
        number("unbalance_deg", self.unbalance_deg, unit="degrees")
        seen: set[int] = set()
        for order, pct, deg in self.background:
            h = whole_number("background order", order, least=2, most=50)
            if h in seen:
                raise InputError("background order", order, "each order once")
            seen.add(h)
            number(f"background pct of order {h}", pct, unit="%", least=0, most=30)
            number(f"background deg of order {h}", deg, unit="degrees")

    def is_unknown(self, order: int) -> bool:
        """Whether the level of this order, 1 being the unbalance, counts as zero without being known."""
        level = self.unbalance_pct if order == 1 else sum(pct for h, pct, _ in self.background if h == order)
        if level:
            return False
        if self.unknown is not None:
            return order in self.unknown
        return order == 1 or not self.background

    def impedance(self, orders: npt.ArrayLike, resistance_exponent: float = 0.0) -> ComplexArray:
        """Ohm per phase at the given orders (any shape)."""
        ohms = self.volts**2 / self.short_circuit_va
        return split_impedance(ohms, self.x_over_r, orders, resistance_exponent)


@dataclass(frozen=True)
class Transformer:
    """A two-winding transformer.

    Parameters
    ----------
    rating_va : float
        Rated power, above 0 VA.
    impedance_pct : float
        Short-circuit impedance, above 0 to 50 %.
    x_over_r : float
        Reactance over resistance, 0.1 to 1000.
    primary_volts, secondary_volts : float
        Rated line-to-line rms voltages, above 0 V.
    phase_shift_deg : float
        Angle by which the secondary voltage leads the primary (positive sequence): 0 for Dd0 and Yy0, -30
        for Dy1, 30 for Dy11, any angle of polygon, zigzag and extended-delta windings. From -180 to 180
        degrees.

    Raises
    ------
    InputError
        A field is outside its range.
    """

    rating_va: float
    impedance_pct: float
    x_over_r: float
    primary_volts: float
    secondary_volts: float
    phase_shift_deg: float = 0.0

    def __post_init__(self) -> None:
        number("rating_va", self.rating_va, unit="VA", above=0)
        number("impedance_pct", self.impedance_pct, unit="%", above=0, most=50)
        number("x_over_r", self.x_over_r, least=LEAST_X_OVER_R, most=MAX_X_OVER_R)
        number("primary_volts", self.primary_volts, unit="V", above=0)
        number("secondary_volts", self.secondary_volts, unit="V", above=0)
        number("phase_shift_deg", self.phase_shift_deg, unit="degrees", least=-180, most=180)

    @property
    def ratio(self) -> float:
        """Primary over secondary voltage."""
        return self.primary_volts / self.secondary_volts

    @property
    def even_clock(self) -> bool:
        """False where the shift is no even multiple of 30 degrees: there is a delta, zigzag or polygon."""
        return self.phase_shift_deg % 60.0 == 0.0

    def impedance(self, orders: npt.ArrayLike, resistance_exponent: float = 0.0) -> ComplexArray:
        """Ohm per phase on the secondary side at the given orders (any shape)."""
        base = self.secondary_volts**2 / self.rating_va
        return split_impedance(self.impedance_pct / 100.0 * base, self.x_over_r, orders, resistance_exponent)


def split_impedance(
    ohms: float, x_over_r: float, orders: npt.ArrayLike, resistance_exponent: float = 0.0
) -> ComplexArray:
    """``R h^a + j h X`` of an impedance given by its magnitude at the fundamental and its X/R.

    Parameters
    ----------
    ohms : float
        Magnitude at the fundamental.
    x_over_r : float
    orders : array_like of float, shape (h,) or a number
    resistance_exponent : float
        The exponent a; 0 is a constant resistance.

    Returns
    -------
    array of complex
        Ohm, of the shape of `orders`.

    Examples
    --------
    >>> complex(split_impedance(5.0, 0.75, 1))
    (4+3j)
    """
    resistance = ohms / math.hypot(1.0, x_over_r)
    return series_impedance(resistance, resistance * x_over_r, orders, resistance_exponent)


def series_impedance(
    resistance: float, reactance: float, orders: npt.ArrayLike, resistance_exponent: float = 0.0
) -> ComplexArray:
    """``R h^a + j h X``: a = 0 is a constant resistance, 0.5 full skin effect, 1 a constant X/R.

    Examples
    --------
    >>> complex(series_impedance(1.0, 2.0, 4, 0.5))
    (2+8j)
    """
    h = np.asarray(orders, dtype=float)
    return np.asarray(resistance * h**resistance_exponent + 1j * h * reactance, dtype=np.complex128)
