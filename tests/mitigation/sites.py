"""Invented small sites for the tests of the choice."""

from __future__ import annotations

import math

import numpy as np

from xlcalc.mitigation.offer.curves import CostFormula
from xlcalc.mitigation.offer.drive_options import ActiveFilter, DriveOption, FilterPlace
from xlcalc.mitigation.offer.economics import Economics, Losses
from xlcalc.mitigation.offer.physics import DiodeFrontEnd, Residual, ResidualLine
from xlcalc.mitigation.problem import LimitCase, Problem
from xlcalc.network.chain import series_network
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.loads import LoadModel, StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import ScheduledDrive

AFE = Residual(
    tuple(
        ResidualLine(load, order, percent, degrees)
        for load in (10.0, 60.0, 120.0)
        for order, percent, degrees in ((5, 2.0, None), (7, 1.5, 40.0), (11, 1.0, None), (13, 0.8, -70.0))
    ),
    "rated",
    "invented",
    "zero",
)

PHYSICS = (
    ("none", DiodeFrontEnd(), 0.0, 0.0),
    ("reactor 3", DiodeFrontEnd(6, 3.0), 0.08, 0.4),
    ("reactor 5", DiodeFrontEnd(6, 5.0), 0.11, 0.5),
    ("choke 4", DiodeFrontEnd(6, 0.0, 4.0), 0.06, 0.3),
    ("both", DiodeFrontEnd(6, 5.0, 4.0), 0.16, 0.8),
    ("12-pulse", DiodeFrontEnd(12), 0.8, 1.5),
    ("18-pulse", DiodeFrontEnd(18), 1.1, 2.0),
    ("active front end", AFE, 1.2, 2.5),
)

OPTIONS = tuple(
    DriveOption(
        name, physics, CostFormula(100.0 if share else 0.0, 110.0 * share, 0.9), Losses(0.2 * loss, loss)
    )
    for name, physics, share, loss in PHYSICS
)

FILTER = ActiveFilter(
    "filter",
    120.0,
    tuple((h, 8.0 + 0.5 * h) for h in (5, 7, 11, 13, 17, 19)),
    "invented",
    price=6000.0,
    loss_watts=1500.0,
)

RATINGS = (11.0, 15.0, 22.0, 37.0, 55.0, 75.0, 110.0, 160.0)


def linear(watts: float, power_factor: float = 0.86, model: LoadModel = LoadModel.NONE) -> StaticLoad:
    """A lagging load on the main bus, open for harmonics unless asked otherwise."""
    return StaticLoad("linear load", "main", watts, watts * math.tan(math.acos(power_factor)), model)


def network(
    mva: float, total_watts: float, *loads: StaticLoad, second: bool = False, **supply: object
) -> NodalNetwork:
    """A stiff or weak supply for drives of `total_watts`, and what else stands on its buses."""
    utility = Utility(13.8e3, mva * 1e6 * total_watts / 5e6, 9.0, **supply)
    main = Transformer(total_watts * 1.3, 5.75, 7.0, 13.8e3, 480.0)
    behind = Transformer(total_watts * 0.6, 4.5, 4.0, 480.0, 480.0, -30.0) if second else None
    return series_network(utility, main, behind, loads=loads)


def drives_of(
    rng: np.random.Generator, count: int, alike: float = 0.4, second: bool = False
) -> tuple[ScheduledDrive, ...]:
    """Random drives, some of them alike."""
    drives: list[ScheduledDrive] = []
    for k in range(count):
        if drives and rng.random() < alike:
            model = drives[int(rng.integers(len(drives)))]
            drives.append(
                ScheduledDrive(f"D{k}", model.rated_watts, model.front_end, model.bus, model.quantity)
            )
            continue
        watts = 1e3 * float(rng.choice(RATINGS)) * float(rng.uniform(0.95, 1.05))
        front_end = FrontEnd(6, 1.0, load_pct=float(rng.integers(60, 100)), capacitor_resistance_pct=0.5)
        bus = "second" if second and rng.random() < 0.4 else "main"
        drives.append(ScheduledDrive(f"D{k}", watts, front_end, bus, int(rng.choice([1, 1, 1, 2]))))
    return tuple(drives)


def plausible_demand(drives: tuple[ScheduledDrive, ...], load: StaticLoad, over: float) -> float:
    """A demand current above the fundamental of any mix, and below 1.5 times that of the mixes.

    The apparent powers are added: reactors and losses lift the fundamental by a few percent, the angle
    between drives and linear load of 0.86 takes at most 4 % off.
    """
    running = sum(drive.rated_watts * drive.quantity * drive.front_end.load_pct / 100.0 for drive in drives)
    return over * (running + abs(load.power)) / (3**0.5 * 13.8e3)


def random_problem(seed: int) -> Problem:
    """Up to 7 drives, up to 5 options, one to three cases, sometimes a filter."""
    rng = np.random.default_rng(seed)
    second = bool(rng.random() < 0.4)
    drives = drives_of(rng, int(rng.integers(2, 8)), second=second)
    total = sum(drive.rated_watts * drive.quantity for drive in drives)
    chosen = sorted(rng.choice(len(OPTIONS), int(rng.integers(2, 6)), replace=False).tolist())
    options = tuple(OPTIONS[k] for k in chosen)
    load = linear(total * float(rng.uniform(0.2, 2.0)))
    demand = None if rng.random() < 0.6 else plausible_demand(drives, load, float(rng.uniform(1.1, 1.35)))
    points: tuple[PccOptions, ...] = (
        PccOptions(
            "utility",
            demand_amps=demand,
            summation="arithmetic" if rng.random() < 0.2 else "phasor",
            raise_other_limits=bool(rng.random() < 0.3),
        ),
    )
    if rng.random() < 0.5:
        points += (PccOptions("main"),)
    supply = (
        {} if rng.random() < 0.7 else {"unbalance_pct": 1.0, "background": ((5, 1.0, 30.0), (7, 0.5, 0.0))}
    )
    strong = network(float(rng.uniform(60, 900)), total, load, second=second, **supply)
    cases = [LimitCase("strong", strong, points)]
    if rng.random() < 0.6:
        weak = network(float(rng.uniform(40, 200)), total, load, second=second, **supply)
        cases.append(LimitCase("weak", weak, points))
    if rng.random() < 0.4 and len(drives) > 2:
        some = {drives[0].tag: 50.0}
        cases.append(LimitCase("part load", strong, points, frozenset({drives[1].tag}), some))
    places = (FilterPlace("main", (FILTER,)),) if rng.random() < 0.3 else ()
    economics = Economics(0.12, 5.0, 5000.0)
    return Problem(drives, options, tuple(cases), economics, float(rng.choice([0.0, 5.0, 10.0])), (), places)
