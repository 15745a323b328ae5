"""Power quantities of IEEE 1459-2010 from voltage and current spectra.

The definitions of one phase are recalled; those of the effective values stand in a public program with the
clause numbers of the 2010 edition. No text of the standard was read.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import ComplexArray, Spectrum

Phases = tuple[Spectrum, Spectrum, Spectrum]

ROUNDING = 1e-12
_A = np.exp(2j * np.pi / 3.0)


@dataclass(frozen=True)
class PhasePower:
    """Quantities of one phase, or of a single-phase circuit.

    Parameters
    ----------
    voltage, current : Spectrum
        V and A, angles against one reference, current into the load; both with a fundamental.

    Raises
    ------
    InputError
        A spectrum without a fundamental.

    Examples
    --------
    100 V and 10 A lagging by 60 degrees, and 30 % of order 5 in the current: P 500 W, D_I 300 var (by hand)

    >>> amps = Spectrum.from_orders([(1, 10.0 * np.exp(-1j * np.pi / 3)), (5, 3.0)])
    >>> power = PhasePower(Spectrum.from_orders([(1, 100.0)]), amps)
    >>> round(power.active, 6), round(power.current_distortion, 6), round(power.displacement_factor, 6)
    (500.0, 300.0, 0.5)
    """

    voltage: Spectrum
    current: Spectrum

    def __post_init__(self) -> None:
        for name, spectrum in (("voltage", self.voltage), ("current", self.current)):
            if spectrum.fundamental == 0.0:
                raise InputError(name, "without a fundamental", "a fundamental above zero")

    @cached_property
    def _by_order(self) -> ComplexArray:
        count = min(self.voltage.max_order, self.current.max_order)
        return np.asarray(self.voltage.phasors[:count] * np.conj(self.current.phasors[:count]))

    @property
    def active(self) -> float:
        """P, W."""
        return float(np.sum(self._by_order.real))

    @property
    def fundamental_active(self) -> float:
        """P_1, W."""
        return float(self._by_order[0].real)

    @property
    def harmonic_active(self) -> float:
        """P_H = P - P_1, W; negative where the load returns harmonic power."""
        return float(np.sum(self._by_order[1:].real))

    @property
    def fundamental_reactive(self) -> float:
        """Q_1, var; positive for an inductive load."""
        return float(self._by_order[0].imag)

    @property
    def apparent(self) -> float:
        """S = V I, VA."""
        return self.voltage.rms * self.current.rms

    @property
    def fundamental_apparent(self) -> float:
        """S_1 = V_1 I_1, VA."""
        return self.voltage.fundamental * self.current.fundamental

    @property
    def current_distortion(self) -> float:
        """D_I = V_1 I_H = S_1 THD_I, var."""
        return self.voltage.fundamental * self.current.harmonic_rms

    @property
    def voltage_distortion(self) -> float:
        """D_V = V_H I_1 = S_1 THD_V, var."""
        return self.voltage.harmonic_rms * self.current.fundamental

    @property
    def harmonic_apparent(self) -> float:
        """S_H = V_H I_H = S_1 THD_V THD_I, VA."""
        return self.voltage.harmonic_rms * self.current.harmonic_rms

    @property
    def nonfundamental_apparent(self) -> float:
        """S_N = sqrt(D_I^2 + D_V^2 + S_H^2) = sqrt(S^2 - S_1^2), VA."""
        return math.hypot(self.current_distortion, self.voltage_distortion, self.harmonic_apparent)

    @property
    def harmonic_distortion(self) -> float:
        """D_H = sqrt(S_H^2 - P_H^2), var."""
        return _root(self.harmonic_apparent**2 - self.harmonic_active**2)

    @property
    def nonactive(self) -> float:
        """N = sqrt(S^2 - P^2), var."""
        return _root(self.apparent**2 - self.active**2)

    @property
    def power_factor(self) -> float:
        """P / S."""
        return self.active / self.apparent

    @property
    def displacement_factor(self) -> float:
        """P_1 / S_1, power factor of the fundamental."""
        return self.fundamental_active / self.fundamental_apparent


@dataclass(frozen=True)
class ThreePhasePower:
    """Quantities of a three-phase circuit, with the effective voltage and current.

    ``I_e = sqrt((I_a^2 + I_b^2 + I_c^2 + I_n^2) / 3)``,
    ``V_e = sqrt((3 (V_a^2 + V_b^2 + V_c^2) + V_ab^2 + V_bc^2 + V_ca^2) / 18)``; with three wires, where the
    neutral current is zero, ``V_e = sqrt((V_ab^2 + V_bc^2 + V_ca^2) / 9)``.

    Parameters
    ----------
    voltages, currents : three Spectrum
        Phases a, b, c: volts to neutral (three wires: to any common point) and amperes into the load, angles
        against one reference.
    four_wire : bool
        Whether there is a neutral conductor, which carries the sum of the phase currents.

    Raises
    ------
    InputError
        A phase voltage without a fundamental, no current, or a sum of currents with three wires.
    """

    voltages: Phases
    currents: Phases
    four_wire: bool = False

    def __post_init__(self) -> None:
        for letter, spectrum in zip("abc", self.voltages, strict=True):
            if spectrum.fundamental == 0.0:
                raise InputError(f"voltage of phase {letter}", "without a fundamental", "above zero")
        largest = max(spectrum.rms for spectrum in self.currents)
        if max(spectrum.fundamental for spectrum in self.currents) == 0.0:
            raise InputError(
                "currents", "without a fundamental", "a fundamental above zero in one phase or more"
            )
        neutral = float(np.linalg.norm(self._currents.sum(axis=0)))
        if not self.four_wire and neutral > 1e-3 * largest:
            raise InputError(
                "currents", f"with a sum of {neutral:.4g} A", "a sum of zero in every order, or four wires"
            )

    @cached_property
    def _voltages(self) -> ComplexArray:
        return _stacked(self.voltages, self._count)

    @cached_property
    def _currents(self) -> ComplexArray:
        return _stacked(self.currents, self._count)

    @property
    def _count(self) -> int:
        return max(spectrum.max_order for spectrum in (*self.voltages, *self.currents))

    @property
    def active(self) -> float:
        """P, W, all phases and orders."""
        return float(np.sum((self._voltages * np.conj(self._currents)).real))

    @property
    def effective_voltage(self) -> float:
        """V_e, V."""
        return _effective_voltage(self._voltages, self.four_wire)

    @property
    def effective_current(self) -> float:
        """I_e, A."""
        return _effective_current(self._currents, self.four_wire)

    @property
    def fundamental_effective_voltage(self) -> float:
        """V_e1, V."""
        return _effective_voltage(self._voltages[:, :1], self.four_wire)

    @property
    def fundamental_effective_current(self) -> float:
        """I_e1, A."""
        return _effective_current(self._currents[:, :1], self.four_wire)

    @property
    def effective_apparent(self) -> float:
        """S_e = 3 V_e I_e, VA."""
        return 3.0 * self.effective_voltage * self.effective_current

    @property
    def fundamental_effective_apparent(self) -> float:
        """S_e1 = 3 V_e1 I_e1, VA."""
        return 3.0 * self.fundamental_effective_voltage * self.fundamental_effective_current

    @property
    def effective_voltage_thd(self) -> float:
        """THD of the effective voltage, a ratio."""
        return _thd(self.effective_voltage, self.fundamental_effective_voltage)

    @property
    def effective_current_thd(self) -> float:
        """THD of the effective current, a ratio."""
        return _thd(self.effective_current, self.fundamental_effective_current)

    @property
    def current_distortion(self) -> float:
        """D_eI, var."""
        return self.fundamental_effective_apparent * self.effective_current_thd

    @property
    def voltage_distortion(self) -> float:
        """D_eV, var."""
        return self.fundamental_effective_apparent * self.effective_voltage_thd

    @property
    def harmonic_apparent(self) -> float:
        """S_eH, VA."""
        return self.voltage_distortion * self.effective_current_thd

    @property
    def nonfundamental_apparent(self) -> float:
        """S_eN = sqrt(D_eI^2 + D_eV^2 + S_eH^2), VA."""
        return math.hypot(self.current_distortion, self.voltage_distortion, self.harmonic_apparent)

    @cached_property
    def _positive(self) -> complex:
        """Complex power of the fundamental positive sequence, three phases."""
        turn = np.array([1.0, _A, _A**2]) / 3.0
        return complex(3.0 * (turn @ self._voltages[:, 0]) * np.conj(turn @ self._currents[:, 0]))

    @property
    def positive_active(self) -> float:
        """P_1+, W: fundamental, positive sequence."""
        return self._positive.real

    @property
    def positive_reactive(self) -> float:
        """Q_1+, var; positive for an inductive load."""
        return self._positive.imag

    @property
    def positive_apparent(self) -> float:
        """S_1+, VA."""
        return abs(self._positive)

    @property
    def unbalance(self) -> float:
        """S_U1 = sqrt(S_e1^2 - S_1+^2), VA; 0 where the difference is rounding alone."""
        whole = self.fundamental_effective_apparent**2
        square = whole - self.positive_apparent**2
        return _root(square) if square > ROUNDING * whole else 0.0

    @property
    def power_factor(self) -> float:
        """P / S_e."""
        return self.active / self.effective_apparent

    @property
    def displacement_factor(self) -> float:
        """P_1+ / S_1+."""
        return self.positive_active / self.positive_apparent


def _stacked(phases: Phases, count: int) -> ComplexArray:
    rows = np.zeros((3, count), dtype=np.complex128)
    for row, spectrum in zip(rows, phases, strict=True):
        row[: spectrum.max_order] = spectrum.phasors
    return rows


def _effective_voltage(phases: ComplexArray, four_wire: bool) -> float:
    lines = _square(phases - np.roll(phases, -1, axis=0))
    return math.sqrt((3.0 * _square(phases) + lines) / 18.0) if four_wire else math.sqrt(lines) / 3.0


def _effective_current(phases: ComplexArray, four_wire: bool) -> float:
    neutral = _square(phases.sum(axis=0)) if four_wire else 0.0
    return math.sqrt((_square(phases) + neutral) / 3.0)


def _square(values: ComplexArray) -> float:
    return float(np.sum(np.abs(values) ** 2))


def _thd(total: float, fundamental: float) -> float:
    return _root(total**2 - fundamental**2) / fundamental


def _root(square: float) -> float:
    return math.sqrt(max(square, 0.0))
