"""Python's collector of cyclic garbage."""

from __future__ import annotations

import contextlib
import gc
from collections.abc import Iterator


@contextlib.contextmanager
def collector_paused() -> Iterator[None]:
    """Without garbage collection: cells make no cycles, but many of them cost it a third of the time."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()
