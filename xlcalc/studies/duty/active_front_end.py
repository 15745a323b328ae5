"""What an active front end does beyond order 50, and what an active filter on a bus must carry.

Switching: the harmonics of a two-level converter by the double Fourier integral, pulse by pulse in the middle
of its period (natural sampling), through the T of converter reactor, capacitor and line reactor.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import FloatArray
from xlcalc.studies.solution import PlantSolution
from xlcalc.studies.sources import (
    Summation,
    currents_through,
    most_distorted,
    spectrum_currents,
    summed,
)

Modulation = Literal["space vector", "sine"]
SIDEBANDS: Final = ((1, -4), (1, -2), (1, 2), (1, 4), (2, -5), (2, -1), (2, 1), (2, 5))
"""Multiples of the switching frequency and of the line frequency, those of the largest currents."""

LEAST_RATIO: Final = 15.0
POINTS: Final = 720


@dataclass(frozen=True, kw_only=True)
class SwitchingFilter:
    """A two-level converter with its LCL filter; percent of V^2 / S of its rating.

    Parameters
    ----------
    volts, hz : float
        Line to line rms and frequency, above 0.
    switching_hz : float
        At least 15 times `hz`.
    dc_volts : float
        Of the DC link, at least what the modulation needs: 1.414 times `volts` with space vectors, 1.633
        times with sines.
    source_pct, line_pct, converter_pct : float
        Reactances of supply, reactor of the line side and reactor of the converter side; the last above 0 %.
    capacitor_pct : float
        Vars of the capacitors, percent of the rating; 0: an L filter.
    damping_pct : float
        Resistor in series with the capacitors.
    modulation : {'space vector', 'sine'}

    Raises
    ------
    InputError
        A field is outside its range.
    """

    volts: float
    hz: float
    switching_hz: float
    dc_volts: float
    source_pct: float
    line_pct: float
    converter_pct: float
    capacitor_pct: float
    damping_pct: float = 0.0
    modulation: Modulation = "space vector"

    def __post_init__(self) -> None:
        number("volts", self.volts, unit="V", above=0)
        number("hz", self.hz, unit="Hz", above=0)
        number("switching_hz", self.switching_hz, unit="Hz", least=LEAST_RATIO * self.hz)
        for name in ("source_pct", "line_pct", "capacitor_pct", "damping_pct"):
            number(name, getattr(self, name), unit="%", least=0)
        number("converter_pct", self.converter_pct, unit="%", above=0)
        if self.modulation not in ("space vector", "sine"):
            raise InputError("modulation", self.modulation, "space vector or sine")
        least = self.volts * (math.sqrt(2.0) if self.modulation == "space vector" else math.sqrt(8.0 / 3.0))
        number("dc_volts", self.dc_volts, unit="V", least=least)

    @property
    def ratio(self) -> float:
        """Order of the switching frequency."""
        return self.switching_hz / self.hz

    @property
    def resonance(self) -> float:
        """Order at which the filter resonates with the supply while the converter runs; inf: none."""
        if not self.capacitor_pct:
            return math.inf
        ahead, behind = self.source_pct + self.line_pct, self.converter_pct
        if not ahead:
            return math.inf
        return math.sqrt(1e4 * (ahead + behind) / (self.capacitor_pct * ahead * behind))

    def leg_volts(self, multiple: int, side: int) -> float:
        """rms of a sideband of one leg against the middle of the DC link, V."""
        theta = 2.0 * math.pi * np.arange(POINTS) / POINTS
        index = self.volts * math.sqrt(2.0 / 3.0) / (self.dc_volts / 2.0)
        sines = index * np.cos(theta[None, :] - 2.0 * math.pi / 3.0 * np.arange(3)[:, None])
        wanted = sines[0]
        if self.modulation == "space vector":
            wanted = wanted - (sines.max(axis=0) + sines.min(axis=0)) / 2.0
        pulse = 2.0 * self.dc_volts / (multiple * math.pi) * np.sin(multiple * math.pi * (1.0 + wanted) / 2.0)
        return float(abs(np.mean(pulse * np.exp(-1j * side * theta)))) / math.sqrt(2.0)

    def amps_pct(self, multiple: int, side: int) -> float:
        """Line current of a sideband, percent of the rated one."""
        order = multiple * self.ratio + side
        ahead = 1j * order * (self.source_pct + self.line_pct) / 100.0
        behind = 1j * order * self.converter_pct / 100.0
        through = ahead + behind
        if self.capacitor_pct:
            branch = self.damping_pct / 100.0 - 1j * 100.0 / (order * self.capacitor_pct)
            through += ahead * behind / branch
        return 100.0 * self.leg_volts(multiple, side) / (self.volts / math.sqrt(3.0)) / abs(through)


@dataclass(frozen=True)
class FilterAmps:
    """What an active filter on a bus must carry.

    Parameters
    ----------
    phasors, exponents, arithmetic : float
        A rms of the most loaded phase: harmonics of all loads as phasors, by the exponents of IEC TR
        61000-3-6, and without any diversity.
    """

    phasors: float
    exponents: float
    arithmetic: float


def active_filter_amps(
    solution: PlantSolution, bus: str, left_pct: float = 0.0, orders: Sequence[int] | None = None
) -> FilterAmps:
    """The rms current of an active filter that takes the harmonics out of what flows into a bus.

    Parameters
    ----------
    solution : PlantSolution
        Without the filter.
    bus : str
    left_pct : float
        What the filter leaves of each order, 0 to below 100 %.
    orders : sequence of int, optional
        Orders that it works on, 2 to 50; all by default.

    Raises
    ------
    InputError
        No such bus, or a value outside its range.
    NoSolutionError
        There is no solution, a load lacks orders, or the filter would have to carry a zero sequence too.
    """
    number("left_pct", left_pct, unit="%", least=0, most=99)
    solution.require()
    network = solution.network
    network.index(bus)
    zero = [load.name for load in network.spectrum_loads if load.triplen_pct]
    if zero:
        raise NoSolutionError(f"load {', '.join(zero)} draws orders 3, 9, ..., which are not solved")
    if lacking := [load.name for load in network.spectrum_loads if not load.complete]:
        raise NoSolutionError(f"the spectrum of {', '.join(lacking)} lacks orders that nobody gave")
    loads = (*solution.loads, *spectrum_currents(solution.flow))
    through = currents_through(loads, network, bus)
    counts = [load.quantity for load in loads]
    taken = np.ones(through.shape[-1]) if orders is None else np.isin(np.arange(1, 51), list(orders))
    share = taken * (1.0 - left_pct / 100.0)
    share[0] = 0.0

    def rms(rule: Summation) -> float:
        amps = np.abs(summed(through, counts, rule)) * share
        return float(np.linalg.norm(amps[most_distorted(amps.astype(complex))]))

    unknown = any(load.unknown.any() for load in network.spectrum_loads)
    phasors = math.nan if unknown else rms(Summation.PHASOR)
    return FilterAmps(phasors, rms(Summation.EXPONENTS), rms(Summation.ARITHMETIC))


def rows_of(found: SwitchingFilter) -> list[tuple[float, float, float]]:
    """Order, Hz and percent of the rated current of each sideband."""
    orders: FloatArray = np.array([m * found.ratio + n for m, n in SIDEBANDS])
    amps = [found.amps_pct(m, n) for m, n in SIDEBANDS]
    return [(float(h), float(h * found.hz), a) for h, a in zip(orders, amps, strict=True)]
