"""Helpers of the benchmarks as fixtures."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def contenders(loaded: Callable[[str], ModuleType]) -> ModuleType:
    """Books and measured processes; tests that use them are skipped where /proc does not tell the peak."""
    if not Path("/proc/self/status").exists():
        pytest.skip("needs /proc to measure the peak of a process")
    return loaded("benchmarks/contenders.py")
