"""Loads and generators as a harmonic sees them, and as the fundamental does.

Next to a resonance the load model decides the result. In the IEEE PES 13-bus system, whose capacitor bank
resonates at order 7.05, parallel R and L reproduce the published 7th; with series R-L or with no load at all
the same 7th is six to seven times as large. The model is therefore an explicit input.

A load with a spectrum of its own keeps its watts and vars at the fundamental; every harmonic is a current
source in a fixed ratio to the fundamental current, turned with the fundamental voltage of the bus. What the
load would draw on a distorted voltage is not in a table, so that its current does not answer the voltages
that the plant makes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray
from xlcalc.network.elements import LEAST_X_OVER_R, MAX_X_OVER_R, split_impedance
from xlcalc.network.sequence import natural_sequence

MOST_PCT = 300.0
"""Of one harmonic over the fundamental; an arc furnace and a lamp stay far below."""


class LoadModel(StrEnum):
    """What a static load is to harmonics."""

    PARALLEL = "parallel"
    """R and L side by side: R takes the watts, L the vars. Damps most."""
    SERIES = "series"
    """R and L in series, of the same watts and vars: hardly damps above the fundamental."""
    NONE = "none"
    """Open for harmonics."""


@dataclass(frozen=True)
class StaticLoad:
    """A load with given watts and vars at nominal voltage.

    Parameters
    ----------
    name : str
        Once per plant.
    bus : str
        Bus that feeds it.
    watts, var : float
        At the nominal voltage of the bus; watts 0 or more, vars lagging if positive; not both 0.
    model : LoadModel
        Parallel R and L (default), series R-L, or none. A leading load has its R and C in the place.
    constant_power : bool
        At the fundamental the load keeps its watts and vars at any voltage; otherwise its impedance.

    Raises
    ------
    InputError
        A field is outside its range.
    """

    name: str
    bus: str
    watts: float
    var: float = 0.0
    model: LoadModel = LoadModel.PARALLEL
    constant_power: bool = False

    def __post_init__(self) -> None:
        number(f"watts of {self.name}", self.watts, unit="W", least=0)
        number(f"var of {self.name}", self.var, unit="var")
        if self.watts == 0.0 and self.var == 0.0:
            raise InputError(f"watts of {self.name}", 0.0, "watts or vars other than 0")
        try:
            object.__setattr__(self, "model", LoadModel(self.model))
        except ValueError:
            valid = "one of " + ", ".join(LoadModel)
            raise InputError(f"model of {self.name}", self.model, valid, wrong_kind=True) from None

    @property
    def power(self) -> complex:
        """Drawn at the fundamental, VA."""
        return complex(self.watts, self.var)

    def admittance(
        self, volts: float, orders: npt.ArrayLike, resistance_exponent: float = 0.0
    ) -> ComplexArray:
        """Per phase at harmonic orders, siemens; `volts` is the nominal voltage of the bus."""
        h = np.asarray(orders, dtype=float)
        reactive = h ** (-1.0 if self.var >= 0.0 else 1.0)
        if self.model is LoadModel.NONE:
            return np.zeros(h.shape, np.complex128)
        if self.model is LoadModel.PARALLEL:
            return np.asarray((self.watts - 1j * self.var * reactive) / volts**2, np.complex128)
        ohms = volts**2 / np.conj(self.power)
        return np.asarray(1.0 / (ohms.real + 1j * ohms.imag / reactive), np.complex128)


@dataclass(frozen=True)
class MotorLoad:
    """Directly connected motors: at the fundamental a constant power, for harmonics their locked-rotor
    impedance, because the slip against a harmonic field is close to one.

    Parameters
    ----------
    name : str
        Once per plant.
    bus : str
        Bus that feeds it.
    watts : float
        Electrical input at the fundamental, above 0 W.
    power_factor : float
        At that input, lagging, above 0 to 1.
    starting_ratio : float
        Locked-rotor current over rated current, 1 to 15; 6 is common practice (no source).
    x_over_r : float
        Of the locked-rotor impedance, 0.1 to 1000; 5 is common practice (no source).
    rated_va : float, optional
        Rated apparent power; None takes the running one.

    Raises
    ------
    InputError
        A field is outside its range.
    """

    name: str
    bus: str
    watts: float
    power_factor: float = 0.85
    starting_ratio: float = 6.0
    x_over_r: float = 5.0
    rated_va: float | None = None

    def __post_init__(self) -> None:
        number(f"watts of {self.name}", self.watts, unit="W", above=0)
        number(f"power_factor of {self.name}", self.power_factor, above=0, most=1)
        number(f"starting_ratio of {self.name}", self.starting_ratio, least=1, most=15)
        number(f"x_over_r of {self.name}", self.x_over_r, least=LEAST_X_OVER_R, most=MAX_X_OVER_R)
        if self.rated_va is not None:
            number(f"rated_va of {self.name}", self.rated_va, unit="VA", above=0)

    constant_power = True

    @property
    def power(self) -> complex:
        """Drawn at the fundamental, VA."""
        return complex(self.watts, self.watts * math.tan(math.acos(self.power_factor)))

    def impedance(
        self, volts: float, orders: npt.ArrayLike, resistance_exponent: float = 0.0
    ) -> ComplexArray:
        """Locked-rotor impedance per phase, ohm; `volts` is the nominal voltage of the bus."""
        rated = self.rated_va if self.rated_va is not None else abs(self.power)
        return split_impedance(
            volts**2 / (rated * self.starting_ratio), self.x_over_r, orders, resistance_exponent
        )

    def admittance(
        self, volts: float, orders: npt.ArrayLike, resistance_exponent: float = 0.0
    ) -> ComplexArray:
        return np.asarray(1.0 / self.impedance(volts, orders, resistance_exponent), np.complex128)


@dataclass(frozen=True)
class HarmonicCurrent:
    """One order of a load.

    Parameters
    ----------
    order : int
        2 to 50.
    percent : float
        Of the load's fundamental current, 0 to 300.
    degrees : float, optional
        Angle with the phase-a voltage of the bus at its crest at time zero; None where it is not known.

    Raises
    ------
    InputError
        A value outside its range.
    """

    order: int
    percent: float
    degrees: float | None = None

    def __post_init__(self) -> None:
        whole_number("order", self.order, least=2, most=MAX_ORDER)
        number(f"percent of order {self.order}", self.percent, unit="%", least=0, most=MOST_PCT)
        if self.degrees is not None:
            number(f"angle of order {self.order}", self.degrees, unit="deg", least=-360, most=360)


@dataclass(frozen=True, kw_only=True)
class SpectrumLoad:
    """A balanced load with its own spectrum.

    Single-phase loads spread over the three phases count as balanced: their orders 3, 9, 15, ... are then a
    zero sequence and flow back in the neutral.

    Parameters
    ----------
    name : str
        Once per plant.
    bus : str
        Bus that feeds it.
    watts, var : float
        Fundamental, at any voltage; watts below 0 are fed back, vars lagging if positive; not both 0.
    harmonics : tuple of HarmonicCurrent
        Each order once; orders that are not listed are not drawn.
    source : str
        Where the spectrum comes from: a data sheet, a measurement, a handbook.
    complete : bool
        Whether all orders up to 50 are known, those not listed as zero. Figures take orders that are not
        listed for zero in any case; a verdict must not.

    Raises
    ------
    InputError
        A field outside its range, an order twice, no order, or a blank source.
    """

    name: str
    bus: str
    watts: float
    var: float = 0.0
    harmonics: tuple[HarmonicCurrent, ...]
    source: str
    complete: bool

    constant_power = True

    def __post_init__(self) -> None:
        number(f"watts of {self.name}", self.watts, unit="W")
        number(f"var of {self.name}", self.var, unit="var")
        if not self.power:
            raise InputError(f"watts of {self.name}", 0.0, "watts or vars other than 0")
        if not self.harmonics:
            raise InputError(f"harmonics of {self.name}", "empty", "one order or more")
        seen: set[int] = set()
        for harmonic in self.harmonics:
            if harmonic.order in seen:
                raise InputError(f"order of {self.name}", f"{harmonic.order} twice", "each order once")
            seen.add(harmonic.order)
        if not self.source.strip():
            valid = "where the spectrum comes from: data sheet, measurement, handbook"
            raise InputError(f"source of {self.name}", "", valid)

    @property
    def power(self) -> complex:
        """Drawn at the fundamental, VA."""
        return complex(self.watts, self.var)

    def admittance(
        self, volts: float, orders: npt.ArrayLike, resistance_exponent: float = 0.0
    ) -> ComplexArray:
        """Open for harmonics: a current source."""
        return np.zeros(np.shape(orders), np.complex128)

    @cached_property
    def known(self) -> ComplexArray:
        """Harmonics with an angle, phase a over the fundamental current by order; shape (50,)."""
        return self._by_order(known=True)

    @cached_property
    def unknown(self) -> FloatArray:
        """Size of the harmonics without an angle over the fundamental current by order; shape (50,)."""
        return np.asarray(np.abs(self._by_order(known=False)))

    def currents(self, fundamental_volts: complex) -> ComplexArray:
        """Positive and negative sequence on a fundamental voltage to neutral, shape (2, 50).

        Orders with a known angle, without the fundamental; angles against time zero, as those of the voltage.
        """
        orders = np.arange(1, MAX_ORDER + 1)
        amps = abs(self.power / (3.0 * fundamental_volts))
        phase = amps * self.known * np.exp(1j * orders * np.angle(fundamental_volts))
        sequence = np.array([natural_sequence(int(h)) for h in orders])
        return np.array([np.where(sequence == s, phase, 0.0) for s in (1, -1)])

    @property
    def triplen_pct(self) -> float:
        """Root sum square of orders 3, 9, 15, ... and even multiples of 3, percent of the fundamental."""
        return float(np.linalg.norm([h.percent for h in self.harmonics if h.order % 3 == 0]))

    def _by_order(self, known: bool) -> ComplexArray:
        found = np.zeros(MAX_ORDER, np.complex128)
        for harmonic in self.harmonics:
            if (harmonic.degrees is not None) == known:
                angle = np.radians(harmonic.degrees or 0.0)
                found[harmonic.order - 1] = harmonic.percent / 100.0 * np.exp(1j * angle)
        return found


@dataclass(frozen=True)
class Generator:
    """A synchronous generator: for harmonics its subtransient reactance, at the fundamental its output.

    Parameters
    ----------
    name : str
        Once per plant.
    bus : str
        Bus that it feeds.
    rating_va : float
        Rated apparent power, above 0 VA.
    rated_volts : float
        Rated line-to-line rms voltage, above 0 V.
    subtransient_pct : float
        X''d in percent of the rating, above 0 to 100 %; where X''d and X2 differ, their mean.
    x_over_r : float
        0.1 to 1000.
    watts, var : float
        Output in parallel with the utility, W and var delivered to the bus. A generator that feeds the plant
        alone holds its terminal voltage instead.
    leading_pct : float, optional
        Vars that it can take at any output (leading, underexcited), percent of the rating, 0 to 100 %; None
        where its capability curve is not known.

    Raises
    ------
    InputError
        A field is outside its range.
    """

    name: str
    bus: str
    rating_va: float
    rated_volts: float
    subtransient_pct: float
    x_over_r: float = 20.0
    watts: float = 0.0
    var: float = 0.0
    leading_pct: float | None = None

    def __post_init__(self) -> None:
        number(f"rating_va of {self.name}", self.rating_va, unit="VA", above=0)
        number(f"rated_volts of {self.name}", self.rated_volts, unit="V", above=0)
        number(f"subtransient_pct of {self.name}", self.subtransient_pct, unit="%", above=0, most=100)
        number(f"x_over_r of {self.name}", self.x_over_r, least=LEAST_X_OVER_R, most=MAX_X_OVER_R)
        number(f"watts of {self.name}", self.watts, unit="W", least=0)
        number(f"var of {self.name}", self.var, unit="var")
        if self.leading_pct is not None:
            number(f"leading_pct of {self.name}", self.leading_pct, unit="%", least=0, most=100)

    constant_power = True

    @property
    def power(self) -> complex:
        """Drawn at the fundamental, VA: the output with its sign turned."""
        return -complex(self.watts, self.var)

    @property
    def short_circuit_va(self) -> float:
        """Subtransient short-circuit level on its own terminals."""
        return self.rated_volts**2 / abs(complex(self.impedance(self.rated_volts, 1)))

    def impedance(
        self, volts: float, orders: npt.ArrayLike, resistance_exponent: float = 0.0
    ) -> ComplexArray:
        """``R + j h X''d`` per phase, ohm; `volts` is not used, the rating brings its own."""
        reactance = self.subtransient_pct / 100.0 * self.rated_volts**2 / self.rating_va
        magnitude = reactance * math.hypot(1.0, 1.0 / self.x_over_r)
        return split_impedance(magnitude, self.x_over_r, orders, resistance_exponent)

    def admittance(
        self, volts: float, orders: npt.ArrayLike, resistance_exponent: float = 0.0
    ) -> ComplexArray:
        return np.asarray(1.0 / self.impedance(volts, orders, resistance_exponent), np.complex128)
