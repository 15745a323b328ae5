"""A passive filter between supply and rectifier: series reactor, then a shunt branch at its far end.

Its rating in percent of the drive, and its circuit in SI units.
"""

from __future__ import annotations

from dataclasses import dataclass

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.rectifier.impedance import Rational

_RANGES = {
    "capacitor_pct": (0.1, 200.0, "%"),
    "reactor_pct": (0.0, 100.0, "%"),
    "tuned_order": (0.0, 50.0, ""),
    "reactor_xr": (0.1, 1e6, ""),
    "shunt_resistance_pct": (0.0, 100.0, "% of the base impedance"),
    "damping_pct": (0.0, 1000.0, "% of the base impedance"),
}


@dataclass(frozen=True)
class FilterRating:
    """Series reactor, then a shunt branch of capacitor and reactor; percentages on Z_b = V^2 / P_r.

    Parameters
    ----------
    capacitor_pct : float
        Susceptance of the capacitor, 100 w C Z_b: about the reactive power that it gives at rated voltage
        in percent of P_r. 0.1 to 200.
    reactor_pct : float
        Series reactor, 100 w L / Z_b; 0 to 100.
    tuned_order : float
        Order at which the shunt branch resonates: its reactor has X_C / order^2. 0 = no shunt reactor,
        otherwise above 1 to 50.
    reactor_xr : float
        Reactance over resistance of the series reactor.
    shunt_resistance_pct : float
        Resistance of the shunt branch in percent of Z_b.
    damping_pct : float
        Resistor across the shunt reactor in percent of Z_b; 0 = none.

    Raises
    ------
    InputError
        A field outside its range, or damping without a shunt reactor.
    """

    capacitor_pct: float
    reactor_pct: float = 0.0
    tuned_order: float = 0.0
    reactor_xr: float = 25.0
    shunt_resistance_pct: float = 0.2
    damping_pct: float = 0.0

    def __post_init__(self) -> None:
        for name, (low, high, unit) in _RANGES.items():
            number(f"filter {name}", getattr(self, name), unit=unit, least=low, most=high)
        if 0.0 < self.tuned_order <= 1.0:
            raise InputError("filter tuned_order", self.tuned_order, "0, or above 1 to 50")
        if self.damping_pct and not self.tuned_order:
            raise InputError("filter damping_pct", self.damping_pct, "0 % where no shunt reactor is tuned")

    def per_unit(self) -> PassiveFilter:
        """The filter in per unit of Z_b at the angular frequency 1."""
        susceptance = self.capacitor_pct / 100.0
        series = self.reactor_pct / 100.0
        return PassiveFilter(
            inductance=series,
            resistance=series / self.reactor_xr,
            capacitance=susceptance,
            shunt_inductance=1.0 / susceptance / self.tuned_order**2 if self.tuned_order else 0.0,
            shunt_resistance=self.shunt_resistance_pct / 100.0,
            damping_resistance=self.damping_pct / 100.0,
        )


@dataclass(frozen=True)
class PassiveFilter:
    """Series reactor and shunt branch of each phase ahead of the line reactor; star connected, no neutral.

    The shunt branch is a capacitor in series with a reactor, tuned low. A resistor across that reactor
    makes a damped (high-pass) branch of it.

    Parameters
    ----------
    inductance, resistance : float
        Series reactor between the supply terminals and the shunt branch, H and ohm.
    capacitance : float
        Of the shunt branch, F per phase in star; a delta bank counts three times its capacitance.
    shunt_inductance, shunt_resistance : float
        Reactor of the shunt branch and what resistance it and the capacitor have, H and ohm.
    damping_resistance : float
        Across the shunt reactor, ohm; 0 = none.

    Raises
    ------
    InputError
        A negative value, or no capacitance.
    """

    inductance: float
    resistance: float
    capacitance: float
    shunt_inductance: float = 0.0
    shunt_resistance: float = 0.0
    damping_resistance: float = 0.0

    def __post_init__(self) -> None:
        for name, unit in _UNITS.items():
            number(f"filter {name.replace('_', ' ')}", getattr(self, name), unit=unit, least=0)
        number("filter capacitance", self.capacitance, unit="F", above=0)

    @property
    def series(self) -> Rational:
        return Rational.series_branch(self.resistance, self.inductance)

    @property
    def shunt(self) -> Rational:
        coil = Rational.series_branch(0.0, self.shunt_inductance)
        if self.damping_resistance > 0.0 and self.shunt_inductance > 0.0:
            coil = coil.parallel(Rational((self.damping_resistance,)))
        return Rational.series_branch(self.shunt_resistance, 0.0, self.capacitance) + coil

    def seen_from_bridges(self, supply: Rational) -> Rational:
        """Impedance behind which the bridges find the shunt branch's open-circuit voltage."""
        return (supply + self.series).parallel(self.shunt)


_UNITS = {
    "inductance": "H",
    "resistance": "ohm",
    "capacitance": "F",
    "shunt_inductance": "H",
    "shunt_resistance": "ohm",
    "damping_resistance": "ohm",
}
