"""Periodic steady state of diode front ends: one circuit, or thousands at once."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Generator, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TypeVar

import numpy as np

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.progress import Progress
from xlcalc.rectifier.circuit import Circuit, Load
from xlcalc.rectifier.compiled.batch import Attempt, run_batch, settle
from xlcalc.rectifier.compiled.packing import PackedCircuit, pack
from xlcalc.rectifier.result import OrbitPoint, SteadyState

__all__ = ["SteadyState", "solve", "solve_many"]

CHUNK = 128
SETTLING_CYCLES = (60, 400)  # fewest and most
FOLLOWING_ITERATIONS = 25
SMALLEST_STEP = 0.004  # of the load


def solve(circuit: Circuit, max_order: int = 50, *, accept_unstable: bool = False) -> SteadyState:
    """Periodic steady state of one circuit.

    Parameters
    ----------
    circuit : Circuit
    max_order : int
        Highest order of the spectra, 1 to 200.
    accept_unstable : bool
        Return the symmetric solution even where it is unstable (`stable` is then False), without looking for
        a longer-period one.

    Raises
    ------
    InputError
        `max_order` outside its range.
    NoSolutionError
        The circuit cannot supply the load, or no stable periodic solution was found; the message says which.
    """
    result = solve_many([circuit], max_order, accept_unstable=accept_unstable)[0]
    if isinstance(result, NoSolutionError):
        raise result
    return result


def solve_many(
    circuits: Iterable[Circuit],
    max_order: int = 50,
    *,
    accept_unstable: bool = False,
    workers: int | None = None,
    near: Mapping[Circuit, SteadyState] | None = None,
    progress: Progress | None = None,
) -> list[SteadyState | NoSolutionError]:
    """The same for many circuits, in parallel; equal ones are solved once, a failure takes its own place.

    `near` gives solutions of similar circuits to start from; they save time and change no result, because a
    start that does not lead to a stable solution is dropped. `progress` is called with the number of distinct
    circuits solved and their total.

    Parameters
    ----------
    circuits : iterable of Circuit
    max_order : int
        Highest order of the spectra.
    accept_unstable : bool
        Give states that are not stable, too.
    workers : int, optional
        Threads; the number of processors otherwise.
    near : mapping of Circuit to SteadyState, optional
    progress : callable, optional

    Returns
    -------
    list of SteadyState or NoSolutionError
        In the order of `circuits`.
    """

    if isinstance(max_order, bool) or not isinstance(max_order, int) or not 1 <= max_order <= 200:
        raise InputError("max_order", max_order, "a whole number from 1 to 200")
    asked = list(circuits)
    distinct = list(dict.fromkeys(asked))
    groups: dict[tuple[int, ...], list[tuple[Circuit, PackedCircuit]]] = {}
    for circuit in distinct:
        packed = pack(circuit)
        groups.setdefault(packed.shape_key, []).append((circuit, packed))
    count = 1 if len(distinct) == 1 else workers or os.cpu_count() or 1
    chunks = []
    for members in groups.values():
        size = max(1, min(CHUNK, -(-len(members) // count)))
        chunks += [members[i : i + size] for i in range(0, len(members), size)]

    def work(chunk: list[tuple[Circuit, PackedCircuit]]) -> list[SteadyState | NoSolutionError]:
        return _solve_chunk(chunk, max_order, accept_unstable, near or {})

    solved: dict[Circuit, SteadyState | NoSolutionError] = {}
    with contextlib.closing(_in_threads(work, chunks, count)) as parts:
        for chunk, results in zip(chunks, parts, strict=True):
            solved.update(zip((circuit for circuit, _ in chunk), results, strict=True))
            if progress is not None:
                progress(len(solved), len(distinct))
    return [solved[circuit] for circuit in asked]


Chunk = TypeVar("Chunk")
Result = TypeVar("Result")


def _in_threads(
    work: Callable[[Chunk], Result], chunks: Sequence[Chunk], workers: int
) -> Generator[Result, None, None]:
    """Results in the order of the chunks; once closed, no further chunk is begun."""
    if len(chunks) < 2:
        yield from map(work, chunks)
        return
    with ThreadPoolExecutor(max_workers=workers) as pool:
        try:
            yield from pool.map(work, chunks)
        finally:
            pool.shutdown(wait=False, cancel_futures=True)


def _solve_chunk(
    chunk: Sequence[tuple[Circuit, PackedCircuit]],
    max_order: int,
    accept_unstable: bool,
    near: Mapping[Circuit, SteadyState],
) -> list[SteadyState | NoSolutionError]:
    results = _first_attempts(chunk, max_order, near)
    for i, (circuit, packed) in enumerate(chunk):
        result = results[i]
        if isinstance(result, NoSolutionError):
            result = _insist(circuit, packed, max_order, result)
        if isinstance(result, SteadyState) and not result.stable and not accept_unstable:
            result = _longer_period(circuit, packed, max_order, result)
        if isinstance(result, NoSolutionError) and circuit.load.kind == "power":
            result = _with_hint(circuit, result)
        results[i] = result
    return results


def _first_attempts(
    chunk: Sequence[tuple[Circuit, PackedCircuit]], max_order: int, near: Mapping[Circuit, SteadyState]
) -> list[SteadyState | NoSolutionError]:
    """One attempt each: from a similar solution where there is one of equal symmetry, else from cold."""

    found: dict[int, SteadyState | NoSolutionError] = {}
    warm = [
        (i, near[circuit])
        for i, (circuit, packed) in enumerate(chunk)
        if circuit in near and near[circuit].sectors == packed.sectors
    ]
    for pick, attempt in (
        ([i for i, _ in warm], Attempt(0, tuple(state.orbit_point for _, state in warm))),
        (range(len(chunk)), Attempt()),
    ):
        open_ones = [i for i in pick if i not in found]
        if not open_ones:
            continue
        results = run_batch(
            [chunk[i][0] for i in open_ones], [chunk[i][1] for i in open_ones], max_order, attempt
        )
        for i, result in zip(open_ones, results, strict=True):
            if attempt.start is None or (isinstance(result, SteadyState) and result.stable):
                found[i] = result
    return [found[i] for i in range(len(chunk))]


def _insist(
    circuit: Circuit, packed: PackedCircuit, max_order: int, first: NoSolutionError
) -> SteadyState | NoSolutionError:
    """Try again from longer settling, then follow the solution from a resistance to the load asked for."""

    for cycles in (0, 40):
        result = run_batch([circuit], [packed], max_order, Attempt(6 * cycles))[0]
        if isinstance(result, SteadyState):
            return result
    start = None
    share, step = 0.0, 0.25
    result = run_batch([circuit], [packed.eased(1.0)], max_order, Attempt())[0]
    while isinstance(result, SteadyState) and share < 1.0:
        start = result.orbit_point
        following = min(share + step, 1.0)
        attempt = Attempt(0, (start,), max_iterations=FOLLOWING_ITERATIONS)
        trial = run_batch([circuit], [packed.eased(1.0 - following)], max_order, attempt)[0]
        if isinstance(trial, SteadyState):
            result, share, step = trial, following, 1.5 * step
        else:
            step /= 2.0
            if step < SMALLEST_STEP:
                return NoSolutionError(_lost(result, share))
    return result if isinstance(result, SteadyState) else first


def _with_hint(circuit: Circuit, problem: NoSolutionError) -> NoSolutionError:
    """Name the load that does have a steady state, where the circuit can supply it."""

    twin = replace(circuit, load=Load("mean power", circuit.load.value))
    if isinstance(run_batch([twin], [pack(twin)], 1, Attempt())[0], NoSolutionError):
        return problem
    return NoSolutionError(
        f"{problem}. With load kind 'mean power' there is one: constant power at every instant is no "
        "description of a drive with a capacitor this small, such as one with a film (slim) dc link"
    )


def _lost(last: SteadyState, share: float) -> str:
    """Why a solution that was followed upwards from a resistance ends at a share of the load.

    At the limit of what a circuit can supply, the stable solution meets an unstable one and its multiplier
    goes to +1; a solution that has become unstable before says nothing about that limit. With a constant mean
    power, more current takes less power from there on, or a small capacitor is empty between two pulses.
    """
    if last.circuit.load.kind == "mean power":
        return (
            f"the circuit cannot supply this load: the most that it gives is about {share:.0%} of it, with "
            "more current the dc voltage collapses"
        )
    if 0.0 < last.multiplier < 1.0:
        return (
            f"the circuit cannot supply this load: its steady state ends at {share:.0%} of it "
            f"(multiplier {last.multiplier:.3f})"
        )
    return (
        f"no periodic steady state was found: the one at {share:.0%} of the load is unstable "
        f"(multiplier {last.multiplier:.3f}) and could not be followed further"
    )


def at_rest(packed: PackedCircuit, known: SteadyState) -> OrbitPoint:
    """No currents at w t = 0, and the capacitor at its mean voltage."""
    return OrbitPoint(
        theta=0.0,
        currents=np.zeros(6 * packed.bridges),
        volts=np.array([known.dc_volts_mean / known.circuit.supply.volts]),
        terms=np.zeros(4 * packed.terms),
        conducting=np.zeros(packed.bridges, np.int64),
        load_current=known.orbit_point.load_current,
    )


def _longer_period(
    circuit: Circuit, packed: PackedCircuit, max_order: int, symmetric: SteadyState
) -> SteadyState | NoSolutionError:
    """Stable solution of a longer map, settled from rest at w t = 0 as a simulation would.

    Of several such solutions, one shifted against the other, this start picks one.
    """

    growth = 6.0 / symmetric.sectors * np.log(abs(symmetric.multiplier))
    cycles = int(np.clip(15.0 / max(growth, 1e-9), *SETTLING_CYCLES))
    settled = settle(packed, at_rest(packed, symmetric), cycles)
    for sectors in (2, 3, 6):
        if sectors <= packed.sectors or sectors % packed.sectors:
            continue
        result = run_batch([circuit], [packed], max_order, Attempt(0, (settled,), sectors))[0]
        if isinstance(result, SteadyState) and result.stable:
            return result
    return NoSolutionError(
        f"the symmetric periodic solution is unstable (multiplier {symmetric.multiplier:.3f} per "
        f"{symmetric.symmetry}) and no stable solution of a longer period up to one cycle was found: "
        "the current does not repeat from cycle to cycle; resistance of the capacitor or the diodes damps it"
    )
