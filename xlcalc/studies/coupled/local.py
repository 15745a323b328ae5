"""The impedance that stands in a drive's own circuit while its plant is solved.

What it leaves out of the bus reaches the drive through its EMF, order by order up to 50. Above, it is all
that the drive sees of the plant.
"""

from __future__ import annotations

import math

import numpy as np

from xlcalc.network.nodal import NodalNetwork
from xlcalc.rectifier.impedance import Rational, SeriesImpedance

LOCAL_XR = 10.0
HIGH_ORDERS = (300.0, 1000.0)
NOTICEABLE = 0.05
"""Share of the sources' inductance that capacitors must bypass to belong to a drive's circuit."""

RINGING_ORDER = 300.0
"""Where a bare bridge on bare capacitors rings against what inductance there always is."""


def inductive(reactance: float) -> SeriesImpedance:
    """Per unit of a drive's base at angular frequency 1, as all impedances here."""
    return SeriesImpedance(reactance / LOCAL_XR, reactance)


def with_capacitors(
    network: NodalNetwork, bus: str, per_unit: float, dc_elastance: float
) -> SeriesImpedance | None:
    """Bus impedance as an inductance behind which the sources stand in parallel with a capacitor.

    The high-frequency end gives the inductance and the capacitor, the short circuit gives the sources. Right
    at both ends, and in between for one plain bank. None where capacitors bypass nothing worth mentioning.

    Parameters
    ----------
    network : NodalNetwork
    bus : str
    per_unit : float
        Per-unit impedance of one ohm.
    dc_elastance : float
        Per-unit reactance of the dc capacitor; 0 behind a choke.
    """
    low, high = HIGH_ORDERS
    seen = network.impedance(bus, np.array(HIGH_ORDERS)).imag * per_unit
    elastance = (high * seen[0] - low * seen[1]) / (low / high - high / low)
    inductance = max(0.0, (seen[1] + elastance / high) / high)
    sources = network.short_circuit_impedance(bus, machines=True) * per_unit
    if elastance <= 0.0 or inductance > (1.0 - NOTICEABLE) * sources.imag:
        return None
    behind = Rational.series_branch(sources.real, sources.imag - inductance)
    resistance, rest, terms = behind.parallel(Rational((1.0,), (0.0, 1.0 / elastance))).partial_fractions()
    least = elastance / RINGING_ORDER**2
    if inductance < least:
        damping = math.sqrt(2.0 * least * (2.0 * elastance + dc_elastance))
        return SeriesImpedance(resistance + damping, least, terms)
    return SeriesImpedance(resistance, rest + inductance, terms)
