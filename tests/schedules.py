"""Schedules and sites for the bulk tests; every value is invented."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from xlcalc.io.lists.schedule import Schedule, read_schedule
from xlcalc.io.plants.site import Site, site_from

PLANT = {
    "utility kv": 20,
    "utility mva": 250,
    "transformer kva": 1600,
    "transformer z pct": 6,
    "main bus volts": 690,
    "second transformer kva": 400,
    "second transformer z pct": 4,
    "second bus volts": 400,
    "linear load kw": 200,
}


@pytest.fixture(scope="session")
def assert_equal_to_rounding() -> Callable[[pd.DataFrame, pd.DataFrame], None]:
    """Machine code compiled in one process and read from disk in another may round differently."""

    def compare(here: pd.DataFrame, there: pd.DataFrame) -> None:
        pd.testing.assert_frame_equal(here, there, rtol=1e-10, atol=1e-12)

    return compare


@pytest.fixture
def site() -> Site:
    return site_from("north", {"site": PLANT, "buses": {"MCC-2": "second"}})


@pytest.fixture
def read(tmp_path: Path, site: Site) -> Callable[..., Schedule]:
    """Reads a CSV text as a schedule."""

    def reader(text: str, *, encoding: str = "utf-8", sites: list[Site] | None = None, **how) -> Schedule:
        path = tmp_path / "drives.csv"
        path.write_bytes(text.encode(encoding))
        return read_schedule(path, sites or [site], **how)

    return reader
