"""Helpers of the mitigation tests as fixtures, because test modules are no package."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


def _module(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(
        f"xlcalc_tests_{name}", Path(__file__).parent / f"{name}.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def sites() -> ModuleType:
    """Invented sites."""
    return _module("sites")


@pytest.fixture(scope="session")
def enumeration() -> ModuleType:
    """The cheapest passing mix by trying all."""
    return _module("enumeration")
