"""What several test folders share."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def spice() -> ModuleType:
    """The ngspice runner; tests that use it are skipped where ngspice is not installed."""
    name = "xlcalc_tests_ngspice"
    spec = importlib.util.spec_from_file_location(name, Path(__file__).parent / "ngspice.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    if not module.available():
        pytest.skip("ngspice is not installed")
    return module
