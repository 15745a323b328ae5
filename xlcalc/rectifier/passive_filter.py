"""A passive filter between supply and rectifier: series reactor, then a shunt branch at its far end."""

from __future__ import annotations

from dataclasses import dataclass

from xlcalc.checks import number
from xlcalc.rectifier.impedance import Rational


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
