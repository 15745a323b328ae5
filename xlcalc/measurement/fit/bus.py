"""Inputs of a supply and of all drives on a bus from a recording at the bus.

The drives are solved on the voltage that was measured, so that they need no supply and each other not; their
load and capacitance are those whose currents add up to the measured one. What the supply drops is then a
straight line of the measured current: its impedance and distortion are linear least squares.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import ComplexArray, FloatArray
from xlcalc.measurement.fit.bus_currents import BusCurrents, BusDrive
from xlcalc.measurement.fit.estimate import NO_DOUBT, TRUSTED
from xlcalc.measurement.fit.point import OperatingPoint
from xlcalc.measurement.fit.unknowns import BACKGROUND_ORDERS
from xlcalc.network.sequence import natural_sequence

BUS_FREE: Final = ("mva", "background", "unbalance", "load_pct", "dc_capacitance_pu")
_NAMES: Final = (*BUS_FREE, "xr")
_ROUNDS: Final = 3


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
    model = BusCurrents(points, drives, volts, capacitance="dc_capacitance_pu" in names)
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
