"""The study repeated for drives as they may be behind their nameplates."""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from xlcalc.core.errors import NoSolutionError
from xlcalc.core.spectrum import FloatArray
from xlcalc.network.nodal import NodalNetwork
from xlcalc.standards.verdict import Verdict, printed
from xlcalc.studies.nameplate.assumption import POWER, Assumption
from xlcalc.studies.nameplate.spread import Move, Spread
from xlcalc.studies.pcc import PccOptions, PccResult
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solver import Solver
from xlcalc.studies.verdict.assessed import on_worst_row

SAMPLES: Final = 60
"""Fewer than a solver remembers; P95 then lies within some 3 % of that of many more."""
SHARE: Final = 0.95
SEED: Final = 20
NO_RESULT: Final = float("inf")


def spread_of(
    plant: StudiedPlant,
    unknowns: Sequence[Assumption],
    options: PccOptions,
    solver: Solver,
    largest_amps: float | None = None,
) -> Spread | None:
    """Sample the unknowns of a plant by the quick estimate; None where its typical state has no solution.

    Parameters
    ----------
    plant : StudiedPlant
        With typical values.
    unknowns : sequence of Assumption
    options : PccOptions
        With the demand current where it is typed.
    solver : Solver
    largest_amps : float, optional
        The largest fundamental of all cases, A.
    """
    ends = [{_key(unknown): end} for unknown in unknowns for end in (unknown.low, unknown.high)]
    found = _results(plant, unknowns, [{}, *ends], options, solver, largest_amps)
    typical = found[0]
    if typical is None:
        return None
    binding = typical.judgement.binding
    values = [_value(result, binding) for result in found[1:]]
    moves = [
        Move(unknown=unknown, at_low=low, at_high=high)
        for unknown, low, high in zip(unknowns, values[::2], values[1::2], strict=True)
    ]
    draws = sampled_values(unknowns)
    sampled = _results(plant, unknowns, draws, options, solver, largest_amps)
    ratios = np.array([r.judgement.binding.ratio if r else NO_RESULT for r in sampled])
    rank = int(np.ceil(SHARE * SAMPLES)) - 1
    place = place_of_p95(ratios)
    tdd = sorted(r.tdd_pct if r else NO_RESULT for r in sampled)[rank]
    thdv = sorted(r.thdv_pct if r else NO_RESULT for r in sampled)[rank]
    return Spread(
        binding=binding.name,
        moves=tuple(sorted(moves, key=lambda move: -move.distance)),
        tdd_pct=tdd,
        thdv_pct=thdv,
        drives=with_values(plant.drives, unknowns, draws[place]),
        samples=SAMPLES,
    )


def spread_doubt(
    spread: Spread, networks: Sequence[NodalNetwork], plant: StudiedPlant, options: PccOptions, solver: Solver
) -> str:
    """Why a plant that passes with typical values has no verdict; empty where it passes at P95 too.

    Parameters
    ----------
    spread : Spread
    networks : sequence of NodalNetwork
        States of the supply and of static loads in which the sample at P95 is solved coupled.
    plant : StudiedPlant
    options : PccOptions
        With the demand current.
    solver : Solver
    """
    for network in networks:
        try:
            solution = solver.coupled(replace(plant, network=network, drives=spread.drives))
            pcc = on_worst_row(solution.pcc(options))
        except NoSolutionError as problem:
            return f"{_only(spread)}: at P95 there is no solution ({problem})"
        if pcc.judgement.passes is False:
            worst = pcc.judgement.binding
            value, limit = printed(worst.value, worst.limit)
            return f"{_only(spread)}: at P95 {worst.name} is {value} % against a limit of {limit} %"
    return ""


def with_values(
    drives: Sequence[ScheduledDrive], unknowns: Sequence[Assumption], values: Mapping[str, float]
) -> tuple[ScheduledDrive, ...]:
    """Drives with other values of what is unknown, by the name of the unknown and its drives."""
    return tuple(_with_values(drive, unknowns, values) for drive in drives)


def _with_values(
    drive: ScheduledDrive, unknowns: Sequence[Assumption], values: Mapping[str, float]
) -> ScheduledDrive:
    for unknown in unknowns:
        key = _key(unknown)
        if drive.tag not in unknown.tags or key not in values:
            continue
        if unknown.attribute == POWER:
            drive = replace(drive, rated_watts=drive.rated_watts * values[key])
        else:
            changed: dict[str, Any] = {unknown.attribute: values[key]}
            drive = replace(drive, front_end=replace(drive.front_end, **changed))
    return drive


def _only(spread: Spread) -> str:
    most = spread.moves[0].unknown
    return f"PASS only with typical values of {spread.names}; give {most.name} of {most.of} first"


def place_of_p95(ratios: FloatArray) -> int:
    """Which of the samples stands at P95 of the values over their limits."""
    return int(np.argsort(ratios, kind="stable")[int(np.ceil(SHARE * len(ratios))) - 1])


def drawn_once(plant: StudiedPlant, seed: Sequence[float]) -> StudiedPlant:
    """The plant with one draw of its unknowns, the same for the same numbers; nothing is open then."""
    bits = np.asarray(seed, float).view(np.uint32).tolist()
    values = {}
    for unknown in plant.unknowns:
        key = _key(unknown)
        random = np.random.default_rng([SEED, zlib.crc32(key.encode()), *bits])
        values[key] = unknown.at(float(random.random()))
    return replace(plant, drives=with_values(plant.drives, plant.unknowns, values), unknowns=())


def sampled_values(unknowns: Sequence[Assumption]) -> list[dict[str, float]]:
    """A Latin square of the unknowns, the same in every run."""
    random = np.random.default_rng(SEED)
    shares = [(random.permutation(SAMPLES) + random.random(SAMPLES)) / SAMPLES for _ in unknowns]
    return [
        {_key(unknown): unknown.at(float(share[k])) for unknown, share in zip(unknowns, shares, strict=True)}
        for k in range(SAMPLES)
    ]


def _key(unknown: Assumption) -> str:
    return f"{unknown.name} of {','.join(unknown.tags)}"


def _results(
    plant: StudiedPlant,
    unknowns: Sequence[Assumption],
    points: Sequence[Mapping[str, float]],
    options: PccOptions,
    solver: Solver,
    largest_amps: float | None,
) -> list[PccResult | None]:
    plants = [replace(plant, drives=with_values(plant.drives, unknowns, values)) for values in points]
    found: list[PccResult | None] = []
    for outcome in solver.quick_many(plants):
        if isinstance(outcome, NoSolutionError):
            found.append(None)
            continue
        try:
            pcc = outcome.pcc(replace(options, demand_amps=1.0))
        except NoSolutionError:
            found.append(None)
            continue
        demand = options.demand_amps or max(pcc.fundamental_amps, largest_amps or 0.0)
        found.append(on_worst_row(replace(pcc, demand_amps=demand)) if demand > 0.0 else None)
    return found


def _value(result: PccResult | None, binding: Verdict) -> float:
    if result is None:
        return float("nan")
    return next(v.value for v in result.judgement.verdicts if v.name == binding.name)
