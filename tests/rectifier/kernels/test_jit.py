"""Compilation and its cache."""

from __future__ import annotations

from typing import Any

from xlcalc.rectifier.kernels.jit import entry, source_fingerprint


def test_entry_works_where_nothing_can_be_cached() -> None:
    """A function without a file has no place for a cache, as one in folders that are all read-only."""
    space: dict[str, Any] = {}
    exec("def twice(x):\n    return 2 * x\n", space)
    assert entry(space["twice"])(21) == 42


def test_fingerprint_is_stable_within_a_version() -> None:
    assert source_fingerprint() == source_fingerprint() > 0
