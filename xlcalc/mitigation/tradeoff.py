"""Around the chosen mix: cost against TDD, the next best mixes, and what each part of the money buys."""

from __future__ import annotations

import numpy as np

from xlcalc.core.spectrum import FloatArray
from xlcalc.mitigation.choice import FrontPoint, Saving
from xlcalc.mitigation.milp.limits import ValueLimits, tdd_limits
from xlcalc.mitigation.milp.model import Model
from xlcalc.mitigation.milp.search import Effort, least_cost, nearest
from xlcalc.mitigation.mix import Mix, mix_of

LEAST_TDD_PCT = 0.05


def cost_front(model: Model, points: int, effort: Effort) -> tuple[FrontPoint, ...]:
    """Cheapest mixes with ever lower TDD, from the cheapest of all to the least distorted.

    Parameters
    ----------
    model : Model
    points : int
        Most points; equal mixes are given once.
    effort : Effort
        For each point.
    """
    free = least_cost(model, _tdd(model, 1e4), effort)
    lowest = nearest(model, _tdd(model, LEAST_TDD_PCT), effort)
    if free.unknowns is None or lowest is None or points < 1:
        return ()
    high, low = model.tdd_pct(free.unknowns), model.tdd_pct(lowest)
    found: list[FrontPoint] = []
    for limit in np.geomspace(max(high, low), low * (1.0 + 1e-6), points):
        answer = least_cost(model, _tdd(model, float(limit)), effort)
        if answer.unknowns is not None:
            point = FrontPoint(
                float(limit), mix_of(model, answer.unknowns), answer.bound, passes(model, answer.unknowns)
            )
            found.append(point)
    return _undominated(found)


def savings(model: Model, chosen: FloatArray) -> tuple[Saving, ...]:
    """What the outcome would be without the money spent on each kind of drive, the largest sum first."""
    columns = model.columns
    found = []
    mix = mix_of(model, chosen)
    for k, column in enumerate(columns.drive_columns):
        if chosen[k] < 0.5:
            continue
        same = [
            n
            for n, c in enumerate(columns.drive_columns)
            if (c.group, c.choice) == (column.group, column.choice)
        ]
        cheapest = min(same, key=lambda n: columns.cost[n])
        extra = float(chosen[k] * (columns.cost[k] - columns.cost[cheapest]))
        if extra <= 0.0:
            continue
        without = chosen.copy()
        without[cheapest] += without[k]
        without[k] = 0.0
        name = columns.option(column).name
        lines = [tag for tags in columns.groups[column.group].tags for tag in tags]
        tags = tuple(tag for tag in lines if mix.options[tag].name == name)
        ratios = model.limits.ratios(model.quantities.values(without), without)
        found.append(
            Saving(
                tags=tags,
                option=name,
                cheapest=columns.option(columns.drive_columns[cheapest]).name,
                extra_cost=extra,
                tdd_without_pct=model.tdd_pct(without),
                worst_without_pct=100.0 * float((ratios * model.keep).max()),
            )
        )
    return tuple(sorted(found, key=lambda item: -item.extra_cost))


def last_step(front: tuple[FrontPoint, ...], mix: Mix, currency: str) -> str:
    """What the last unit of money buys: from the next cheaper point of the front to the mix."""
    cheaper = [p for p in front if p.mix.cost < mix.cost * (1.0 - 1e-6) and p.mix.tdd_pct > mix.tdd_pct]
    if not cheaper:
        return ""
    before = max(cheaper, key=lambda point: point.mix.cost).mix
    money, points = mix.cost - before.cost, before.tdd_pct - mix.tdd_pct
    unit = f" {currency}" if currency else ""
    return (
        f"The last {money:,.0f}{unit} lower the TDD from {before.tdd_pct:.2f} to {mix.tdd_pct:.2f} %: "
        f"{money / points:,.0f}{unit} per point"
    )


def passes(model: Model, unknowns: FloatArray) -> bool:
    """Whether a mix meets all limits of the standard with the margin, drives one by one on their bus."""
    return model.limits.met(model.quantities.values(unknowns), unknowns)


def _tdd(model: Model, percent: float) -> ValueLimits:
    return tdd_limits(model.quantities, model.blocks, model.columns, percent)


def _undominated(found: list[FrontPoint]) -> tuple[FrontPoint, ...]:
    """Points that no other beats in both cost and TDD, by falling TDD, each mix once."""
    kept: list[FrontPoint] = []
    for point in sorted(found, key=lambda p: (p.mix.cost, p.mix.tdd_pct)):
        if not kept or point.mix.tdd_pct < kept[-1].mix.tdd_pct - 1e-9:
            kept.append(point)
    return tuple(kept)
