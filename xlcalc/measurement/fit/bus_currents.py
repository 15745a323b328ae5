"""The drives of a bus on its measured voltage: their currents together, and how well these are known."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import ComplexArray, FloatArray
from xlcalc.measurement.fit.point import OperatingPoint
from xlcalc.network.sequence import components
from xlcalc.rectifier.circuit import Circuit, Load, ThreePhaseSource
from xlcalc.rectifier.drive import BASE_HZ, FrontEnd
from xlcalc.rectifier.response import emf_responses
from xlcalc.rectifier.result import SteadyState
from xlcalc.rectifier.steady_state import solve_many

_CAPACITANCES: Final = (0.3, 1.0, 3.0, 8.0)
_FAILED: Final = 1e5
_LEAST: Final = 1e-6
"""Of the fundamental: what a record without noise is taken to be known by."""


@dataclass(frozen=True)
class BusDrive:
    """Drives of one kind on the bus: the front end of one, its rated power, W, and how many there are."""

    front_end: FrontEnd
    rated_watts: float
    quantity: int = 1

    @property
    def watts(self) -> float:
        """Rated power of all."""
        return self.rated_watts * self.quantity


class BusCurrents:
    """The drives on the measured voltages: one factor of their loads by point, and a capacitance of all."""

    def __init__(
        self, points: Sequence[OperatingPoint], drives: Sequence[BusDrive], volts: float, *, capacitance: bool
    ) -> None:
        self.points, self.drives, self.volts, self.capacitance = points, drives, volts, capacitance
        self.rated = sum(drive.watts for drive in drives)
        self.believed = sum(drive.watts * drive.front_end.load_pct / 100.0 for drive in drives)
        self.errors = [self._error(point) for point in points]

    def _error(self, point: OperatingPoint) -> FloatArray:
        """Of the currents, with what the error of the voltages does to those of the drives."""
        admittance = sum(
            drive.watts / self.volts**2 / (drive.front_end.reactor_pct / 100.0) for drive in self.drives
        )
        driven = admittance / point.orders * point.volts_error
        return np.asarray(np.maximum(np.hypot(point.amps_error, driven), _LEAST * abs(point.amps[0, 0])))

    def _circuit(self, point: OperatingPoint, drive: BusDrive, factor: float, capacitance: float) -> Circuit:
        one = (
            drive.front_end
            if not self.capacitance
            else replace(drive.front_end, dc_capacitance_pu=capacitance)
        )
        base = point.volts[0, 0]
        turned = point.volts / abs(base) * np.exp(-1j * point.orders * cmath.phase(complex(base)))
        supply = ThreePhaseSource(
            volts=float(abs(base)) * math.sqrt(3.0) / self.volts,
            hz=BASE_HZ * point.hz / point.nominal_hz,
            negative_sequence=complex(turned[1, 0]),
            components=tuple(
                (int(order), sequence, complex(turned[row, column]))
                for column, order in enumerate(point.orders)
                if order > 1
                for row, sequence in enumerate((1, -1))
            ),
        )
        load = Load("mean power", factor * one.load_pct / 100.0)
        return replace(one.circuit(), supply=supply, load=load)

    def _states(self, vector: FloatArray) -> list[list[SteadyState]]:
        """Of the drives, by point."""
        capacitance = math.exp(vector[-1]) if self.capacitance else math.nan
        circuits = [
            self._circuit(point, drive, math.exp(vector[k]), capacitance)
            for k, point in enumerate(self.points)
            for drive in self.drives
        ]
        states = []
        for state in solve_many(circuits):
            if isinstance(state, NoSolutionError):
                raise state
            states.append(state)
        count = len(self.drives)
        return [states[k : k + count] for k in range(0, len(states), count)]

    def differences(self, vector: FloatArray) -> list[ComplexArray]:
        """Currents of the drives less measured ones, by point."""
        found = []
        for point, states in zip(self.points, self._states(vector), strict=True):
            total = np.zeros_like(point.amps)
            turn = np.exp(1j * point.orders * cmath.phase(complex(point.volts[0, 0])))
            for state, drive in zip(states, self.drives, strict=True):
                amps = components(state.line_phasors)[1:, point.orders - 1]
                total = total + amps * turn * (drive.watts / self.volts)
            found.append(total - point.amps)
        return found

    def _residuals(self, vector: FloatArray) -> FloatArray:
        try:
            parts = [d / error for d, error in zip(self.differences(vector), self.errors, strict=True)]
        except (InputError, NoSolutionError):
            return np.full(sum(4 * point.orders.size for point in self.points), _FAILED)
        return np.concatenate([_real(part) for part in parts])

    def _noise(self, vector: FloatArray) -> FloatArray:
        """Covariance of the residuals: an error of one voltage moves the currents of all orders together."""
        from scipy.linalg import block_diag

        blocks = []
        for point, states, error in zip(self.points, self._states(vector), self.errors, strict=True):
            own = np.broadcast_to(point.amps_error / error, point.amps.shape).ravel()
            places = [(int(order), sequence) for sequence in (1, -1) for order in point.orders]
            turn = np.exp(1j * point.orders * cmath.phase(complex(point.volts[0, 0])))
            moved = np.zeros((2, len(places), *point.amps.shape), np.complex128)
            for answer, drive in zip(emf_responses(states, places), self.drives, strict=True):
                if answer is not None:
                    moved += answer[..., point.orders - 1] * turn * (drive.watts / self.volts**2)
            moved *= np.broadcast_to(point.volts_error, point.volts.shape).reshape(-1, 1, 1) / error
            driven = np.array([_real(one) for one in moved.reshape(-1, *point.amps.shape)])
            blocks.append(np.diag(np.tile(own, 2) ** 2) + driven.T @ driven)
        return np.asarray(block_diag(*blocks))

    def fitted(self) -> tuple[FloatArray, FloatArray, float]:
        """Logarithms, their standard errors, and the misfit."""
        from scipy.optimize import least_squares

        factors = []
        for point in self.points:
            if point.watts <= 0.0:
                what = f"of {point.watts:.4g} W into the drives"
                valid = "power into the drives; are a sign or two phases wrong?"
                raise InputError("recording", what, valid)
            factors.append(math.log(point.watts / self.believed))
        trials = [factors]
        if self.capacitance:
            known = float(np.mean([drive.front_end.dc_capacitance_pu for drive in self.drives]))
            trials = [[*factors, math.log(size)] for size in (known, *_CAPACITANCES)]
        start = min(
            (np.array(trial) for trial in trials), key=lambda v: float(np.sum(self._residuals(v) ** 2))
        )
        steps = [1e-4] * start.size
        result = least_squares(self._residuals, start, x_scale="jac", diff_step=steps, max_nfev=40)
        degrees = result.fun.size - result.x.size
        misfit = math.sqrt(float(result.fun @ result.fun) / degrees)
        if not misfit < 0.1 * _FAILED:
            raise NoSolutionError("no load of these drives comes near the measured currents")
        slopes = np.asarray(result.jac, dtype=float)
        gain = np.linalg.pinv(slopes)
        covariance = gain @ self._noise(result.x) @ gain.T * max(1.0, misfit**2)
        return result.x, np.sqrt(np.diag(covariance)), misfit

    def rows(self, vector: FloatArray, errors: FloatArray) -> list[tuple[str, float, float]]:
        """Names, values and standard errors."""
        found = []
        for k in range(len(self.points)):
            load = 100.0 * self.believed / self.rated * math.exp(vector[k])
            found.append(
                (f"load_pct {k + 1}" if len(self.points) > 1 else "load_pct", load, load * errors[k])
            )
        if self.capacitance:
            size = math.exp(vector[-1])
            found.append(("dc_capacitance_pu", size, size * errors[-1]))
        return found


def _real(values: ComplexArray) -> FloatArray:
    """Real parts, then imaginary ones."""
    return np.concatenate([values.real.ravel(), values.imag.ravel()])
