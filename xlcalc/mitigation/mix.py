"""A mix in the user's terms: which drive gets what, what the buses get, and what it costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from xlcalc.core.spectrum import FloatArray
from xlcalc.mitigation.milp.model import Model
from xlcalc.mitigation.offer.drive_options import ActiveFilter, Bank, DriveOption, as_scheduled
from xlcalc.mitigation.problem import Problem


@dataclass(frozen=True, eq=False)
class Mix:
    """One answer.

    Parameters
    ----------
    options : mapping of str to DriveOption
        By tag, in the order of the schedule.
    filters : mapping of str to ActiveFilter
        By bus; buses without one are left out.
    bank : Bank or None
        What is added to the network.
    purchase, loss_cost : float
        Money; `loss_cost` is the value today of the added losses over the stated years.
    kwh_per_year, footprint_m2 : float
        Added losses and floor area.
    tdd_pct : float
        Largest TDD of all PCCs and cases, drives solved one by one on their bus.
    unknowns : array
        The mix as the search sees it.
    """

    options: Mapping[str, DriveOption]
    filters: Mapping[str, ActiveFilter]
    bank: Bank | None
    purchase: float
    loss_cost: float
    kwh_per_year: float
    footprint_m2: float
    tdd_pct: float
    unknowns: FloatArray

    @property
    def cost(self) -> float:
        return self.purchase + self.loss_cost

    @property
    def counts(self) -> dict[str, int]:
        """Schedule lines by option, then filters and bank."""
        found: dict[str, int] = {}
        for option in self.options.values():
            found[option.name] = found.get(option.name, 0) + 1
        for bus, bought in self.filters.items():
            found[f"{bought.name} on {bus}"] = 1
        if self.bank is not None:
            found[self.bank.name] = 1
        return found

    @property
    def text(self) -> str:
        """The mix in one line."""
        return ", ".join(f"{count} x {name}" for name, count in self.counts.items())


def scheduled_mix(problem: Problem) -> Mix:
    """Every drive as it is scheduled, nothing bought."""
    keep = as_scheduled()
    return Mix(
        options={drive.tag: keep for drive in problem.drives},
        filters={},
        bank=None,
        purchase=0.0,
        loss_cost=0.0,
        kwh_per_year=0.0,
        footprint_m2=0.0,
        tdd_pct=float("nan"),
        unknowns=np.zeros(0),
    )


def mix_of(model: Model, unknowns: FloatArray) -> Mix:
    """The mix that whole unknowns mean; alike drives get their options in the order of the schedule."""
    columns = model.columns
    chosen: dict[str, DriveOption] = {}
    for g, group in enumerate(columns.groups):
        members = [(k, c) for k, c in enumerate(columns.drive_columns) if c.group == g]
        given = [columns.option(c) for k, c in members for _ in range(round(float(unknowns[k])))]
        pairs = zip(group.tags, given, strict=True)
        chosen |= {tag: option for tags, option in pairs for tag in tags}
    first = len(columns.drive_columns)
    filters = {
        columns.places[c.place].bus: bought
        for k, c in enumerate(columns.filter_columns, start=first)
        if unknowns[k] > 0.5 and (bought := columns.active_filter(c)) is not None
    }
    bank = model.bank
    hours = model.problem.economics.hours_per_year
    kwh = float(columns.kwh_per_year @ unknowns) + (bank.loss_watts / 1000.0 * hours if bank else 0.0)
    return Mix(
        options={drive.tag: chosen[drive.tag] for drive in model.problem.drives},
        filters=filters,
        bank=bank,
        purchase=float(columns.purchase @ unknowns) + (bank.price if bank else 0.0),
        loss_cost=model.problem.economics.cost_of(kwh),
        kwh_per_year=kwh,
        footprint_m2=float(columns.footprint @ unknowns) + (bank.footprint_m2 if bank else 0.0),
        tdd_pct=model.tdd_pct(unknowns),
        unknowns=np.array(unknowns),
    )
