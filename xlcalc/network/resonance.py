"""Impedance against frequency at a bus, and the resonances that it shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number
from xlcalc.core.spectrum import ComplexArray, FloatArray

PARALLEL = "parallel"
SERIES = "series"
STEP = 0.02
LEAST_PROMINENCE = 0.02
"""Relative height over its surroundings below which a ripple of the curve is no resonance."""


class Impedance(Protocol):
    """What a scan needs of a network."""

    def impedance(self, bus: str, orders: npt.ArrayLike) -> ComplexArray: ...

    def short_circuit_impedance(self, bus: str, machines: bool = False) -> complex: ...


@dataclass(frozen=True, eq=False)
class Scan:
    """Driving-point impedance of a bus, ohm per phase at its own voltage, over orders (any numbers)."""

    bus: str
    orders: FloatArray
    ohms: ComplexArray


@dataclass(frozen=True)
class Resonance:
    """An extreme of the impedance against frequency.

    Parameters
    ----------
    kind : str
        "parallel" where the impedance of the bus is largest, "series" where it is smallest.
    order : float
        Where, in multiples of the fundamental.
    ohms : float
        Magnitude of the impedance there.
    amplification : float
        That magnitude over the reactance which the sources alone would have at this order: above 1 the plant
        amplifies harmonic voltage, below 1 it shunts it.
    characteristic : int
        Nearest order that a converter of the stated pulse number draws.
    distance_pct : float
        How far the resonance lies from it, percent of that order; negative below it.
    """

    kind: str
    order: float
    ohms: float
    amplification: float
    characteristic: int
    distance_pct: float


def impedance_scan(
    network: Impedance, bus: str, lowest: float = 1.0, highest: float = 50.0, step: float = STEP
) -> Scan:
    """Impedance of a bus on a fine grid.

    Parameters
    ----------
    network : network
        Any that tells its impedance.
    bus : str
        The bus.
    lowest, highest : float
        Ends of the grid in orders, 0.1 to 200, in this order.
    step : float
        Of the grid, 0.001 to 1.

    Raises
    ------
    InputError
        No such bus, or a number outside its range.
    """
    first = number("lowest", lowest, least=0.1, most=200)
    last = number("highest", highest, above=first, most=200)
    width = number("step", step, least=0.001, most=1)
    orders = first + width * np.arange(int(np.floor((last - first) / width + 1e-9)) + 1)
    return Scan(bus, np.asarray(orders, np.float64), network.impedance(bus, orders))


def resonances(
    network: Impedance,
    bus: str,
    lowest: float = 1.0,
    highest: float = 50.0,
    step: float = STEP,
    pulses: int = 6,
) -> tuple[Resonance, ...]:
    """Parallel and series resonances at a bus, in rising order, refined beyond the grid.

    Parameters
    ----------
    network : Impedance
    bus : str
    lowest, highest : float
        Orders between which is searched.
    step : float
        Of the grid, in orders.
    pulses : int
        Of the drives, whose characteristic orders are named.

    Raises
    ------
    InputError
        As `impedance_scan`.

    Examples
    --------
    1000 kVA, 5.3 % and 100 kvar resonate at sqrt(S_sc / Q) = 13.736 without damping:

    >>> from xlcalc.network.branches import TransformerBranch
    >>> from xlcalc.network.capacitors import CapacitorBank
    >>> from xlcalc.network.elements import Transformer, Utility
    >>> from xlcalc.network.nodal import NodalNetwork
    >>> from xlcalc.network.topology import Bus
    >>> unit = TransformerBranch("T1", "U", "M", Transformer(1e6, 5.3, 1000, 13.8e3, 480))
    >>> plant = NodalNetwork(Utility(13.8e3, 1e12, 1000), "U", (Bus("U", 13.8e3), Bus("M", 480)), (unit,),
    ...     (CapacitorBank("C1", "M", 100e3, 480),))
    >>> [(r.kind, round(r.order, 2), r.characteristic) for r in resonances(plant, "M")]
    [('parallel', 13.74, 13)]
    """
    scan = impedance_scan(network, bus, lowest, highest, step)
    height = np.log(np.abs(scan.ohms))
    found = []
    for sign, kind in ((1.0, PARALLEL), (-1.0, SERIES)):
        curve = sign * height
        inner = np.flatnonzero((curve[1:-1] > curve[:-2]) & (curve[1:-1] >= curve[2:])) + 1
        for k in inner:
            if _prominence(curve, int(k)) >= LEAST_PROMINENCE:
                found.append(_refined(network, scan, int(k), kind, pulses))
    return tuple(sorted(found, key=lambda r: r.order))


def nearest_characteristic(order: float, pulses: int = 6) -> int:
    """The order ``k p +- 1`` nearest to a resonance; the fundamental does not count.

    Examples
    --------
    >>> nearest_characteristic(7.05), nearest_characteristic(9.2), nearest_characteristic(9.2, 12)
    (7, 11, 11)
    """
    k = max(1, round(order / pulses))
    candidates = [j * pulses + side for j in (k - 1, k, k + 1) for side in (-1, 1) if j >= 1]
    return min(candidates, key=lambda h: abs(h - order))


def _refined(network: Impedance, scan: Scan, k: int, kind: str, pulses: int) -> Resonance:
    from scipy.optimize import minimize_scalar

    sign = -1.0 if kind == PARALLEL else 1.0

    def objective(order: float) -> float:
        return sign * float(np.log(abs(complex(network.impedance(scan.bus, order)))))

    bounds = (float(scan.orders[k - 1]), float(scan.orders[k + 1]))
    order = float(minimize_scalar(objective, bounds=bounds, method="bounded", options={"xatol": 1e-6}).x)
    ohms = abs(complex(network.impedance(scan.bus, order)))
    sources = order * network.short_circuit_impedance(scan.bus, machines=True).imag
    nearest = nearest_characteristic(order, pulses)
    return Resonance(
        kind=kind,
        order=order,
        ohms=ohms,
        amplification=ohms / sources,
        characteristic=nearest,
        distance_pct=100.0 * (order / nearest - 1.0),
    )


def _prominence(curve: FloatArray, k: int) -> float:
    """Height of a peak over the higher of the two valleys that separate it from higher ground or the end."""
    return min(float(curve[k] - _valley(curve[k::-1])), float(curve[k] - _valley(curve[k:])))


def _valley(path: FloatArray) -> float:
    higher = np.flatnonzero(path > path[0])
    return float(path[: higher[0]].min() if higher.size else path.min())
