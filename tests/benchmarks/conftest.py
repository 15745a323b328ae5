"""Helpers of the benchmarks as fixtures, because test modules are no package."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def contenders() -> ModuleType:
    """Books and measured processes; tests that use them are skipped where /proc does not tell the peak."""
    if not Path("/proc/self/status").exists():
        pytest.skip("needs /proc to measure the peak of a process")
    name = "xlcalc_bench_contenders"
    spec = importlib.util.spec_from_file_location(name, Path(__file__).parent / "contenders.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module
