"""Runs the compiled kernels over circuits of one shape and turns their integrals into results."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.errors import NoSolutionError
from xlcalc.rectifier.circuit import Circuit
from xlcalc.rectifier.kernels import entries
from xlcalc.rectifier.kernels.integrate import CHATTER, COLLAPSE, NO_CONVERGENCE, OK, SINGULAR
from xlcalc.rectifier.kernels.layout import WORK
from xlcalc.rectifier.kernels.quadrature import (
    DC_POWER,
    DC_VOLTS,
    LINE_SQUARE,
    LOSS,
    MEANS,
    SOURCE_POWER,
    TERMINAL_SQUARE,
)
from xlcalc.rectifier.packing import Packed, pack
from xlcalc.rectifier.result import ComplexArray, FloatArray, OrbitPoint, SteadyState

IntArray = npt.NDArray[np.int64]

SECTOR = math.pi / 3.0
START_ANGLE = 0.11
WARM_SECTORS = 12

REASONS = {
    NO_CONVERGENCE: "no periodic steady state was found: the shooting method did not converge",
    COLLAPSE: "the circuit cannot supply this load: the dc voltage collapses",
    CHATTER: "no periodic steady state was found: the diodes switch without end at one instant",
    SINGULAR: "no periodic steady state was found: a conducting loop without inductance",
}


@dataclass(frozen=True)
class Attempt:
    """How one shooting attempt starts: cold or from given points, plain running first, which map."""

    warm_sectors: int = WARM_SECTORS
    start: tuple[OrbitPoint, ...] | None = None
    sectors: int | None = None


def wanted_orders(sectors: int, max_order: int) -> IntArray:
    """Orders that the symmetry lets exist, ascending."""
    order: IntArray = np.arange(1, max_order + 1)
    kept = {1: (order % 6 == 1) | (order % 6 == 5), 2: order % 3 != 0, 3: order % 2 == 1}
    return order[kept[sectors]] if sectors in kept else order


def run_batch(
    circuits: Sequence[Circuit], packed: Sequence[Packed], max_order: int, attempt: Attempt
) -> list[SteadyState | NoSolutionError]:
    """Solve circuits of one shape (`Packed.shape_key`) in one kernel call, which frees other threads."""
    count = len(circuits)
    n = packed[0].bridges
    sectors = attempt.sectors or packed[0].sectors
    orders = wanted_orders(sectors, max_order)
    theta = np.full((count, 1), START_ANGLE)
    y = np.zeros((count, 6 * n))
    v = np.zeros((count, 1))
    mask = np.zeros((count, n), np.int64)
    if attempt.start is not None:
        for i, point in enumerate(attempt.start):
            theta[i, 0], y[i], v[i], mask[i] = point.theta, point.currents, point.volts, point.conducting
    jacobian = np.zeros((count, 3 * n + 1, 3 * n + 1))
    report = np.zeros((count, 3))
    current = np.zeros((count, n, 3, orders.size), np.complex128)
    square = np.zeros((count, n, 3))
    mean = np.zeros((count, MEANS))
    extreme = np.zeros((count, 2 + 3 * n))
    extreme[:, 0] = np.inf
    status = np.zeros(count, np.int64)
    entries.batch(
        np.concatenate([p.net for p in packed]),
        np.zeros(1, WORK),
        n,
        sectors,
        -(-attempt.warm_sectors // sectors),
        attempt.start is not None,
        orders,
        theta,
        y,
        v,
        mask,
        jacobian,
        report,
        current,
        square,
        mean,
        extreme,
        status,
    )
    full, squares, means = _full_cycle(current, square, mean, orders, sectors, max_order)
    peaks = _full_cycle_peaks(extreme[:, 2:].reshape(count, n, 3), sectors)
    multipliers = _multipliers(jacobian, report, status)
    results: list[SteadyState | NoSolutionError] = []
    for i, circuit in enumerate(circuits):
        if status[i] != OK:
            results.append(NoSolutionError(REASONS[int(status[i])]))
            continue
        watts = circuit.load_watts
        volts = circuit.supply.volts
        amps = watts / volts
        zero = [abs(value) ** 2 / 3.0 for order, value in circuit.supply.background if order % 3 == 0]
        results.append(
            SteadyState(
                circuit=circuit,
                bridge_phasors=full[i] * amps,
                line_rms=amps * np.sqrt(means[i, LINE_SQUARE : LINE_SQUARE + 3]),
                terminal_rms=volts * np.sqrt(means[i, TERMINAL_SQUARE : TERMINAL_SQUARE + 3] + sum(zero)),
                bridge_rms=amps * np.sqrt(squares[i]),
                bridge_peak=amps * peaks[i],
                dc_volts_mean=volts * float(means[i, DC_VOLTS]),
                dc_volts_min=volts * float(extreme[i, 0]),
                dc_volts_max=volts * float(extreme[i, 1]),
                dc_watts=watts * float(means[i, DC_POWER]),
                source_watts=watts * float(means[i, SOURCE_POWER]),
                loss_watts=watts * float(means[i, LOSS]),
                multiplier=float(multipliers[i]),
                stable=bool(abs(multipliers[i]) < 1.0),
                sectors=sectors,
                expected_sectors=packed[i].sectors,
                iterations=int(report[i, 1]),
                residual=float(report[i, 0]),
                orbit_point=OrbitPoint(float(theta[i, 0]), y[i].copy(), v[i].copy(), mask[i].copy()),
            )
        )
    return results


def trace_orbit(circuit: Circuit, point: OrbitPoint, angle: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Line currents (3, n) in A, terminal voltages (3, n) in V without zero sequence, at the given angles."""
    grid = np.zeros((angle.size, 5))
    grid[:, 0] = angle + 2.0 * math.pi * np.ceil((point.theta - angle) / (2.0 * math.pi))
    status = entries.trace(
        pack(circuit).net,
        np.zeros(1, WORK),
        point.theta,
        point.currents,
        point.volts,
        point.conducting,
        grid,
    )
    if status != OK:
        raise NoSolutionError(REASONS[int(status)])
    phases = np.array([[1.0, 0.0], [-0.5, math.sqrt(0.75)], [-0.5, -math.sqrt(0.75)]])
    amps = circuit.load_watts / circuit.supply.volts
    return amps * (phases @ grid[:, 1:3].T), circuit.supply.volts * (phases @ grid[:, 3:5].T)


def _full_cycle(
    current: ComplexArray,
    square: FloatArray,
    mean: FloatArray,
    orders: IntArray,
    sectors: int,
    max_order: int,
) -> tuple[ComplexArray, FloatArray, FloatArray]:
    """From integrals over one map to rms phasors of every order and means over the cycle.

    The symmetry is i_x(theta + 60 deg) = -i_{x+1}(theta), phases counted cyclically.
    """
    repeats = 6 // sectors
    phasors = np.zeros_like(current)
    squares = np.zeros_like(square)
    means = mean.copy()
    means[:, :6] = 0.0
    for r in range(repeats):
        turned = sectors * r
        rename = [(x + turned) % 3 for x in range(3)]
        phasors += (-1.0) ** turned * np.exp(-1j * orders * turned * SECTOR) * current[:, :, rename, :]
        squares += square[:, :, rename]
        for first in (LINE_SQUARE, TERMINAL_SQUARE):
            means[:, first : first + 3] += mean[:, [first + x for x in rename]] / repeats
    full = np.zeros((*current.shape[:3], max_order), np.complex128)
    full[..., orders - 1] = phasors * (2.0 / (2.0 * math.pi) / math.sqrt(2.0))
    return full, squares / (2.0 * math.pi), means / (sectors * SECTOR)


def _full_cycle_peaks(peak: FloatArray, sectors: int) -> FloatArray:
    turned = [[(x + sectors * r) % 3 for x in range(3)] for r in range(6 // sectors)]
    highest: FloatArray = np.max([peak[:, :, rename] for rename in turned], axis=0)
    return highest


def _multipliers(jacobian: FloatArray, report: FloatArray, status: IntArray) -> FloatArray:
    """Dominant eigenvalue of each map: signed where real, magnitude where complex."""
    result = np.zeros(status.size)
    sizes = report[:, 2].astype(int)
    for size in np.unique(sizes[status == OK]):
        chosen = np.flatnonzero((status == OK) & (sizes == size))
        eigen = np.linalg.eigvals(jacobian[chosen, :size, :size]).astype(np.complex128)
        top = eigen[np.arange(chosen.size), np.argmax(np.abs(eigen), axis=1)]
        real = np.abs(top.imag) <= 1e-9 * np.abs(top)
        result[chosen] = np.where(real, top.real, np.abs(top))
    return result
