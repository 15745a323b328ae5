"""How the line current of a running front end answers small changes of the EMF."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from xlcalc.core.errors import InputError
from xlcalc.rectifier.compiled.buffers import with_currents
from xlcalc.rectifier.compiled.machine_code import call
from xlcalc.rectifier.compiled.packing import PHASE_PEAK, PackedCircuit, pack
from xlcalc.rectifier.filtered import line_response, shunt_share
from xlcalc.rectifier.kernels.layout import MAX_CHANGES, OK, RESPONSE_NODES, WORK
from xlcalc.rectifier.result import ComplexArray, FloatArray, IntArray, SteadyState

Place = tuple[int, int]
CHUNK = 32
MAX_PLACES = MAX_CHANGES // 2


def emf_responses(
    states: Sequence[SteadyState], places: Sequence[Place], max_order: int = 50
) -> list[ComplexArray | None]:
    """Change of the line current per change of the EMF, from the derivative of the solution.

    The front end answers a change in one order with all orders, and one that is turned by 90 degrees
    differently: the response is linear over the reals only.

    Parameters
    ----------
    states : sequence of SteadyState
    places : sequence of (order, sequence)
        Orders 1 to 50 and sequences 1 or -1 of the changes, 50 at most. They must keep the symmetry of the
        solution: 6k + 1 positive and 6k - 1 negative always do.
    max_order : int
        Highest order of the answer.

    Returns
    -------
    list of array (2, places, 2, max_order), or None
        First axis: change of the EMF as it stands and ahead by 90 degrees. Third: positive and negative
        sequence of the line current. Phasors of the current per phasor of the EMF to neutral, A / V.
        None where the orbit could not be followed.

    Raises
    ------
    InputError
        More places than fit, or one that does not keep the symmetry of a solution.
    """
    if not 1 <= len(places) <= MAX_PLACES:
        raise InputError("places", len(places), f"1 to {MAX_PLACES}")
    groups: dict[tuple[int, ...], list[int]] = {}
    packs = [pack(state.circuit) for state in states]
    for k, (state, packed) in enumerate(zip(states, packs, strict=True)):
        for order, sequence in places:
            if (order - sequence) * state.sectors % 6:
                raise InputError("place", (order, sequence), f"symmetric over {state.symmetry}")
        groups.setdefault((*packed.shape_key, state.sectors), []).append(k)
    chunks = [members[i : i + CHUNK] for members in groups.values() for i in range(0, len(members), CHUNK)]

    def work(chunk: list[int]) -> list[ComplexArray | None]:
        return _responses([states[k] for k in chunk], [packs[k] for k in chunk], places, max_order)

    if len(chunks) == 1:
        answers = [work(chunks[0])]
    else:
        with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
            answers = list(pool.map(work, chunks))
    found = {
        k: one
        for chunk, part in zip(chunks, answers, strict=True)
        for k, one in zip(chunk, part, strict=True)
    }
    return [found[k] for k in range(len(states))]


def _responses(
    states: Sequence[SteadyState], packs: Sequence[PackedCircuit], places: Sequence[Place], max_order: int
) -> list[ComplexArray | None]:
    count, sectors, bridges = len(states), states[0].sectors, packs[0].bridges
    order, changes = _changes(places)
    wanted = _driven_orders(sectors, max_order)
    points = [state.orbit_point for state in states]
    theta = np.array([[point.theta] for point in points])
    currents, volts, terms, conducting = (
        np.array([getattr(point, name) for point in points])
        for name in ("currents", "volts", "terms", "conducting")
    )
    largest = 3 * bridges + 2 + terms.shape[1]
    mapped = np.zeros((count, largest, largest + order.size))
    integral = np.zeros((count, 2, wanted.size, 2, largest + order.size))
    size = np.zeros(count, np.int64)
    status = np.zeros(count, np.int64)
    emf = np.array([shunt_share(state.circuit, order)[:, None] * changes for state in states])
    integers = (count, bridges, terms.shape[1] // 4, sectors, order.size, wanted.size)
    arrays = (
        with_currents(
            np.concatenate([packed.net for packed in packs]),
            np.array([point.load_current for point in points]),
        ),
        np.zeros(1, WORK),
        order,
        emf,
        wanted,
        np.zeros((RESPONSE_NODES, wanted.size), np.complex128),
        theta,
        currents,
        volts,
        terms,
        conducting,
        mapped,
        integral,
        size,
        status,
    )
    call("respond", integers, arrays)
    answers: list[ComplexArray | None] = []
    for b, state in enumerate(states):
        if status[b] != OK or not np.isfinite(mapped[b]).all():
            answers.append(None)
            continue
        sequences = np.zeros((order.size, 2, max_order), np.complex128)
        sequences[:, :, wanted - 1] = _periodic(mapped[b], integral[b], int(size[b]), wanted, sectors)
        circuit = state.circuit
        siemens = circuit.load_watts / circuit.supply.volts**2 / (math.pi * PHASE_PEAK)
        answers.append(line_response(circuit, siemens * sequences.reshape(2, len(places), 2, -1), places))
    return answers


def _changes(places: Sequence[Place]) -> tuple[IntArray, ComplexArray]:
    """Order and peak space-vector components of each change of the EMF: as it stands, then ahead."""
    order: IntArray = np.array([n for n, _ in places] * 2)
    turned = np.array([[1.0, -1j * sequence] for _, sequence in places])
    return order, np.asarray(PHASE_PEAK * np.concatenate([turned, 1j * turned]), np.complex128)


def _driven_orders(sectors: int, max_order: int) -> IntArray:
    """Orders that a change which keeps the symmetry can drive in one of the sequences."""
    order: IntArray = np.arange(1, max_order + 1)
    driven: IntArray = order[((order - 1) * sectors % 6 == 0) | ((order + 1) * sectors % 6 == 0)]
    return driven


def _periodic(
    mapped: FloatArray, integral: FloatArray, size: int, order: IntArray, sectors: int
) -> ComplexArray:
    """Integrals over a cycle of the periodic answer to each change: (driven, 2 sequences, orders)."""
    own, added = mapped[:size, :size], mapped[:size, size:]
    start = np.linalg.solve(np.eye(size) - own, added[:, : mapped.shape[1] - len(mapped)])
    over_map = integral[:, :, 0] + 1j * integral[:, :, 1]
    driven = over_map[:, :, size : size + start.shape[1]] + over_map[:, :, :size] @ start
    alpha, beta = np.moveaxis(driven, -1, 1)
    parts = []
    for sequence in (1, -1):
        turn = np.exp(-1j * math.pi / 3.0 * (order - sequence) * sectors)
        repeats = sum(turn**r for r in range(6 // sectors))
        parts.append(0.5 * (alpha + 1j * sequence * beta) * repeats)
    return np.stack(parts, axis=1)
