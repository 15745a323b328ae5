"""Helpers of the mitigation tests as fixtures."""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def sites(loaded: Callable[[str], ModuleType]) -> ModuleType:
    """Invented sites."""
    return loaded("mitigation/sites.py")


@pytest.fixture(scope="session")
def enumeration(loaded: Callable[[str], ModuleType]) -> ModuleType:
    """The cheapest passing mix by trying all."""
    return loaded("mitigation/enumeration.py")
