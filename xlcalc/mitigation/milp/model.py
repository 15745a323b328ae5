"""A problem with all currents solved: unknowns, values and their limits."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from xlcalc.core.progress import Progress
from xlcalc.core.spectrum import FloatArray
from xlcalc.mitigation.milp.blocks import PointBlocks, case_reference, filter_block, point_blocks
from xlcalc.mitigation.milp.currents import OptionCurrents, alike, option_currents
from xlcalc.mitigation.milp.limits import ValueLimits, standard_limits, with_one_demand
from xlcalc.mitigation.milp.program import TangentPool
from xlcalc.mitigation.milp.quantities import Quantities
from xlcalc.mitigation.milp.unknowns import Columns
from xlcalc.mitigation.offer.drive_options import Bank
from xlcalc.mitigation.problem import Problem


@dataclass(frozen=True, eq=False)
class Model:
    """What the search works on.

    Parameters
    ----------
    problem : Problem
        The question; its cases hold the bank.
    columns : Columns
        Unknowns and costs.
    blocks : tuple of PointBlocks
        One per case and PCC.
    quantities : Quantities
        Current and voltage of every point in turn, then the filters case by case.
    bank : Bank or None
        What was added to the network.
    """

    problem: Problem
    columns: Columns
    blocks: tuple[PointBlocks, ...]
    quantities: Quantities
    bank: Bank | None = None

    @cached_property
    def limits(self) -> ValueLimits:
        return standard_limits(self.quantities, self.blocks, self.columns, self.problem.margin_at)

    @cached_property
    def keep(self) -> FloatArray:
        """Part of its limit that each value may reach by the margin of its PCC."""
        kept = np.ones(self.quantities.count)
        for k, block in enumerate(self.blocks):
            own = (self.quantities.block_of == 2 * k) | (self.quantities.block_of == 2 * k + 1)
            kept[own] = 1.0 - self.problem.margin_at(block.point.pcc) / 100.0
        return kept

    @cached_property
    def pool(self) -> TangentPool:
        return TangentPool()

    @property
    def bank_cost(self) -> float:
        if self.bank is None:
            return 0.0
        hours = self.problem.economics.hours_per_year
        return self.bank.price + self.problem.economics.cost_of(self.bank.loss_watts / 1000.0 * hours)

    def cost(self, unknowns: FloatArray) -> float:
        """Purchase and losses of a mix, the bank included."""
        return float(self.columns.cost @ unknowns) + self.bank_cost

    def tdd_pct(self, unknowns: FloatArray) -> float:
        """Largest TDD of all points in all cases, percent of the demand current."""
        values = self.quantities.values(unknowns)
        largest = 0.0
        for k, point in enumerate(self.limits.points):
            totals = (self.quantities.block_of == 2 * k) & (self.quantities.order_of == 0)
            largest = max(largest, 100.0 * float(values[totals].max()) / float(point.demand(unknowns)))
        return largest

    @property
    def refused(self) -> tuple[str, ...]:
        """Options without a stable solution, and why."""
        return tuple(text for currents in self.columns.currents for text in currents.refused)


def build(
    problem: Problem,
    bank: Bank | None = None,
    known: tuple[OptionCurrents, ...] | None = None,
    progress: Progress | None = None,
) -> Model:
    """Solve all options in all cases and set up the search.

    Parameters
    ----------
    problem : Problem
    bank : Bank, optional
        Added to the network of every case.
    known : tuple of OptionCurrents, optional
        Currents of a model of the same problem: a bank changes none of them.
    progress : callable, optional
        Called with the front ends solved and their number.

    Raises
    ------
    InputError
        A value does not suit the front end at its bus, or a bank does not suit its bus.
    NoSolutionError
        A drive without an option that has a stable solution, or a network that cannot supply the loads.
    """
    placed = replace(problem, banks=()) if bank is None else problem.with_bank(bank)
    cases = placed.cases
    groups = alike(placed)
    currents = known if known is not None else option_currents(cases, groups, progress)
    columns = Columns(groups, currents, placed.filter_places, placed.economics)
    points: list[PointBlocks] = []
    filters = []
    for number, case in enumerate(cases):
        fixed = case_reference(case, number, columns)
        points += [point_blocks(number, fixed, point, columns) for point in case.points]
        filters += [
            filter_block(number, fixed, place, choice, columns)
            for place in range(len(placed.filter_places))
            for choice in range(len(placed.filter_places[place].choices))
        ]
    blocks = [block for point in points for block in (point.current, point.voltage)]
    judged = with_one_demand(points, columns)
    return Model(placed, columns, judged, Quantities((*blocks, *filters)), bank)


def rounded(model: Model, unknowns: FloatArray) -> FloatArray:
    """A whole mix near a fractional one: largest remainders, and the filter with the largest share."""
    columns = model.columns
    first = len(columns.drive_columns)
    result = np.zeros_like(unknowns)
    chosen: dict[int, int] = {-1: -1}
    for place in range(len(columns.places)):
        members = [k for k, c in enumerate(columns.filter_columns) if c.place == place]
        best = max(members, key=lambda k: unknowns[first + k])
        result[first + best] = 1.0
        chosen[place] = columns.filter_columns[best].choice
    by_group: dict[tuple[int, int], list[int]] = {}
    share: dict[tuple[int, int], float] = {}
    for k, column in enumerate(columns.drive_columns):
        key = (column.group, column.option)
        share[key] = share.get(key, 0.0) + float(unknowns[k])
        if column.choice == chosen[column.place]:
            by_group.setdefault((column.group, column.place), []).append(k)
    for (group, _), members in by_group.items():
        exact = np.array([share[group, columns.drive_columns[k].option] for k in members])
        whole = np.floor(exact + 1e-9)
        missing = round(columns.groups[group].count - whole.sum())
        for position in np.argsort(-(exact - whole))[:missing]:
            whole[position] += 1.0
        result[members] = whole
    return result
