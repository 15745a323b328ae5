"""The cheapest passing mix by trying every one, from the study's currents and the tables of limits alone.

What flows beside the drives, and at which angle each bus stands, is that of the first option of every drive,
as in the search.
A PCC has one demand current in all cases, the largest, and every row of the table that lies within a tenth of
Isc/IL must be kept.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from xlcalc.core.spectrum import Spectrum
from xlcalc.mitigation.milp.currents import fitted
from xlcalc.mitigation.milp.reference import reference
from xlcalc.mitigation.problem import LimitCase, Problem
from xlcalc.network.sequence import components
from xlcalc.standards import ieee519
from xlcalc.standards.ieee519_multiplier import held_orders_multiplier
from xlcalc.studies.drives import solve_drives
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.sources import ORDERS, LoadCurrent

CHUNK = 1500
NEAR = np.array([0.9, 1.0, 1.0 / 0.9])
"""Isc/IL and the ends of what it may be as well, over it."""


def cost_of(problem: Problem, choice: tuple[int, ...], bought: int) -> float:
    """Purchase and losses, written out."""
    money = problem.economics
    total = 0.0
    for drive, options, number in zip(problem.drives, problem.allowed, choice, strict=True):
        option, kw, load = options[number], drive.rated_watts / 1e3, drive.front_end.load_pct / 100.0
        lost_kw = kw * (option.losses.fixed_pct + option.losses.load_pct * load**2) / 100.0
        yearly = lost_kw * money.hours_per_year * money.price_per_kwh
        total += drive.quantity * (
            option.price.a + option.price.b * kw**option.price.c + yearly * money.years
        )
    if bought:
        choice_ = problem.filter_places[0].choices[bought - 1]
        total += (
            choice_.price
            + choice_.loss_watts / 1e3 * money.hours_per_year * money.price_per_kwh * money.years
        )
    return total


def cheapest(problem: Problem) -> tuple[float, int]:
    """Cost of the cheapest passing mix (infinite without one), and how many mixes were tried."""
    per_drive = [range(len(options)) for options in problem.allowed]
    filters = range(1 + len(problem.filter_places))
    mixes = [(f, *choice) for f in filters for choice in itertools.product(*per_drive)]
    costs = np.array([cost_of(problem, mix[1:], mix[0]) for mix in mixes])
    order = np.argsort(costs, kind="stable")
    table = np.array(mixes)[order]
    tables = [_Case(problem, case) for case in problem.cases]
    for start in range(0, len(table), CHUNK):
        chunk = table[start : start + CHUNK]
        passing = _passing(tables, chunk)
        if passing.any():
            first = start + int(np.flatnonzero(passing)[0])
            return float(costs[order[first]]), first + 1
    return math.inf, len(table)


@dataclass
class _Sums:
    """Currents and phase voltages at a PCC, shape (mixes, 3, 50), and magnitudes of unknown angle."""

    amps: np.ndarray
    loose_amps: np.ndarray
    volts: np.ndarray
    loose_volts: np.ndarray

    @property
    def fundamental(self) -> np.ndarray:
        return np.abs([components(one[:, :1])[1, 0] for one in self.amps])


def _passing(cases: list[_Case], mixes: np.ndarray) -> np.ndarray:
    sums = [(case, point, case.sums(point, mixes)) for case in cases for point in case.case.points]
    demand: dict[str, np.ndarray] = {}
    for _, point, found in sums:
        demand[point.pcc] = np.maximum(demand.get(point.pcc, 0.0), found.fundamental)
    good = np.ones(len(mixes), bool)
    for case, point, found in sums:
        typed = point.demand_amps
        amps = demand[point.pcc] if typed is None else np.full(len(mixes), typed)
        good &= case.keeps(point, found, amps)
    for case in cases:
        if case.problem.filter_places:
            good &= case.within_rating(mixes)
    return good


class _Case:
    """Contributions of every drive and option at every PCC of a case."""

    def __init__(self, problem: Problem, case: LimitCase) -> None:
        self.problem, self.case = problem, case
        self.loads: list[list[tuple[LoadCurrent, np.ndarray] | None]] = []
        for drive, options in zip(problem.drives, problem.allowed, strict=True):
            running = case.drive(drive)
            row: list[tuple[LoadCurrent, np.ndarray] | None] = []
            for option in options:
                ready = None if running is None else fitted(running, option)
                if running is None:
                    row.append(None)
                elif ready is None:
                    source = option.physics.source(case.network, running)
                    row.append((source.load, source.unknown_angle * running.quantity))
                else:
                    result = solve_drives(StudiedPlant(case.network, (ready,)))[0]
                    assert result.stable
                    row.append((result.load, np.zeros(50)))
            self.loads.append(row)
        self.fixed = reference(case, [row[0][0] for row in self.loads if row[0] is not None])
        self.loads = [
            [None if item is None else (self.fixed.turned(item[0]), item[1]) for item in row]
            for row in self.loads
        ]

    def _through(self, load: LoadCurrent, bus: str) -> np.ndarray:
        return load.at(self.case.network, bus)

    def within_rating(self, mixes: np.ndarray) -> np.ndarray:
        place = self.problem.filter_places[0]
        bought = place.choices[0]
        total = np.zeros((len(mixes), 3, 50), complex)
        for d, row in enumerate(self.loads):
            each = np.array(
                [
                    np.zeros((3, 50))
                    if item is None or item[0].bus not in place.covered
                    else bought.taken * self._through(item[0], place.bus)
                    for item in row
                ]
            )
            total += each[mixes[:, d + 1]]
        extra = np.zeros((len(mixes), 50))
        for d, row in enumerate(self.loads):
            each = np.array(
                [
                    np.zeros(50)
                    if item is None or item[0].bus not in place.covered
                    else bought.taken * item[1]
                    for item in row
                ]
            )
            extra += each[mixes[:, d + 1]]
        size = np.abs(total) + extra[:, None, :]
        need = np.linalg.norm(size, axis=2).max(axis=1)
        return (mixes[:, 0] == 0) | (need <= bought.rated_amps * (1 + 1e-9))

    def sums(self, point: PccOptions, mixes: np.ndarray) -> _Sums:
        network, pcc = self.case.network, point.pcc
        count = len(mixes)
        amps = np.zeros((count, 3, 50), complex)
        volts = np.zeros((count, 3, 50), complex)
        loose_amps, loose_volts = np.zeros((count, 3, 50)), np.zeros((count, 3, 50))
        arithmetic = str(point.summation) == "arithmetic"
        amps += self.fixed.currents[pcc]
        volts += self.fixed.volts[pcc]
        place = self.problem.filter_places[0] if self.problem.filter_places else None
        for d, row in enumerate(self.loads):
            for o, item in enumerate(row):
                if item is None:
                    continue
                load, loose = item
                for f in (0, 1) if place else (0,):
                    chosen = (mixes[:, d + 1] == o) & (mixes[:, 0] == f)
                    parts, left = [load], loose
                    if f and load.bus in place.covered:
                        taken = place.choices[0].taken
                        parts.append(LoadCurrent("f", place.bus, -taken * self._through(load, place.bus)))
                        left = loose * (1 - taken)
                    i = sum(part.at(network, pcc) for part in parts)
                    v = -sum(part.voltage_at(network, pcc) for part in parts)
                    i_left = left * np.abs(network.current_share(pcc, load.bus, ORDERS))
                    v_left = left * np.abs(network.transfer_impedance(pcc, load.bus, ORDERS))
                    if arithmetic:
                        i_left, v_left = i_left + np.abs(i), v_left + np.abs(v)
                        i = np.concatenate([i[:, :1], np.zeros((3, 49))], axis=1)
                        v = np.zeros((3, 50))
                    amps[chosen] += i
                    volts[chosen] += v
                    loose_amps[chosen] += i_left
                    loose_volts[chosen] += v_left
        if place and place.choices[0].loss_watts:
            bought = place.choices[0]
            line = bought.loss_watts / (math.sqrt(3.0) * network.volts(place.bus))
            load = LoadCurrent.balanced("loss", place.bus, Spectrum.from_orders([(1, line)]))
            amps[mixes[:, 0] == 1] += self.fixed.turned(load).at(network, pcc)
        return _Sums(amps, loose_amps, volts, loose_volts)

    def keeps(self, point: PccOptions, sums: _Sums, demand: np.ndarray) -> np.ndarray:
        """Whether all limits at a PCC are kept, by mix."""
        network, pcc = self.case.network, point.pcc
        currents = (np.abs(sums.amps) + sums.loose_amps)[:, :, 1:] * 100.0 / demand[:, None, None]
        nominal = network.volts(pcc)
        tensions = (np.abs(sums.volts) + sums.loose_volts)[:, :, 1:] * 100.0 * math.sqrt(3.0) / nominal
        keep = (1 - self.problem.margin_pct / 100.0) * (1 + 1e-9)
        kv = nominal / 1e3
        limit_v = np.array([ieee519.voltage_limit(kv, h, point.edition).value for h in range(2, 51)])
        good = (tensions.max(axis=1) <= keep * limit_v).all(axis=1)
        good &= (
            np.linalg.norm(tensions, axis=2).max(axis=1)
            <= keep * ieee519.voltage_limit(kv, edition=point.edition).value
        )
        isc = network.short_circuit_va(pcc) / (math.sqrt(3.0) * nominal)
        by_order = currents.max(axis=1)
        totals = np.linalg.norm(currents, axis=2).max(axis=1)
        for k in np.flatnonzero(good):
            for ratio in isc / demand[k] * NEAR:
                orders, tdd = _limits(ieee519.current_row_text(ratio, kv, point.edition), kv, point.edition)
                if point.raise_other_limits:
                    held = held_orders_multiplier(
                        {h: float(by_order[k, h - 2]) for h in range(2, 51)}, ratio, kv, point.edition
                    )
                    if held is not None:
                        orders = orders * np.array([held.on(h) for h in range(2, 51)])
                good[k] &= bool((by_order[k] <= keep * orders).all() and totals[k] <= keep * tdd)
        return good


@lru_cache(maxsize=256)
def _limits(row: str, kv: float, edition: str) -> tuple[np.ndarray, float]:
    """Limits of a row of the current table, which the lower end of its ratios stands for."""
    low = row.split("<=")[0] if row[0].isdigit() else row.split(">=")[1] if ">=" in row else "1e-6"
    ratio = float(low)
    orders = np.array([ieee519.current_limit(h, ratio, kv, edition).value for h in range(2, 51)])
    return orders, ieee519.tdd_limit(ratio, kv, edition).value
