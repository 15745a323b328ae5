"""Waveforms of a solved front end, from the solution itself and not from its Fourier series."""

from __future__ import annotations

import math

import numpy as np

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.rectifier.circuit import Circuit
from xlcalc.rectifier.compiled.batch import REASONS
from xlcalc.rectifier.compiled.buffers import Buffers
from xlcalc.rectifier.compiled.packing import pack
from xlcalc.rectifier.filtered import TRACED, drawn
from xlcalc.rectifier.kernels.layout import OK
from xlcalc.rectifier.result import ComplexArray, FloatArray, IntArray, OrbitPoint, SteadyState


def waveforms(state: SteadyState, count: int = 360) -> tuple[FloatArray, FloatArray, FloatArray]:
    """One cycle of the line currents and terminal voltages.

    Parameters
    ----------
    state : SteadyState
    count : int
        Samples, 1 to 100000, on a uniform grid that starts at w t = 0.

    Returns
    -------
    degrees : array, shape (count,)
    line_currents : array, shape (3, count)
        A.
    terminal_volts : array, shape (3, count)
        To neutral, V.

    Raises
    ------
    InputError
        `count` is outside its range.
    """
    if not 1 <= count <= 100_000:
        raise InputError("count", count, "1 to 100000 points")
    circuit, point = state.circuit, state.orbit_point
    angle = 2.0 * math.pi * np.arange(count) / count
    current, volts = _phases_traced(circuit, point, angle)
    if circuit.filter is not None:
        fine = 2.0 * math.pi * np.arange(TRACED) / TRACED
        current, volts = drawn(circuit, _phases_traced(circuit, point, fine), (current, volts))
    return np.degrees(angle), current, volts + _zero_sequence(circuit, angle)


def rectifier_currents(state: SteadyState, count: int) -> FloatArray:
    """One cycle of the currents behind a filter, which the line reactor carries, A; shape (3, count)."""
    angle = 2.0 * math.pi * np.arange(count) / count
    return _phases_traced(state.circuit, state.orbit_point, angle)[0]


def _phases_traced(circuit: Circuit, point: OrbitPoint, angle: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Line currents (3, n) in A, terminal voltages (3, n) in V without zero sequence, at the given angles."""
    current, volts, _ = trace_vectors(circuit, point, angle)
    phases = np.array([1.0, np.exp(2j * math.pi / 3.0), np.exp(-2j * math.pi / 3.0)])[:, None]
    return (np.conj(phases) * current).real, (np.conj(phases) * volts).real


def trace_vectors(
    circuit: Circuit, point: OrbitPoint, angle: FloatArray
) -> tuple[ComplexArray, ComplexArray, IntArray]:
    """Line current and terminal voltage as space vectors (n,), peak of phase a, and the conducting diodes
    (bridges, n), at the given angles.

    Bit x is the upper diode of phase x of a bridge, bit 3 + x its lower one.
    """
    grid = np.zeros((1, angle.size, 5 + point.conducting.size))
    grid[0, :, 0] = angle + 2.0 * math.pi * np.ceil((point.theta - angle) / (2.0 * math.pi))
    buffers = Buffers.tracing([point], grid)
    buffers.run(pack(circuit).net, 6, 0, True, np.ones(1, np.int64))
    if buffers.status[0] != OK:
        raise NoSolutionError(REASONS[int(buffers.status[0])])
    amps = circuit.load_watts / circuit.supply.volts
    vectors = grid[0, :, 1:5].copy().view(np.complex128).T
    return amps * vectors[0], circuit.supply.volts * vectors[1], grid[0, :, 5:].T.astype(np.int64)


def _zero_sequence(circuit: Circuit, angle: FloatArray) -> FloatArray:
    total = np.zeros_like(angle)
    peak = circuit.supply.volts * math.sqrt(2.0 / 3.0)
    origin = math.radians(circuit.supply.angle_deg)
    for order, value in circuit.supply.background:
        if order % 3 == 0:
            total += peak * np.real(value * np.exp(1j * order * (angle + origin)))
    return total
