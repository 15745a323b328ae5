"""Coupled solution of the small plant against the circuit simulator, as a ratio; run with -s to see it."""

from __future__ import annotations

import importlib.util
import sys
import time
from pathlib import Path
from types import ModuleType

import pytest

STEPS, CYCLES = 16384, 60  # the step of the reference recipe, and the run that settles to 1e-4


def loaded(name: str, *path: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).parents[1].joinpath(*path))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("bank", ["no capacitor", "plain bank"])
def test_ratio(bank: str, spice: ModuleType, tmp_path: Path) -> None:
    runner = loaded("xlcalc_bench_ngspice_plant", "ngspice_plant.py")
    case = loaded("xlcalc_bench_plant", "validation", "test_ngspice_plant.py")
    plant = case.plant(case.WITH_REACTORS, bank)
    solution = case.solve_coupled(plant)
    ours = []
    for _ in range(5):
        begin = time.perf_counter()
        case.solve_coupled(case.plant(case.WITH_REACTORS, bank))
        ours.append(time.perf_counter() - begin)
    run = runner.simulate(spice, case.small_plant(runner, solution), tmp_path, STEPS, CYCLES)
    print(f"{bank}: {run.seconds / min(ours):.0f} times faster than the circuit simulator")
    assert solution.converged
