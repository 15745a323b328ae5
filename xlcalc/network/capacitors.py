"""Shunt capacitor banks, detuned banks and filters.

Ratings are those of the capacitors: vars at their own rated voltage. Reactors and resistors follow from the
tuning. Formulas are circuit theory; the quality factors are defined beside each element.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number
from xlcalc.core.spectrum import ComplexArray, FloatArray


@dataclass(frozen=True)
class _Capacitive:
    """A capacitor to which something is connected in series.

    Parameters
    ----------
    name : str
        Once per plant.
    bus : str
        Bus that carries it.
    rated_var : float
        Reactive power of the capacitors alone at `rated_volts`, above 0 var.
    rated_volts : float
        Rated line-to-line rms voltage of the capacitors, above 0 V.
    """

    name: str
    bus: str
    rated_var: float
    rated_volts: float

    def __post_init__(self) -> None:
        number(f"rated_var of {self.name}", self.rated_var, unit="var", above=0)
        number(f"rated_volts of {self.name}", self.rated_volts, unit="V", above=0)

    @property
    def capacitor_ohms(self) -> float:
        """Reactance of the capacitor per phase (star equivalent) at the fundamental."""
        return self.rated_volts**2 / self.rated_var

    def capacitor_impedance(self, orders: npt.ArrayLike) -> ComplexArray:
        return np.asarray(-1j * self.capacitor_ohms / _orders(orders), np.complex128)

    def admittance(self, orders: npt.ArrayLike) -> ComplexArray:
        """Of the whole branch per phase, siemens."""
        return np.asarray(
            1.0 / (self.capacitor_impedance(orders) + self.series_impedance(orders)), np.complex128
        )

    def series_impedance(self, orders: npt.ArrayLike) -> ComplexArray:
        """Of everything in series with the capacitor, ohm per phase."""
        raise NotImplementedError

    def capacitor_share(self, orders: npt.ArrayLike) -> ComplexArray:
        """Voltage across the capacitor over the voltage of the bus."""
        return self.capacitor_impedance(orders) * self.admittance(orders)


@dataclass(frozen=True)
class CapacitorBank(_Capacitive):
    """Capacitors, with a series reactor where the bank is detuned.

    Parameters
    ----------
    reactor_pct : float
        Reactance of the series reactor in percent of the capacitor's at the fundamental, 0 to 50 %; 0 for a
        plain bank. The branch is tuned to order ``10 / sqrt(reactor_pct)``: 7 % to 3.78.
    reactor_xr : float
        Reactance over resistance of that reactor at the fundamental, above 0.
    loss_pct : float
        Losses of the capacitors in percent of their vars (dissipation factor), 0 to 5 %.

    Examples
    --------
    A 7 % bank looks inductive above its tuning, at the 5th:

    >>> bank = CapacitorBank("C1", "main", 300e3, 480, reactor_pct=7.0)
    >>> bool(bank.admittance(5).imag < 0 < bank.admittance(3).imag)
    True
    """

    reactor_pct: float = 0.0
    reactor_xr: float = 50.0
    loss_pct: float = 0.02

    def __post_init__(self) -> None:
        super().__post_init__()
        number(f"reactor_pct of {self.name}", self.reactor_pct, unit="%", least=0, most=50)
        number(f"reactor_xr of {self.name}", self.reactor_xr, above=0, most=1e6)
        number(f"loss_pct of {self.name}", self.loss_pct, unit="%", least=0, most=5)

    def series_impedance(self, orders: npt.ArrayLike) -> ComplexArray:
        reactor = self.reactor_pct / 100.0 * self.capacitor_ohms
        resistance = reactor / self.reactor_xr + self.loss_pct / 100.0 * self.capacitor_ohms
        return np.asarray(resistance + 1j * _orders(orders) * reactor, np.complex128)


@dataclass(frozen=True)
class _Tuned(_Capacitive):
    """A capacitive branch with a tuning.

    Parameters
    ----------
    tuned_order : float
        Order at which capacitor and reactor resonate, above 1 to 100.
    quality : float
        See the class.
    """

    tuned_order: float = 5.0
    quality: float = 50.0

    def __post_init__(self) -> None:
        super().__post_init__()
        number(f"tuned_order of {self.name}", self.tuned_order, above=1, most=100)
        number(f"quality of {self.name}", self.quality, above=0, most=1000)


@dataclass(frozen=True)
class TunedFilter(_Tuned):
    """Capacitor and reactor in series; `quality` is the reactor's ``n X_L / R`` at the tuned order n.

    Examples
    --------
    At the tuned order only the resistance is left: X_L = X_C / n^2, R = n X_L / Q.

    >>> filter_5 = TunedFilter("F5", "main", 230.4e3, 480, tuned_order=5, quality=40)
    >>> round(float((1 / filter_5.admittance(5)).real), 6), round(1.0 / (5 * 40), 6)
    (0.005, 0.005)
    """

    def series_impedance(self, orders: npt.ArrayLike) -> ComplexArray:
        reactor = self.capacitor_ohms / self.tuned_order**2
        resistance = self.tuned_order * reactor / self.quality
        return np.asarray(resistance + 1j * _orders(orders) * reactor, np.complex128)


@dataclass(frozen=True)
class DampedFilter(_Tuned):
    """Second-order high-pass filter: the reactor has a resistor in parallel; `quality` is ``R / (n X_L)``.

    Common practice is a quality of 0.5 to 5 (no source).
    """

    quality: float = 2.0

    def series_impedance(self, orders: npt.ArrayLike) -> ComplexArray:
        reactor = self.capacitor_ohms / self.tuned_order**2
        resistor = self.quality * self.tuned_order * reactor
        coil = 1j * _orders(orders) * reactor
        return np.asarray(coil * resistor / (coil + resistor), np.complex128)


@dataclass(frozen=True)
class CTypeFilter(_Tuned):
    """C-type filter: the damping resistor is bypassed at the fundamental by a reactor with its own capacitor.

    Main capacitor in series with (reactor + auxiliary capacitor) parallel to a resistor. Reactor and
    auxiliary capacitor resonate at the fundamental, the whole filter at the tuned order:
    ``X_L = X_C / (n^2 - 1)``. `quality` is ``R / (n X_L)``.

    Examples
    --------
    No loss at the fundamental:

    >>> damper = CTypeFilter("FC", "main", 230.4e3, 480, tuned_order=3, quality=2)
    >>> abs(complex(damper.admittance(1)).real) < 1e-9
    True
    """

    quality: float = 2.0

    def series_impedance(self, orders: npt.ArrayLike) -> ComplexArray:
        h = _orders(orders)
        reactor = self.capacitor_ohms / (self.tuned_order**2 - 1.0)
        resistor = self.quality * self.tuned_order * reactor
        bypass = 1j * reactor * (h - 1.0 / h)
        return np.asarray(bypass * resistor / (bypass + resistor), np.complex128)


@dataclass(frozen=True)
class LCLFilter(_Capacitive):
    """Line filter of an active front end as the line sees it: capacitors behind the reactor of its side.

    The converter behind it controls its current and counts as open at every order; in standby it is open.

    Parameters
    ----------
    line_ohms : float
        Reactance of the reactor on the side of the line at the fundamental, per phase; 0 ohm or more.
    line_xr : float
        Its reactance over resistance, above 0.
    damping_ohms : float
        Resistor in series with the capacitors, per phase of a star; 0 ohm or more.

    Examples
    --------
    Resonance of the filter alone where the reactances are equal, at the root of 100 / 1:

    >>> branch = LCLFilter("A", "main", 1e4, 1000.0, line_ohms=1.0, line_xr=100.0)
    >>> round(abs(complex(1 / branch.admittance(10))), 6)
    0.01
    """

    line_ohms: float = 0.0
    line_xr: float = 50.0
    damping_ohms: float = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        number(f"line_ohms of {self.name}", self.line_ohms, unit="ohm", least=0)
        number(f"line_xr of {self.name}", self.line_xr, above=0, most=1e6)
        number(f"damping_ohms of {self.name}", self.damping_ohms, unit="ohm", least=0)

    def series_impedance(self, orders: npt.ArrayLike) -> ComplexArray:
        resistance = self.damping_ohms + self.line_ohms / self.line_xr
        return np.asarray(resistance + 1j * _orders(orders) * self.line_ohms, np.complex128)


Capacitive = CapacitorBank | TunedFilter | DampedFilter | CTypeFilter | LCLFilter


def _orders(orders: npt.ArrayLike) -> FloatArray:
    return np.asarray(orders, dtype=np.float64)
