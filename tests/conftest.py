"""What several test folders share."""

from __future__ import annotations

import importlib.util
import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest


def pytest_configure(config: pytest.Config) -> None:
    """Fixtures that several rooms share; interrupts, which programs in the background of a shell ignore, and
    so would all that tests start."""
    for shared in ("books.py", "host_programs.py", "schedules.py"):
        config.pluginmanager.register(_loaded(shared))
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_sessionfinish(session: pytest.Session) -> None:
    """With XLCALC_EXPECT_HOSTS set, a run in which a test was skipped has failed: every real host is
    there."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("XLCALC_EXPECT_HOSTS") and reporter and reporter.stats.get("skipped"):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Benchmarks print ratios and take minutes: they run where they are asked for by name."""
    asked = any("benchmarks" in argument for argument in config.args)
    return True if collection_path.name == "benchmarks" and not asked else None


def _loaded(path: str) -> ModuleType:
    name = "xlcalc_tests_" + path.removesuffix(".py").replace("/", "_")
    spec = importlib.util.spec_from_file_location(name, Path(__file__).parent / path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def loaded() -> Callable[[str], ModuleType]:
    """Loads a module by its path below tests, because test folders are no packages."""
    return _loaded


@pytest.fixture(scope="session")
def spice() -> ModuleType:
    """The ngspice runner; tests that use it are skipped where ngspice is not installed."""
    module = _loaded("ngspice.py")
    if not module.available():
        pytest.skip("ngspice is not installed")
    return module
