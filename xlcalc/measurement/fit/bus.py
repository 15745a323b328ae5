"""Inputs of a supply and of all drives on a bus from a recording at the bus.

The drives are solved on the voltage that was measured, so that they need no supply and each other not; their
load and capacitance are those whose currents add up to the measured one. What the supply drops is then a
straight line of the measured current: its impedance and distortion are linear least squares.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import ComplexArray, FloatArray
from xlcalc.measurement.fit.estimate import NO_DOUBT, TRUSTED
from xlcalc.measurement.fit.point import OperatingPoint
from xlcalc.measurement.fit.unknowns import BACKGROUND_ORDERS
from xlcalc.network.sequence import components, natural_sequence
from xlcalc.rectifier.circuit import Circuit, Load, ThreePhaseSource
from xlcalc.rectifier.drive import BASE_HZ, FrontEnd
from xlcalc.rectifier.steady_state import solve_many

BUS_FREE: Final = ("mva", "background", "unbalance", "load_pct", "dc_capacitance_pu")
_NAMES: Final = (*BUS_FREE, "xr")
_CAPACITANCES: Final = (0.3, 1.0, 3.0, 8.0)
_ROUNDS: Final = 3
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


@dataclass(frozen=True, kw_only=True)
class BusEstimate:
    """Fitted inputs of a bus and its drives.

    Parameters
    ----------
    names : tuple of str
        As in a study; with several points "load_pct 1", "load_pct 2" (of the rated power of all drives).
    values, standard_errors : array of float, shape (k,)
    remarks : tuple of str
        What qualifies the result.
    misfits : tuple of float
        Root of the mean square of the residuals over their errors, of the currents and of the voltages.
    mva, xr : float
        Of the supply.
    unbalance : complex
        Per unit of the positive sequence.
    background : dict of int to complex
        The same by order.
    residuals : tuple of array of complex, shape (2, n)
        Currents of the drives less measured ones, A, by point; positive and negative sequence.
    """

    names: tuple[str, ...]
    values: FloatArray
    standard_errors: FloatArray
    remarks: tuple[str, ...]
    misfits: tuple[float, float]
    mva: float
    xr: float
    unbalance: complex
    background: dict[int, complex]
    residuals: tuple[ComplexArray, ...]

    @property
    def indistinguishable(self) -> tuple[str, ...]:
        """Sentences on what is hardly known."""
        return tuple(
            f"{name} is known no better than {value:.3g} +- {NO_DOUBT * error:.2g}"
            for name, value, error in zip(self.names, self.values, self.standard_errors, strict=True)
            if name in ("mva", "xr", "dc_capacitance_pu") and error > TRUSTED * value
        )


def estimate_bus(
    points: Sequence[OperatingPoint],
    drives: Sequence[BusDrive],
    *,
    volts: float,
    mva: float,
    xr: float,
    free: Iterable[str] = BUS_FREE,
) -> BusEstimate:
    """Find the supply of a bus, and load and capacitance of its drives.

    Parameters
    ----------
    points : sequence of OperatingPoint
        Voltage of the bus and current of all its drives together.
    drives : sequence of BusDrive
        Each behind a line reactor. What each takes is known but for one factor of all loads, and with
        "dc_capacitance_pu" all have one capacitance: a sum of currents does not tell drives apart.
    volts : float
        Nominal line-to-line voltage, V.
    mva, xr : float
        Of the supply, where they are not free.
    free : iterable of str
        Of "mva", "xr", "background", "unbalance", "load_pct", "dc_capacitance_pu"; the load is always found.

    Raises
    ------
    InputError
        An unknown name, no drive, one without a line reactor, or power out of the drives.
    NoSolutionError
        No load explains the currents.
    """
    names = tuple(dict.fromkeys(free))
    if unknown := [name for name in names if name not in _NAMES]:
        raise InputError("free", unknown[0], "some of " + ", ".join(_NAMES), wrong_kind=True)
    if not points or not drives:
        raise InputError("records and drives", "none", "one of each, or more", wrong_kind=True)
    for drive in drives:
        if not drive.front_end.reactor_pct > 0.0:
            valid = "above 0: the voltage of the bus alone does not tell how a bare drive commutates"
            raise InputError("line_reactor_pct", drive.front_end.reactor_pct, valid)
    model = _Currents(points, drives, volts, capacitance="dc_capacitance_pu" in names)
    found, errors, misfit = model.fitted()
    supply = _supply(points, volts, names, mva, xr)
    rows = [*supply.rows, *model.rows(found, errors)]
    remarks = [
        f"the residuals of the {what} are {size:.3g} times their noise: something that is held fixed, or is "
        "not modelled, differs; the standard errors are enlarged by it"
        for what, size in (("currents", misfit), ("voltages", supply.misfit))
        if size > 3.0
    ]
    return BusEstimate(
        names=tuple(name for name, _, _ in rows),
        values=np.array([value for _, value, _ in rows]),
        standard_errors=np.array([error for _, _, error in rows]),
        remarks=tuple(remarks),
        misfits=(misfit, supply.misfit),
        mva=supply.mva,
        xr=supply.xr,
        unbalance=supply.unbalance,
        background=supply.background,
        residuals=tuple(model.differences(found)),
    )


class _Currents:
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

    def differences(self, vector: FloatArray) -> list[ComplexArray]:
        """Currents of the drives less measured ones, by point."""
        capacitance = math.exp(vector[-1]) if self.capacitance else math.nan
        circuits = [
            self._circuit(point, drive, math.exp(vector[k]), capacitance)
            for k, point in enumerate(self.points)
            for drive in self.drives
        ]
        states = solve_many(circuits)
        found = []
        for k, point in enumerate(self.points):
            total = np.zeros_like(point.amps)
            turn = np.exp(1j * point.orders * cmath.phase(complex(point.volts[0, 0])))
            for place, drive in enumerate(self.drives):
                state = states[k * len(self.drives) + place]
                if isinstance(state, NoSolutionError):
                    raise state
                amps = components(state.line_phasors)[1:, point.orders - 1]
                total = total + amps * turn * (drive.watts / self.volts)
            found.append(total - point.amps)
        return found

    def _residuals(self, vector: FloatArray) -> FloatArray:
        try:
            parts = [d / error for d, error in zip(self.differences(vector), self.errors, strict=True)]
        except (InputError, NoSolutionError):
            return np.full(sum(4 * point.orders.size for point in self.points), _FAILED)
        return np.concatenate([np.concatenate([p.real.ravel(), p.imag.ravel()]) for p in parts])

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
        covariance = np.linalg.pinv(slopes.T @ slopes) * max(1.0, misfit**2)
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


@dataclass(frozen=True, kw_only=True)
class _SupplyFound:
    mva: float
    xr: float
    unbalance: complex
    background: dict[int, complex]
    misfit: float
    rows: list[tuple[str, float, float]]


@dataclass(frozen=True)
class _Impedance:
    """Of the supply at the nominal frequency, ohm; `variance` of its free parts; misfit of the voltages."""

    x: float
    r: float
    variance: FloatArray
    misfit: float = 0.0

    def ohms(self, point: OperatingPoint) -> ComplexArray:
        """By order, at the frequency of a point."""
        return np.asarray(self.r + 1j * self.x * point.orders * (point.hz / point.nominal_hz))


def _impedance(
    points: Sequence[OperatingPoint], volts: float, names: Sequence[str], mva: float, xr: float
) -> _Impedance:
    """From the orders that the supply does not distort: what drops there is the current's."""
    x = volts**2 / (1e6 * mva) / math.hypot(1.0, 1.0 / xr)
    free = [name in names for name in ("mva", "xr")]
    found = _Impedance(x, x / xr, np.zeros((2, 2)))
    for _ in range(_ROUNDS if any(free) else 0):
        rows, right = [], []
        for point in points:
            used = _undistorted(point, names)
            error = np.hypot(point.volts_error, np.abs(found.ohms(point)) * point.amps_error)[used]
            amps = (np.ones((2, 1)) * point.amps)[used] / error
            reach = np.broadcast_to(point.orders * (point.hz / point.nominal_hz), used.shape)[used]
            by_x = (1j * reach + (0.0 if free[1] else 1.0 / xr)) * amps
            drop = -point.volts[used] / error - (0.0 if free[0] else x * by_x)
            rows.append(np.stack([by_x, amps], axis=1)[:, free])
            right.append(drop)
        table, wanted = np.concatenate(rows), np.concatenate(right)
        matrix = np.concatenate([table.real, table.imag])
        target = np.concatenate([wanted.real, wanted.imag])
        solution = np.linalg.lstsq(matrix, target, rcond=None)[0]
        rest = target - matrix @ solution
        misfit = math.sqrt(float(rest @ rest) / max(1, target.size - solution.size))
        parts = dict(zip(np.flatnonzero(free).tolist(), solution.tolist(), strict=True))
        reactance = max(1e-12, parts.get(0, x))
        variance = np.zeros((2, 2))
        variance[np.ix_(free, free)] = np.linalg.pinv(matrix.T @ matrix) * max(1.0, misfit**2)
        resistance = max(0.0, parts[1]) if free[1] else reactance / xr
        found = _Impedance(reactance, resistance, variance, misfit)
    return found


def _undistorted(point: OperatingPoint, names: Sequence[str]) -> npt.NDArray[np.bool_]:
    """Sequences and orders in which the supply has no voltage of its own."""
    used = np.broadcast_to(point.orders % 3 != 0, point.volts.shape).copy()
    for column, order in enumerate(point.orders.tolist()):
        own = 0 if natural_sequence(order) == 1 else 1
        if order == 1:
            used[0, column] = False
            used[1, column] = "unbalance" not in names
        elif "background" in names and order in BACKGROUND_ORDERS:
            used[own, column] = False
    return used


def _supply(
    points: Sequence[OperatingPoint], volts: float, names: Sequence[str], mva: float, xr: float
) -> _SupplyFound:
    """Impedance, and what the supply distorts behind it."""
    z = _impedance(points, volts, names, mva, xr)
    x, r = z.x, max(z.r, 1e-12)
    level = volts**2 / math.hypot(x, r) / 1e6
    rows = []
    if "mva" in names:
        rows.append(("mva", level, level * math.sqrt(z.variance[0, 0]) / x))
    if "xr" in names:
        rows.append(("xr", x / r, x * math.sqrt(z.variance[1, 1]) / r**2))
    behind = [_behind(point, z) for point in points]
    for k, (_, errors, size) in enumerate(behind):
        share = 100.0 * math.sqrt(3.0) / volts
        tail = f" {k + 1}" if len(points) > 1 else ""
        rows.append((f"emf_pct{tail}", share * size, share * size * float(errors[0, 0])))
    background: dict[int, complex] = {}
    unbalance = 0j
    if "unbalance" in names:
        unbalance, error = _mean([(emf[1, 0], errors[1, 0]) for emf, errors, _ in behind])
        rows += _polar("unbalance", unbalance, error)
    for order in BACKGROUND_ORDERS if "background" in names else ():
        row = 0 if natural_sequence(order) == 1 else 1
        seen = [
            (emf[row, k], errors[row, k])
            for point, (emf, errors, _) in zip(points, behind, strict=True)
            for k in np.flatnonzero(point.orders == order)
        ]
        if seen:
            background[order], error = _mean(seen)
            rows += _polar(f"background {order}th", background[order], error)
    return _SupplyFound(
        mva=level, xr=x / r, unbalance=unbalance, background=background, misfit=z.misfit, rows=rows
    )


def _behind(point: OperatingPoint, z: _Impedance) -> tuple[ComplexArray, FloatArray, float]:
    """EMF and the errors of its parts, per unit of its fundamental, and that, V to neutral."""
    ohms = z.ohms(point)
    emf = point.volts + ohms * point.amps
    own = np.hypot(point.volts_error, np.abs(ohms) * point.amps_error)
    error = np.hypot(own, point.orders * np.abs(point.amps) * math.sqrt(z.variance[0, 0]))
    size, angle = float(abs(emf[0, 0])), cmath.phase(complex(emf[0, 0]))
    return emf / size * np.exp(-1j * point.orders * angle), error / size, size


def _mean(seen: Sequence[tuple[complex, float]]) -> tuple[complex, float]:
    values, errors = zip(*seen, strict=True)
    return complex(np.mean(values)), math.sqrt(sum(error**2 for error in errors)) / len(seen)


def _polar(name: str, value: complex, error: float) -> list[tuple[str, float, float]]:
    degrees = math.degrees(error / max(abs(value), 1e-12))
    return [
        (f"{name} pct", 100.0 * abs(value), 100.0 * error),
        (f"{name} deg", math.degrees(cmath.phase(value)), degrees),
    ]
