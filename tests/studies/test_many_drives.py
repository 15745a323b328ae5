"""Buses with many different drives, as in a motor control centre: invented, from a seeded generator."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from xlcalc.core.spectrum import MAX_ORDER
from xlcalc.network.branches import TransformerBranch
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.topology import Bus
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.coupled.coupling import (
    ALONE,
    IN_STEP,
    NEAR_BUS,
    SHARED,
    CoupledPlant,
    ImpedanceSplit,
    grouped,
)
from xlcalc.studies.coupled.response import Response
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import solve_coupled

FEW = 80
"""Solutions of all drives; a search that wanders needs hundreds."""


def front_end(pick: random.Random) -> FrontEnd:
    pulses, reactor = pick.choice([(6, 0.0), (6, 0.0), (6, 1.5), (6, 1.5), (6, 3.0), (6, 3.0), (12, 0.0)])
    return FrontEnd(
        pulses,
        1.0,
        reactor_pct=reactor,
        choke_pct=pick.choice([0.0, 0.0, 2.0, 3.0, 4.0]),
        load_pct=pick.uniform(50, 100),
        capacitor_resistance_pct=0.5,
    )


def plant(seed: int, drives: int, buses: int) -> StudiedPlant:
    """Transformers of 4 to 7 %, X/R 5 to 15, loaded to 40 to 100 % by their drives."""
    pick = random.Random(seed)
    nodes, branches, placed = [Bus("intake", 13.8e3)], [], []
    for b in range(buses):
        rating = pick.choice([500e3, 1e6, 1.5e6, 2e6, 2.5e6])
        unit = Transformer(rating, pick.uniform(4, 7), pick.uniform(5, 15), 13.8e3, 480, -30)
        nodes.append(Bus(f"centre {b}", 480))
        branches.append(TransformerBranch(f"unit {b}", "intake", f"centre {b}", unit))
        front_ends = [front_end(pick) for _ in range(drives // buses)]
        sizes = [pick.uniform(0.2, 1.0) ** 2 for _ in front_ends]
        taken = sum(size * one.load_pct / 100 for size, one in zip(sizes, front_ends, strict=True))
        scale = 0.95 * rating * pick.uniform(0.4, 1.0) / taken
        placed += [
            ScheduledDrive(f"D{b}-{k}", size * scale, one, f"centre {b}")
            for k, (size, one) in enumerate(zip(sizes, front_ends, strict=True))
        ]
    utility = Utility(13.8e3, pick.uniform(150e6, 500e6), pick.uniform(8, 15))
    return StudiedPlant(NodalNetwork(utility, "intake", tuple(nodes), tuple(branches)), tuple(placed))


@pytest.mark.parametrize(
    ("seed", "drives", "buses"), [(0, 20, 1), (1, 40, 1), (3, 40, 1), (0, 40, 2), (2, 40, 2), (1, 80, 1)]
)
def test_converges(seed: int, drives: int, buses: int) -> None:
    solution = solve_coupled(plant(seed, drives, buses))
    assert solution.converged
    assert solution.convergence.iterations < FEW
    assert len(solution.drives) == drives


@pytest.mark.parametrize(("seed", "drives", "buses"), [(1, 6, 1), (0, 20, 4)])
def test_converges_on_an_unbalanced_distorted_supply(seed: int, drives: int, buses: int) -> None:
    """All odd orders of both sequences are there: each has its response, also those that a bridge avoids.
    In the second plant the way leads across a kink, where a drive begins to draw another pulse."""
    whole = plant(seed, drives, buses)
    network = whole.network
    utility = replace(
        network.utility, background=((5, 1.5, 30.0), (7, 0.5, 0.0)), unbalance_pct=1.0, unbalance_deg=20.0
    )
    solution = solve_coupled(replace(whole, network=replace(network, utility=utility)))
    assert solution.converged
    assert solution.convergence.iterations < 40


def test_what_the_drives_draw_fits_the_voltages() -> None:
    """The state that is returned, put into plant and engine once more from cold, is its own image."""
    whole = plant(3, 20, 1)
    solution = solve_coupled(whole)
    coupled = CoupledPlant(whole.network, grouped(whole.drives))
    currents = _drawn(coupled, solution)
    coupled.split(coupled.splits[0])
    image = coupled.image(currents, coupled.flow(currents))
    fundamental = np.abs(currents[:, 0, 0])
    assert np.max(np.abs(image - currents).max(axis=(1, 2)) / fundamental) < 1e-3


def _drawn(coupled: CoupledPlant, solution) -> np.ndarray:
    """Currents of the solution by group, in the frame of each bus."""
    bus_volts = coupled.bus_volts(solution.flow)
    found = {result.drive.tag: result.load for result in solution.drives}
    a = np.exp(2j * np.pi / 3)
    currents = np.zeros((len(coupled.groups), 2, MAX_ORDER), complex)
    for k, group in enumerate(coupled.groups):
        phases = found[group.drives[0].tag].phases
        turn = np.exp(1j * np.arange(1, MAX_ORDER + 1) * np.angle(bus_volts[k, 0, 0]))
        for row, rotation in enumerate(([1, a, a**2], [1, a**2, a])):
            currents[k, row] = np.array(rotation) @ phases / 3 * turn
    return currents


@pytest.mark.parametrize("split", [ALONE, NEAR_BUS, SHARED, IN_STEP])
def test_step_is_that_of_newton(split: ImpedanceSplit) -> None:
    """On a linearised plant the step removes the residual: against a difference of solutions."""
    whole = plant(5, 6, 2)
    coupled = CoupledPlant(whole.network, grouped(whole.drives))
    coupled.split(split)
    nothing = np.zeros((6, 2, MAX_ORDER), complex)
    start = coupled.image(nothing, coupled.flow(nothing))
    flow = coupled.flow(start)
    image = coupled.image(start, flow)
    response = Response(coupled, coupled.emf(nothing, coupled.flow(nothing)), coupled.emf(start, flow), image)
    residual = image - start
    step, distance = response.correction(residual)
    small = 1e-3
    moved = start + small * step
    there = coupled.image(moved, coupled.flow(moved)) - moved
    left = np.linalg.norm((there - (1 - small) * residual).ravel() * coupled.weights)
    assert left < 0.05 * small * np.linalg.norm(residual.ravel() * coupled.weights)
    assert response.correction(there)[1] == pytest.approx((1 - small) * distance, rel=1e-4)
