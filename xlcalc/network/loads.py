"""Loads and generators as a harmonic sees them, and as the fundamental does.

Next to a resonance the load model decides the result. In the IEEE PES 13-bus system, whose capacitor bank
resonates at order 7.05, parallel R and L reproduce the published 7th; with series R-L or with no load at all
the same 7th is six to seven times as large. The model is therefore an explicit input.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from xlcalc.checks import number
from xlcalc.errors import InputError
from xlcalc.network.elements import MAX_X_OVER_R, split_impedance
from xlcalc.spectrum import ComplexArray


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
        Of the locked-rotor impedance, above 0; 5 is common practice (no source).
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
        number(f"x_over_r of {self.name}", self.x_over_r, above=0, most=MAX_X_OVER_R)
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
        Above 0.
    watts, var : float
        Output in parallel with the utility, W and var delivered to the bus. A generator that feeds the plant
        alone holds its terminal voltage instead.

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

    def __post_init__(self) -> None:
        number(f"rating_va of {self.name}", self.rating_va, unit="VA", above=0)
        number(f"rated_volts of {self.name}", self.rated_volts, unit="V", above=0)
        number(f"subtransient_pct of {self.name}", self.subtransient_pct, unit="%", above=0, most=100)
        number(f"x_over_r of {self.name}", self.x_over_r, above=0, most=MAX_X_OVER_R)
        number(f"watts of {self.name}", self.watts, unit="W", least=0)
        number(f"var of {self.name}", self.var, unit="var")

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
