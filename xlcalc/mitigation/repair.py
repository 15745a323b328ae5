"""Quick improvement of a mix by changing one drive at a time: until it passes, then until it is cheap."""

from __future__ import annotations

import numpy as np

from xlcalc.mitigation.limits import TOLERANCE, Limits
from xlcalc.mitigation.model import Model
from xlcalc.mitigation.quantities import IntArray
from xlcalc.spectrum import FloatArray

MOST_STEPS = 400


def repaired(model: Model, limits: Limits, unknowns: FloatArray) -> FloatArray | None:
    """A mix that meets the limits, reached from another one; None where single changes lead to none."""
    mix = unknowns.copy()
    for _ in range(MOST_STEPS):
        excess = _excess(limits.ratios(model.quantities.values(mix), mix))
        if excess <= 0.0:
            return _cheapened(model, limits, mix)
        origin, target = _moves(model, mix)
        if origin.size == 0:
            return None
        gained = excess - _excesses(model, limits, mix, origin, target)
        price = model.columns.cost[target] - model.columns.cost[origin]
        worth = np.where(gained > 1e-12, gained / np.maximum(price, 1e-6 * _scale(model)), -np.inf)
        best = int(np.argmax(worth))
        if worth[best] == -np.inf:
            return None
        mix[origin[best]] -= 1.0
        mix[target[best]] += 1.0
    return None


def _cheapened(model: Model, limits: Limits, mix: FloatArray) -> FloatArray:
    for _ in range(MOST_STEPS):
        origin, target = _moves(model, mix)
        saved = model.columns.cost[origin] - model.columns.cost[target]
        cheaper = np.flatnonzero(saved > 1e-9 * _scale(model))
        if cheaper.size == 0:
            return mix
        origin, target, saved = origin[cheaper], target[cheaper], saved[cheaper]
        passing = _excesses(model, limits, mix, origin, target) <= 0.0
        if not passing.any():
            return mix
        best = int(np.argmax(np.where(passing, saved, -np.inf)))
        mix[origin[best]] -= 1.0
        mix[target[best]] += 1.0
    return mix


def _moves(model: Model, mix: FloatArray) -> tuple[IntArray, IntArray]:
    """Every change of one drive to another option under the same filter, as numbers of two unknowns."""
    members: dict[tuple[int, int], list[int]] = {}
    for k, column in enumerate(model.columns.drive_columns):
        members.setdefault((column.group, column.choice), []).append(k)
    pairs = [
        (origin, target)
        for same in members.values()
        for origin in same
        if mix[origin] > 0.5
        for target in same
        if target != origin
    ]
    array = np.array(pairs, dtype=np.int64).reshape(-1, 2)
    return array[:, 0], array[:, 1]


def _excesses(
    model: Model, limits: Limits, mix: FloatArray, origin: IntArray, target: IntArray
) -> FloatArray:
    quantities = model.quantities
    phasors, loose = quantities.state(mix)
    moved = phasors + quantities.parts[target] - quantities.parts[origin]
    spread = loose + quantities.loose[target] - quantities.loose[origin]
    mixes = np.repeat(mix[None, :], origin.size, axis=0)
    rows = np.arange(origin.size)
    mixes[rows, origin] -= 1.0
    mixes[rows, target] += 1.0
    return _excess(limits.ratios(quantities.values_of(moved, np.maximum(spread, 0.0)), mixes))


def _excess(ratios: FloatArray) -> FloatArray:
    """How far all limits together are exceeded."""
    return np.asarray(np.where(ratios > 1.0 + TOLERANCE, ratios - 1.0, 0.0).sum(axis=-1))


def _scale(model: Model) -> float:
    return max(float(model.columns.cost.max()), 1e-9)
