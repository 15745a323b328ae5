"""An operating point: mean phasors of a recording in sequences, and how well they are known."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice
from typing import Final

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray
from xlcalc.measurement.groups import standard_cycles
from xlcalc.measurement.recording import CURRENT, VOLTAGE, Recording
from xlcalc.measurement.windows import Window, windows
from xlcalc.network.sequence import components

MOST_WINDOWS: Final = 3_000
"""Ten minutes: a recording that is longer holds more than one operating point."""
STEADY: Final = 0.02
"""Scatter of the fundamental current, of its mean, above which a recording is no single operating point."""
_UNKNOWN_NOISE: Final = 1e-3
_PASSES: Final = 3
_LINE_TURN: Final = np.array(
    [1.0, np.sqrt(3.0) * np.exp(1j * np.pi / 6), np.sqrt(3.0) * np.exp(-1j * np.pi / 6)]
)
_PHASES: Final = "abc"


@dataclass(frozen=True, kw_only=True)
class OperatingPoint:
    """Mean phasors by order and sequence, angles against the fundamental of the voltage.

    Parameters
    ----------
    orders : array of int, shape (n,)
        Odd orders from 1 on, as far as they were recorded.
    volts, amps : array of complex, shape (2, n)
        Positive and negative sequence, rms; V to neutral, A.
    volts_error, amps_error : array of float, shape (2, n)
        Standard deviation of the real and of the imaginary part of each mean.
    hz : float
        Mean frequency.
    nominal_hz : float
        50 or 60.
    windows : int
        How many windows were averaged.
    scatter : float
        Standard deviation of the fundamental current over the windows, of its mean.
    """

    orders: npt.NDArray[np.int64]
    volts: ComplexArray
    amps: ComplexArray
    volts_error: FloatArray
    amps_error: FloatArray
    hz: float
    nominal_hz: float
    windows: int
    scatter: float

    @property
    def watts(self) -> float:
        """Power of the fundamental of positive sequence."""
        return float(3.0 * np.real(self.volts[0, 0] * np.conj(self.amps[0, 0])))


def operating_point(
    recording: Recording, *, nominal_hz: float | None = None, hz: float | None = None
) -> OperatingPoint:
    """Mean phasors of a recording of three phases.

    The noise of a phasor is taken from the lines between the orders, and from the scatter of the windows
    where that is larger.

    Parameters
    ----------
    recording : Recording
        Voltages a, b, c or two of ab, bc, ca, and two or three currents of a load without neutral.
    nominal_hz, hz : float, optional
        As in `xlcalc.measurement.windows.windows`.

    Raises
    ------
    InputError
        Too few channels, or no load.
    NoSolutionError
        No window is complete, or the recording has no frequency.
    """
    volts = _sequence_matrix(recording, VOLTAGE)
    amps = _sequence_matrix(recording, CURRENT)
    row = windows(recording, nominal_hz=nominal_hz, hz=hz)
    used = [
        window
        for window in islice(row, MOST_WINDOWS)
        if np.all(np.isfinite(window.lines)) and not window.extra
    ]
    if not used:
        raise NoSolutionError("no window of the recording is complete on all channels")
    cycles = used[0].cycles
    last = min(MAX_ORDER, (min(window.lines.shape[1] for window in used) - 1) // cycles)
    orders = np.arange(1, last + 1, 2)
    lines = np.array([[m @ window.lines[:, : last * cycles + 1] for m in (volts, amps)] for window in used])
    found = lines[:, :, :, orders * cycles]
    floor = _floor(lines, found, cycles)
    found = _aligned(found, floor, orders)
    mean = found.mean(axis=0)
    count = len(used)
    variance = np.broadcast_to(floor[:, None, None], mean.shape).copy()
    if count > 2:
        spread = np.sum(np.abs(found - mean) ** 2, axis=0) / (2.0 * (count - 1))
        variance = np.maximum(variance, spread.mean(axis=1, keepdims=True))
    error = np.sqrt(variance / count)
    size = np.abs(found[:, 1, 0, 0])
    if not size.mean() > 0.0:
        raise InputError("recording", "without a fundamental current", "the recording of a running load")
    return OperatingPoint(
        orders=orders,
        volts=mean[0],
        amps=mean[1],
        volts_error=error[0],
        amps_error=error[1],
        hz=float(np.mean([window.hz for window in used])),
        nominal_hz=nominal_hz or _nominal(used[0]),
        windows=count,
        scatter=float(size.std() / size.mean()),
    )


def _nominal(window: Window) -> float:
    if window.short:
        return min((50.0, 60.0), key=lambda nominal: abs(window.hz - nominal))
    return next(nominal for nominal in (50.0, 60.0) if standard_cycles(nominal) == window.cycles)


def _sequence_matrix(recording: Recording, quantity: str) -> ComplexArray:
    """From channels to positive and negative sequence of the value to neutral, shape (2, channels)."""
    columns = {
        channel.phase: column
        for column, channel in enumerate(recording.channels)
        if channel.quantity == quantity
    }
    matrix = np.zeros((3, len(recording.channels)), np.complex128)
    lines = [columns.get(pair) for pair in ("ab", "bc", "ca")]
    phases = [columns.get(phase) for phase in _PHASES]
    whole = [column for column in phases if column is not None]
    if len(whole) == 3:
        matrix[:, whole] = components(np.eye(3, dtype=complex))
    elif quantity == VOLTAGE and lines.count(None) <= 1:
        matrix = _closed(lines, matrix) / _LINE_TURN[:, None]
    elif quantity == CURRENT and phases.count(None) <= 1:
        matrix = _closed(phases, matrix)
    else:
        valid = {
            VOLTAGE: "voltages a, b, c, or two of ab, bc, ca",
            CURRENT: "currents of two phases or three",
        }[quantity]
        held = ", ".join(sorted(filter(None, columns))) or "none"
        raise InputError(f"phases of the {quantity}", held, valid)
    return np.asarray(matrix[1:], np.complex128)


def _closed(columns: list[int | None], matrix: ComplexArray) -> ComplexArray:
    """Sequences of three values whose sum is zero, of which one may be missing."""
    full = np.zeros_like(matrix)
    for row, column in enumerate(columns):
        if column is not None:
            full[row, column] = 1.0
    for row, column in enumerate(columns):
        if column is None:
            full[row] = -full.sum(axis=0)
    return components(full)


def _floor(lines: ComplexArray, found: ComplexArray, cycles: int) -> FloatArray:
    """Variance of a part of a line, by quantity, from the lines in the middle between orders."""
    place = np.arange(lines.shape[-1]) % cycles
    between = (place >= 0.3 * cycles) & (place <= 0.7 * cycles) & (np.arange(lines.shape[-1]) > cycles)
    if cycles < 4 or not between.any():
        return np.asarray(0.5 * (_UNKNOWN_NOISE * np.abs(found[:, :, 0, 0]).mean(axis=0)) ** 2)
    least = (1e-9 * np.abs(found[:, :, 0, 0]).mean(axis=0)) ** 2
    return np.asarray(np.maximum(0.5 * np.mean(np.abs(lines[..., between]) ** 2, axis=(0, 2, 3)), least))


def _aligned(found: ComplexArray, floor: FloatArray, orders: npt.NDArray[np.int64]) -> ComplexArray:
    """Windows turned to one origin of time: the voltage first, then whatever all phasors agree on best."""
    turned = found * np.exp(-1j * orders * np.angle(found[:, 0, 0, 0])[:, None, None, None])
    weight = 1.0 / floor[:, None, None]
    for _ in range(_PASSES):
        mean = turned.mean(axis=0)
        above = np.sum(weight * orders * np.imag(np.conj(mean) * turned), axis=(1, 2, 3))
        angle = above / np.sum(weight * orders**2 * np.abs(mean) ** 2)
        turned = turned * np.exp(-1j * orders * angle[:, None, None, None])
    return np.asarray(turned)
