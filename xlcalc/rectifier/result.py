"""The periodic steady state of one circuit, in SI units."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from xlcalc.core.spectrum import Spectrum
from xlcalc.rectifier.circuit import STEP, Circuit, emf_phasors
from xlcalc.rectifier.filtered import line_phasors

FloatArray = npt.NDArray[np.float64]
ComplexArray = npt.NDArray[np.complex128]
IntArray = npt.NDArray[np.int64]
PerPhase = tuple[Spectrum, Spectrum, Spectrum]

_SYMMETRY = {1: "60 degrees", 2: "120 degrees", 3: "180 degrees", 6: "360 degrees"}


@dataclass(frozen=True)
class OrbitPoint:
    """Per-unit state at one angle of the cycle, from which the waveform is drawn.

    `load_current` is the constant current of a load of constant mean power; not used with others.
    """

    theta: float
    currents: FloatArray
    volts: FloatArray
    terms: FloatArray
    conducting: npt.NDArray[np.int64]
    load_current: float = 0.0


@dataclass(frozen=True, eq=False)
class SteadyState:
    """Periodic steady state of a diode front end.

    Phasors are rms, cosine convention, phase order a, b, c; currents flow into the drive.

    Parameters
    ----------
    circuit : Circuit
        What was solved.
    bridge_phasors : array (bridges, 3, orders)
        Current of each bridge in the phases of its own winding, referred to the supply voltage, A. With a
        passive filter the line current is another one.
    line_rms, terminal_rms : arrays (3,)
        True rms of line current (A) and terminal voltage to neutral (V), all orders.
    bridge_rms, bridge_peak : arrays (bridges, 3)
        True rms and peak of each bridge's phase currents, A.
    dc_volts_mean, dc_volts_min, dc_volts_max : float
        Voltage of the dc bus, V.
    capacitor_rms : float
        Current of the dc capacitor that the bridges make, A, without what the inverter's switching adds.
    dc_watts, source_watts, loss_watts : float
        Mean power of the load, out of the source EMF, and lost between, W: three separate integrals.
    multiplier : float
        Characteristic multiplier of largest magnitude of the solved map, with its sign if real, the magnitude
        if complex. The orbit is stable below 1 in magnitude.
    stable : bool
        Whether a long simulation would stay on this orbit.
    symmetry : str
        Interval after which the solution repeats itself up to a renaming of phases and rails.
    expected_symmetry : str
        The same of the supply alone; a longer `symmetry` means that the symmetric solution is unstable.
    iterations, residual : int, float
        Of the shooting method; the residual is the per-unit change of the state over the map.
    """

    circuit: Circuit
    bridge_phasors: ComplexArray
    line_rms: FloatArray
    terminal_rms: FloatArray
    bridge_rms: FloatArray
    bridge_peak: FloatArray
    dc_volts_mean: float
    dc_volts_min: float
    dc_volts_max: float
    capacitor_rms: float
    dc_watts: float
    source_watts: float
    loss_watts: float
    multiplier: float
    stable: bool
    sectors: int
    expected_sectors: int
    iterations: int
    residual: float
    orbit_point: OrbitPoint = field(repr=False)

    @property
    def uneven(self) -> bool:
        """Whether the pulses are less even than the supply: the symmetric solution is unstable."""
        return self.sectors != self.expected_sectors

    @property
    def symmetry(self) -> str:
        return _SYMMETRY[self.sectors]

    @property
    def expected_symmetry(self) -> str:
        return _SYMMETRY[self.expected_sectors]

    @property
    def max_order(self) -> int:
        return int(self.bridge_phasors.shape[2])

    @cached_property
    def rectifier_current(self) -> ComplexArray:
        """Current of all bridges together, shape (3, orders), A; ahead of a passive filter it is another."""
        total = np.zeros((3, self.max_order), np.complex128)
        for bridge, phasors in zip(self.circuit.bridges, self.bridge_phasors, strict=True):
            total += _rotation(-math.radians(bridge.shift_deg)) @ phasors
        return total

    @cached_property
    def line_phasors(self) -> ComplexArray:
        """Line current at the terminals, shape (3, orders), A."""
        through = self.rectifier_current
        if self.circuit.filter is None:
            return through
        return line_phasors(self.circuit, through, emf_phasors(self.circuit.supply, self.max_order))

    @cached_property
    def line_current(self) -> PerPhase:
        """Spectra of `line_phasors`, A."""
        return _spectra(self.line_phasors)

    @cached_property
    def bridge_current(self) -> tuple[PerPhase, ...]:
        """Current of each bridge in the phases of its own winding, A."""
        return tuple(_spectra(phasors) for phasors in self.bridge_phasors)

    @cached_property
    def source_emf(self) -> PerPhase:
        """EMF of the supply to neutral, V."""
        return _spectra(emf_phasors(self.circuit.supply, self.max_order))

    @cached_property
    def terminal_voltage(self) -> PerPhase:
        """Voltage to neutral behind the source impedance, ahead of filter and line reactor, V."""
        impedance = self.circuit.supply.impedance(np.arange(1, self.max_order + 1))
        return _spectra(emf_phasors(self.circuit.supply, self.max_order) - impedance * self.line_phasors)

    @property
    def thd_pct(self) -> tuple[float, float, float]:
        """Total harmonic distortion of the line current of phases a, b, c, percent of each fundamental."""
        a, b, c = (phase.thd_pct for phase in self.line_current)
        return a, b, c

    @property
    def worst_phase(self) -> int:
        """Index (0, 1, 2) of the phase with the highest distortion."""
        return int(np.argmax(self.thd_pct))

    @property
    def terminal_watts(self) -> float:
        return self.source_watts - self.circuit.supply.resistance * float(np.sum(self.line_rms**2))

    @property
    def power_factor(self) -> float:
        """At the terminals: P over the sum of V_rms I_rms of the phases."""
        return self.terminal_watts / float(np.sum(self.terminal_rms * self.line_rms))

    @property
    def source_power_factor(self) -> float:
        """Against the source EMF."""
        emf = [math.sqrt(_emf_square(self.circuit, phase)) for phase in range(3)]
        return self.source_watts / float(np.dot(emf, self.line_rms))

    @property
    def displacement_power_factor(self) -> float:
        """At the terminals: cosine of the angle between the positive-sequence fundamentals."""
        return _cosine(self.terminal_voltage, self.line_current)

    @property
    def source_displacement_power_factor(self) -> float:
        return _cosine(self.source_emf, self.line_current)

    @property
    def power_imbalance(self) -> float:
        """Share of the source power that the separate integrals of load and losses do not account for."""
        return (self.source_watts - self.dc_watts - self.loss_watts) / self.source_watts


def _spectra(phasors: ComplexArray) -> PerPhase:
    return Spectrum(phasors[0]), Spectrum(phasors[1]), Spectrum(phasors[2])


def _rotation(delta: float) -> FloatArray:
    """Three-phase rotation without zero sequence: positive-sequence phasors turn by +delta."""
    c = math.cos(delta)
    s = math.sin(delta) / math.sqrt(3.0)
    return np.array([[c, -s, s], [s, c, -s], [-s, s, c]])


def _emf_square(circuit: Circuit, phase: int) -> float:
    return float(np.sum(np.abs(emf_phasors(circuit.supply, 50)[phase]) ** 2))


def _cosine(volts: PerPhase, current: PerPhase) -> float:
    turn = [cmath.exp(1j * STEP * x) for x in range(3)]
    v = sum(t * complex(s.phasors[0]) for t, s in zip(turn, volts, strict=True))
    i = sum(t * complex(s.phasors[0]) for t, s in zip(turn, current, strict=True))
    return math.cos(cmath.phase(v) - cmath.phase(i))
