"""Cost of plant solutions, as ratios; run with -s to see the curve.

The plant has 50 buses and drives of 40 kinds, invented by a seeded generator; sums of ratings stay the same,
so that more drives mean smaller ones. Times are processor seconds of all threads, which other work on the
machine hardly changes.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from dataclasses import replace

import pytest

from xlcalc.network.branches import Line, TransformerBranch
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.loads import StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.topology import Bus
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.drives import solve_drives
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import PlantSolution, solve_coupled, uncoupled_from

FEEDERS, LOW_VOLTAGE = 7, 42
KINDS = 40
COUNTS = (50, 100, 200, 400)
CASES_OF, POINTS, DRIVES_OF_POINTS = 200, 5, 20


def plant(count: int) -> StudiedPlant:
    pick = random.Random(7)
    nodes, branches, loads = [Bus("intake", 13.8e3)], [], []
    for k in range(FEEDERS):
        nodes.append(Bus(f"feeder {k}", 13.8e3))
        branches.append(
            Line(f"cable {k}", "intake", f"feeder {k}", pick.uniform(0.02, 0.06), pick.uniform(0.03, 0.09))
        )
    for k in range(LOW_VOLTAGE):
        nodes.append(Bus(f"board {k}", 480))
        unit = Transformer(2e6, 5.75, 7, 13.8e3, 480, (-30, 0)[k % 2])
        branches.append(TransformerBranch(f"unit {k}", f"feeder {k % FEEDERS}", f"board {k}", unit))
        loads.append(StaticLoad(f"load {k}", f"board {k}", 300e3, 200e3))
    network = NodalNetwork(
        Utility(13.8e3, 800e6, 12), "intake", tuple(nodes), tuple(branches), (), tuple(loads)
    )
    kinds = [
        (
            pick.uniform(50e3, 200e3) * 200 / count,
            FrontEnd(
                pick.choice([6, 6, 6, 12]),
                1.0,
                reactor_pct=pick.choice([1.5, 2.0, 3.0, 5.0]),
                choke_pct=pick.choice([0.0, 2.0, 4.0]),
                load_pct=pick.uniform(50, 100),
            ),
        )
        for _ in range(KINDS)
    ]
    drives = [
        ScheduledDrive(f"D{k}", *kinds[k % KINDS], f"board {pick.randrange(LOW_VOLTAGE)}")
        for k in range(count)
    ]
    return StudiedPlant(network, tuple(drives))


def seconds(plant: StudiedPlant) -> tuple[float, float]:
    """Uncoupled with the spectra known, and coupled; both with a fresh network."""
    drives = solve_drives(plant)
    options = PccOptions("intake", "2014")
    fresh = StudiedPlant(_again(plant.network), plant.drives)
    begin = time.process_time()
    uncoupled_from(fresh, drives).pcc(options)
    middle = time.process_time()
    solution = solve_coupled(StudiedPlant(_again(plant.network), plant.drives))
    end = time.process_time()
    assert solution.converged
    return middle - begin, end - middle


def _again(network: NodalNetwork) -> NodalNetwork:
    return NodalNetwork(
        network.utility, network.utility_bus, network.nodes, network.branches, (), network.loads
    )


@pytest.fixture(scope="module")
def curve() -> dict[int, tuple[float, float]]:
    solve_coupled(plant(COUNTS[0]))
    return {count: min(seconds(plant(count)) for _ in range(2)) for count in COUNTS}


def test_growth_with_the_drives(curve) -> None:
    smallest = curve[COUNTS[0]]
    for count, (uncoupled, coupled) in curve.items():
        print(
            f"{count:4d} drives: uncoupled {uncoupled / smallest[0]:5.2f}, coupled "
            f"{coupled / smallest[1]:5.2f} times that of {COUNTS[0]}; "
            f"coupled over uncoupled {coupled / uncoupled:5.1f}; {uncoupled:.3f} s and {coupled:.3f} s"
        )
        assert coupled / smallest[1] < (count / COUNTS[0]) ** 2 + 1.0, "worse than the square of the drives"


def test_cases_and_operating_points() -> None:
    """Eight cases of one plant against one of them, and points of a falling load against their number."""
    whole = plant(CASES_OF)
    solved: list[PlantSolution] = []
    solve_coupled(whole)
    one = _processor(lambda: solved.append(solve_coupled(StudiedPlant(_again(whole.network), whole.drives))))
    left_out = [
        StudiedPlant(_again(whole.network), tuple(d for k, d in enumerate(whole.drives) if k % 9 != case))
        for case in range(1, 9)
    ]
    eight = _processor(lambda: solved.extend(map(solve_coupled, left_out)))
    points = [_loaded(plant(DRIVES_OF_POINTS), 100.0 - 70.0 * k / POINTS) for k in range(POINTS)]
    curve = _processor(lambda: solved.extend(map(solve_coupled, points)))
    print(
        f"8 cases of {CASES_OF} drives: {eight / one:.1f} times one of them ({one:.2f} s); "
        f"operating points of {DRIVES_OF_POINTS} drives: {curve / POINTS / one:.2f} times that each"
    )
    assert all(solution.converged for solution in solved)


def _processor(action: Callable[[], object]) -> float:
    begin = time.process_time()
    action()
    return time.process_time() - begin


def _loaded(plant: StudiedPlant, load_pct: float) -> StudiedPlant:
    drives = (replace(d, front_end=replace(d.front_end, load_pct=load_pct)) for d in plant.drives)
    return replace(plant, drives=tuple(drives))
