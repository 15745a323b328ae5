"""Coupled solution of the small plant against the circuit simulator, as a ratio; run with -s to see it."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

STEPS, CYCLES = 16384, 60  # the step of the reference recipe, and the run that settles to 1e-4


def test_ratio(spice: ModuleType, loaded: Callable[[str], ModuleType], tmp_path: Path) -> None:
    runner, case = loaded("ngspice_plant.py"), loaded("validation/test_ngspice_plant.py")
    plant = case.plant(case.WITH_REACTORS, "plain bank")
    solution = case.solve_coupled(plant)
    ours = []
    for _ in range(5):
        begin = time.perf_counter()
        case.solve_coupled(case.plant(case.WITH_REACTORS, "plain bank"))
        ours.append(time.perf_counter() - begin)
    run = runner.simulate(spice, case.small_plant(runner, solution), tmp_path, STEPS, CYCLES)
    print(f"{run.seconds / min(ours):.0f} times faster than the circuit simulator")
    assert solution.converged
