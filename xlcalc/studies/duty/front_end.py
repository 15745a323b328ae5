"""Duty of the DC link, line reactor, DC choke and filter of a front end, in amperes, volts and henry."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Final

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.spectrum import Spectrum
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.rectifier.result import ComplexArray, FloatArray, SteadyState
from xlcalc.rectifier.steady_state import solve
from xlcalc.rectifier.trace import rectifier_currents

NO_LOAD_PER_LINE_VOLT: Final = 3.0 * math.sqrt(2.0) / math.pi
LINES_PCT: Final = (90.0, 100.0, 110.0)
"""Line voltages at which equipment for the public supply must work: nominal and 10 % to either side."""
TRACED: Final = 3600
USUAL_POWER_FACTOR: Final = 0.9
SOURCE_ROUNDS: Final = 4
"""After which the reactance of the source agrees with the power that it is a percent of."""


def at_line(front_end: FrontEnd, line_pct: float) -> SteadyState:
    """Steady state in per unit of nominal volts at another line voltage; the load keeps its power.

    Parameters
    ----------
    front_end : FrontEnd
    line_pct : float
        Line voltage in percent of nominal, 50 to 150.

    Raises
    ------
    InputError
        The line voltage is outside its range.
    NoSolutionError
        The supply cannot give that power, or there is no stable solution.

    Examples
    --------
    >>> low = at_line(FrontEnd(6, 1.0, 3.0), 90.0)
    >>> round(100.0 * low.dc_volts_mean / NO_LOAD_PER_LINE_VOLT, 1)
    87.0
    """
    volts = number("line_pct", line_pct, unit="%", least=50.0, most=150.0) / 100.0
    circuit = front_end.circuit()
    return solve(replace(circuit, supply=replace(circuit.supply, volts=volts)))


def input_link_watts(front_end: FrontEnd, volts: float, amps: float, strength: float) -> float:
    """DC-link power of a drive of which the rated input current is known.

    Parameters
    ----------
    front_end : FrontEnd
        Its source and load are of no account.
    volts, amps : float
        Rated line voltage, V, and input current with its harmonics, A rms; above 0.
    strength : float
        Short-circuit ratio R_sce of the supply on which that current was stated, S_sc / (sqrt3 V I).

    Raises
    ------
    InputError
        A value is not above 0.
    NoSolutionError
        There is no such drive.

    References
    ----------
    IEC 61000-3-12: S_equ = sqrt3 U I_equ of the rated line current, R_sce = S_sc / S_equ.

    Examples
    --------
    >>> round(input_link_watts(FrontEnd(6, 1.0, 3.0), 480.0, 97.5, 120.0))
    73280
    """
    for name, value in (("volts", volts), ("amps", amps), ("strength", strength)):
        number(name, value, above=0)
    share = USUAL_POWER_FACTOR
    for _ in range(SOURCE_ROUNDS):
        share = _power_share(front_end, round(100.0 * share / strength, 6))
    return math.sqrt(3.0) * volts * amps * share


@lru_cache(maxsize=256)
def _power_share(front_end: FrontEnd, source_pct: float) -> float:
    """DC-link power over sqrt3 V I of the worst phase."""
    state = solve(replace(front_end, source_pct=source_pct, load_pct=100.0).circuit())
    return state.dc_watts / (math.sqrt(3.0) * float(np.max(state.line_rms)))


@dataclass(frozen=True, kw_only=True)
class LinkDuty:
    """The DC link at one line voltage; voltages in percent of 3 sqrt2/pi times the nominal line voltage.

    Parameters
    ----------
    line_pct : float
        Line voltage in percent of nominal.
    mean_pct, lowest_pct, highest_pct : float
    capacitor_pct : float
        Capacitor current of the bridges, rms, in percent of the rated direct current P / (1.35 V).
    reactor_pct : float
        Mean voltage that the line reactor costs.
    """

    line_pct: float
    mean_pct: float
    lowest_pct: float
    highest_pct: float
    capacitor_pct: float
    reactor_pct: float


def link_duty(front_end: FrontEnd, line_pct: float) -> LinkDuty:
    """The DC link at one line voltage; parameters and errors as `at_line`."""
    state = at_line(front_end, line_pct)
    mean = 100.0 * state.dc_volts_mean / NO_LOAD_PER_LINE_VOLT
    bare = mean
    if front_end.reactor_pct and front_end.filter is None:
        without = replace(front_end, reactor_pct=0.0, source_pct=max(front_end.source_pct, 0.01))
        bare = 100.0 * at_line(without, line_pct).dc_volts_mean / NO_LOAD_PER_LINE_VOLT
    return LinkDuty(
        line_pct=line_pct,
        mean_pct=mean,
        lowest_pct=100.0 * state.dc_volts_min / NO_LOAD_PER_LINE_VOLT,
        highest_pct=100.0 * state.dc_volts_max / NO_LOAD_PER_LINE_VOLT,
        capacitor_pct=100.0 * state.capacitor_rms * NO_LOAD_PER_LINE_VOLT,
        reactor_pct=bare - mean,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Coil:
    """What sizes one reactor; currents of the phase or bridge that carries most.

    Parameters
    ----------
    henry : float
        Of one coil.
    rms, peak : float
        True rms, A, and largest instantaneous current, A.
    steady : float
        Fundamental of a line reactor, mean of a choke, A.
    orders : mapping of int to float
        rms of each harmonic, A.
    watts : float
        Loss in the resistance that its X/R states, all coils of a device; frequency raises it, which is left
        out.
    """

    henry: float
    rms: float
    peak: float
    steady: float
    orders: dict[int, float]
    watts: float


@dataclass(frozen=True, eq=False)
class Magnetics:
    """Coils of one drive in SI units.

    Parameters
    ----------
    front_end : FrontEnd
        At the load and on the supply for which they are sized.
    state : SteadyState
        Its solution, per unit of `volts`.
    volts, watts, hz : float
        Nominal line voltage, rated DC-link power, frequency.
    """

    front_end: FrontEnd
    state: SteadyState
    volts: float
    watts: float
    hz: float

    @property
    def amps(self) -> float:
        """Amperes per unit."""
        return self.watts / self.volts

    def henry(self, pct: float) -> float:
        """Inductance of percent on the base of the drive."""
        return pct / 100.0 * self.volts**2 / self.watts / (2.0 * math.pi * self.hz)

    @property
    def line_reactor(self) -> Coil | None:
        """The line reactor; None where the drive has none."""
        pct = self.front_end.reactor_pct
        if not pct:
            return None
        currents = self.state.rectifier_current
        resistance = pct / 100.0 / self.front_end.reactor_xr
        return self._line_coil(pct, resistance, currents, float(np.max(np.abs(self._phases))))

    @property
    def filter_reactor(self) -> Coil | None:
        """The series reactor of the filter, which carries the line current; None where there is none."""
        rating = self.front_end.filter
        if rating is None or not rating.reactor_pct:
            return None
        peak = float(np.max(np.abs(_waves(self.state.line_phasors))))
        resistance = rating.reactor_pct / 100.0 / rating.reactor_xr
        return self._line_coil(rating.reactor_pct, resistance, self.state.line_phasors, peak)

    @property
    def filter_shunt(self) -> tuple[Coil, float, float] | None:
        """Coil of the shunt branch (0 H where it has none), its capacitor in F per phase of a star, and the
        line-to-line rms voltage at the capacitor, V; None without a filter."""
        rating = self.front_end.filter
        circuit = self.state.circuit
        if rating is None or circuit.filter is None:
            return None
        through = self.state.line_phasors - self.state.rectifier_current
        farad = circuit.filter.capacitance
        orders = np.arange(1, through.shape[1] + 1)
        volts = math.sqrt(3.0) * np.max(np.linalg.norm(through / (orders * farad), axis=1)) * self.volts
        peak = float(np.max(np.abs(_waves(through))))
        pct = 100.0 * circuit.filter.shunt_inductance
        coil = self._line_coil(pct, circuit.filter.shunt_resistance, through, peak)
        base = self.volts**2 / self.watts
        return coil, farad / base / (2.0 * math.pi * self.hz), float(volts)

    @property
    def choke(self) -> Coil | None:
        """The DC choke of the bridge that carries most; None where the drive has none."""
        pct = self.front_end.choke_pct
        if not pct:
            return None
        currents = self._direct_currents
        worst = currents[int(np.argmax(np.mean(currents**2, axis=1)))]
        lines = np.abs(np.fft.rfft(worst)) * math.sqrt(2.0) / worst.size
        rms = float(np.sqrt(np.mean(worst**2)))
        count = self.front_end.bridges
        resistance = pct / 100.0 * count / self.front_end.choke_xr
        return Coil(
            henry=self.henry(pct * count),
            rms=rms * self.amps,
            peak=float(np.max(worst)) * self.amps,
            steady=float(np.mean(worst)) * self.amps,
            orders={order: float(lines[order]) * self.amps for order in range(1, 51)},
            watts=resistance * float(np.sum(np.mean(currents**2, axis=1))) * self.watts,
        )

    @cached_property
    def _phases(self) -> FloatArray:
        """Current through the line reactor, (3, n)."""
        return rectifier_currents(self.state, TRACED)

    @property
    def _direct_currents(self) -> FloatArray:
        """Current of each choke, (bridges, n): half the sum of the magnitudes of the phases of its bridge."""
        if not self.front_end.has_transformer:
            phases: Iterable[FloatArray] = [self._phases]
        else:
            phases = (_waves(phasors) for phasors in self.state.bridge_phasors)
        return np.array([np.sum(np.abs(each), axis=0) / 2.0 for each in phases])

    def _line_coil(self, pct: float, resistance: float, currents: ComplexArray, peak: float) -> Coil:
        squares = np.sum(np.abs(currents) ** 2, axis=1)
        worst = Spectrum(currents[int(np.argmax(squares))])
        return Coil(
            henry=self.henry(pct),
            rms=float(np.sqrt(np.max(squares))) * self.amps,
            peak=peak * self.amps,
            steady=worst.fundamental * self.amps,
            orders={order: float(worst.magnitude[order - 1]) * self.amps for order in range(2, 51)},
            watts=resistance * float(np.sum(squares)) * self.watts,
        )


def magnetics(
    front_end: FrontEnd, volts: float, watts: float, hz: float, line_pct: float = 100.0
) -> Magnetics:
    """What sizes the coils of a drive at one line voltage.

    Parameters
    ----------
    front_end : FrontEnd
        At the load and on the supply for which they are sized.
    volts, watts, hz : float
        Nominal line voltage, V; rated DC-link power, W; frequency, Hz; all above 0.
    line_pct : float
        As `at_line`.

    Raises
    ------
    InputError
        A value is outside its range.
    NoSolutionError
        As `at_line`.

    Examples
    --------
    >>> coil = magnetics(FrontEnd(6, 1.0, 3.0), 480.0, 75e3, 60.0).line_reactor
    >>> round(1e3 * coil.henry, 4), round(coil.rms)
    (0.2445, 100)
    """
    for name, value in (("volts", volts), ("watts", watts), ("hz", hz)):
        number(name, value, above=0)
    return Magnetics(front_end, at_line(front_end, line_pct), volts, watts, hz)


def _waves(phasors: ComplexArray) -> FloatArray:
    """Instantaneous values of rms phasors over a cycle, (3, n)."""
    full = np.zeros((phasors.shape[0], TRACED // 2 + 1), np.complex128)
    full[:, 1 : phasors.shape[1] + 1] = phasors
    return np.asarray(TRACED / math.sqrt(2.0) * np.fft.irfft(full, TRACED, axis=1), float)
