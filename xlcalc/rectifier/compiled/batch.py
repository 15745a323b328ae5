"""Runs the compiled kernels over circuits of one shape and turns their integrals into results."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.circuit import Circuit, emf_phasors
from xlcalc.rectifier.compiled.buffers import MAX_ITERATIONS, Buffers
from xlcalc.rectifier.compiled.packing import PackedCircuit
from xlcalc.rectifier.filtered import impedances, line_phasors
from xlcalc.rectifier.kernels.layout import (
    CAPACITOR_SQUARE,
    CHATTER,
    COLLAPSE,
    DC_POWER,
    DC_VOLTS,
    LINE_SQUARE,
    LOSS,
    NO_CONVERGENCE,
    OK,
    SINGULAR,
    SOURCE_POWER,
    TERMINAL_SQUARE,
    TOO_FAST,
)
from xlcalc.rectifier.result import ComplexArray, FloatArray, IntArray, OrbitPoint, SteadyState

SECTOR = math.pi / 3.0
WARM_SECTORS = 12
HIGHEST_ORDER = 200
"""Orders that integrals ahead of a passive filter take in; above is less than 1e-6 of the current."""

REASONS = {
    NO_CONVERGENCE: "no periodic steady state was found: the shooting method did not converge",
    COLLAPSE: "the circuit cannot supply this load: the dc voltage collapses",
    CHATTER: "no periodic steady state was found: the diodes switch without end at one instant",
    TOO_FAST: "no periodic steady state was found: part of the circuit is too fast to be followed, such as a "
    "resistance behind a very small inductance or capacitor",
    SINGULAR: "no periodic steady state was found: a conducting loop without inductance",
}


@dataclass(frozen=True)
class Attempt:
    """How one shooting attempt starts (cold or from points, after plain running), its map and patience."""

    warm_sectors: int = WARM_SECTORS
    start: tuple[OrbitPoint, ...] | None = None
    sectors: int | None = None
    max_iterations: int = MAX_ITERATIONS


@lru_cache(maxsize=32)
def wanted_orders(sectors: int, max_order: int) -> IntArray:
    """Orders that the symmetry lets exist, ascending; not to be written to."""
    order: IntArray = np.arange(1, max_order + 1)
    kept = {1: (order % 6 == 1) | (order % 6 == 5), 2: order % 3 != 0, 3: order % 2 == 1}
    wanted = order[kept[sectors]] if sectors in kept else order
    wanted.setflags(write=False)
    return wanted


def run_batch(
    circuits: Sequence[Circuit], packed: Sequence[PackedCircuit], max_order: int, attempt: Attempt
) -> list[SteadyState | NoSolutionError]:
    """Solve circuits of one shape (`PackedCircuit.shape_key`) in one kernel call."""
    count = len(circuits)
    n = packed[0].bridges
    sectors = attempt.sectors or packed[0].sectors
    asked = max_order
    if packed[0].filtered:
        max_order = HIGHEST_ORDER
    orders = wanted_orders(sectors, max_order)
    if attempt.start is None:
        buffers = Buffers.cold(count, n, orders.size, packed[0].terms)
    else:
        buffers = Buffers.from_points(attempt.start, orders.size)
    nets = np.concatenate([p.net for p in packed])
    warm_maps = -(-attempt.warm_sectors // sectors)
    buffers.run(nets, sectors, warm_maps, attempt.start is not None, orders, attempt.max_iterations)

    watts = np.array([circuit.load_watts for circuit in circuits])
    volts = np.array([circuit.supply.volts for circuit in circuits])
    amps = watts / volts
    full, squares, means = _full_cycle(buffers, orders, sectors, max_order)
    phasors = full * amps[:, None, None, None]
    line_rms = amps[:, None] * np.sqrt(means[:, LINE_SQUARE : LINE_SQUARE + 3])
    zero = np.array([_zero_sequence_square(circuit) for circuit in circuits])
    terminal_rms = volts[:, None] * np.sqrt(means[:, TERMINAL_SQUARE : TERMINAL_SQUARE + 3] + zero[:, None])
    bridge_rms = amps[:, None, None] * np.sqrt(squares)
    peaks = amps[:, None, None] * _full_cycle_peaks(buffers.extreme[:, 2:].reshape(count, n, 3), sectors)
    dc_volts = np.stack([means[:, DC_VOLTS], buffers.extreme[:, 0], buffers.extreme[:, 1]], axis=1)
    dc_volts *= volts[:, None]
    power = means[:, [DC_POWER, SOURCE_POWER, LOSS]] * watts[:, None]
    capacitor_rms = amps * np.sqrt(means[:, CAPACITOR_SQUARE])
    finite = np.isfinite(buffers.jacobian).all(axis=(1, 2)) & np.isfinite(buffers.load_current)
    buffers.status[(buffers.status == OK) & ~finite] = SINGULAR
    multipliers = _multipliers(buffers)
    _refuse_falling_power(buffers, nets["mean_power"] > 0.0)
    results: list[SteadyState | NoSolutionError] = []
    for i, circuit in enumerate(circuits):
        if buffers.status[i] != OK:
            results.append(NoSolutionError(REASONS[int(buffers.status[i])]))
            continue
        mean, low, high = dc_volts[i].tolist()
        load, source, loss = power[i].tolist()
        results.append(
            SteadyState(
                circuit=circuit,
                bridge_phasors=phasors[i],
                line_rms=line_rms[i],
                terminal_rms=terminal_rms[i],
                bridge_rms=bridge_rms[i],
                bridge_peak=peaks[i],
                dc_volts_mean=mean,
                dc_volts_min=low,
                dc_volts_max=high,
                capacitor_rms=float(capacitor_rms[i]),
                dc_watts=load,
                source_watts=source,
                loss_watts=loss,
                multiplier=float(multipliers[i]),
                stable=bool(abs(multipliers[i]) < 1.0),
                sectors=sectors,
                expected_sectors=packed[i].sectors,
                iterations=int(buffers.report[i, 1]),
                residual=float(buffers.report[i, 0]),
                orbit_point=buffers.point(i),
            )
        )
    if packed[0].filtered:
        return [r if isinstance(r, NoSolutionError) else _as_supplied(r, asked) for r in results]
    return results


def settle(packed: PackedCircuit, start: OrbitPoint, cycles: int) -> OrbitPoint:
    """State after plain running for a number of cycles; where the run ends early, the state it ended in."""
    buffers = Buffers.from_points([start], 1)
    buffers.run(packed.net, 6, cycles, True, np.ones(1, np.int64), max_iterations=0)
    return buffers.point(0)


def _as_supplied(state: SteadyState, max_order: int) -> SteadyState:
    """A solution up to `HIGHEST_ORDER` with rms values, power and losses taken ahead of the filter."""
    circuit = state.circuit
    orders = np.arange(1, state.max_order + 1)
    emf = emf_phasors(circuit.supply, state.max_order)
    through = state.rectifier_current
    line = line_phasors(circuit, through, emf)
    upstream, shunt = impedances(circuit, orders)
    behind = upstream * shunt / (upstream + shunt)
    terminal = emf - circuit.supply.impedance(orders) * line

    def dissipated(impedance: ComplexArray, current: ComplexArray) -> float:
        return float(np.sum(impedance.real * np.abs(current) ** 2))

    return replace(
        state,
        bridge_phasors=state.bridge_phasors[:, :, :max_order],
        line_rms=np.linalg.norm(line, axis=1),
        terminal_rms=np.linalg.norm(terminal, axis=1),
        source_watts=float(np.sum((emf * np.conj(line)).real)),
        loss_watts=state.loss_watts
        - dissipated(behind, through)
        + dissipated(upstream, line)
        + dissipated(shunt, line - through),
    )


def _zero_sequence_square(circuit: Circuit) -> float:
    """Mean square of the zero-sequence voltage, per unit of the line voltage."""
    return sum(abs(value) ** 2 / 3.0 for order, value in circuit.supply.background if order % 3 == 0)


def _full_cycle(
    buffers: Buffers, orders: IntArray, sectors: int, max_order: int
) -> tuple[ComplexArray, FloatArray, FloatArray]:
    """From integrals over one map to rms phasors of every order and means over the cycle.

    The symmetry is i_x(theta + 60 deg) = -i_{x+1}(theta), phases counted cyclically.
    """
    turn, times = _turns(sectors, max_order)
    phasors = np.einsum("xyh,bnyh->bnxh", turn, buffers.current)
    squares = buffers.square @ times.T
    means = buffers.mean.copy()
    for first in (LINE_SQUARE, TERMINAL_SQUARE):
        means[:, first : first + 3] = buffers.mean[:, first : first + 3] @ times.T * (sectors / 6.0)
    full = np.zeros((*phasors.shape[:3], max_order), np.complex128)
    full[..., orders - 1] = phasors / (math.pi * math.sqrt(2.0))
    return full, squares / (2.0 * math.pi), means / (sectors * SECTOR)


@lru_cache(maxsize=32)
def _turns(sectors: int, max_order: int) -> tuple[ComplexArray, FloatArray]:
    """Part of each phase's cycle that each phase's map is: turn (3, 3, orders) of phasors, times (3, 3)."""
    orders = wanted_orders(sectors, max_order)
    turn = np.zeros((3, 3, orders.size), np.complex128)
    times = np.zeros((3, 3))
    for later in range(0, 6, sectors):
        for x in range(3):
            turn[x, (x + later) % 3] += (-1.0) ** later * np.exp(-1j * orders * later * SECTOR)
            times[x, (x + later) % 3] += 1.0
    return turn, times


def _full_cycle_peaks(peak: FloatArray, sectors: int) -> FloatArray:
    turned = [[(x + sectors * r) % 3 for x in range(3)] for r in range(6 // sectors)]
    highest: FloatArray = np.max([peak[:, :, rename] for rename in turned], axis=0)
    return highest


def _refuse_falling_power(buffers: Buffers, mean_power: npt.NDArray[np.bool_]) -> None:
    """Take back solutions in which a larger load current draws less power.

    They lie beyond the most that the circuit can supply; an inverter that asks for its power there draws ever
    more current until the voltage has collapsed. The relative rise of power with current is the determinant
    of the Newton system over that of its part with the current held.
    """
    for i in np.flatnonzero(mean_power & (buffers.status == OK)):
        size = int(buffers.report[i, 2])
        residual = np.eye(size + 1) - buffers.jacobian[i, : size + 1, : size + 1]
        held = np.linalg.slogdet(residual[:size, :size])[0]
        if np.linalg.slogdet(residual)[0] * held <= 0.0:
            buffers.status[i] = COLLAPSE


def _multipliers(buffers: Buffers) -> FloatArray:
    """Dominant eigenvalue of each map: signed where real, magnitude where complex.

    The current of a load with a mean power is held: it follows the mean voltage over many cycles only.
    """
    result = np.zeros(buffers.status.size)
    sizes = buffers.report[:, 2].astype(int)
    solved = buffers.status == OK
    for size in set(sizes[solved].tolist()):
        chosen = np.flatnonzero(solved & (sizes == size))
        eigen = np.linalg.eigvals(buffers.jacobian[chosen, :size, :size]).astype(np.complex128)
        top = eigen[np.arange(chosen.size), np.argmax(np.abs(eigen), axis=1)]
        real = np.abs(top.imag) <= 1e-9 * np.abs(top)
        result[chosen] = np.where(real, top.real, np.abs(top))
    return result
