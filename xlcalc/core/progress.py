"""Progress callbacks, time by stage, and a pause of garbage collection while cells are made."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager

Progress = Callable[[int, int], None]
"""Called with what is done and the whole; what it raises stops the computation."""


@contextmanager
def collector_paused() -> Iterator[None]:
    """Without garbage collection: cells make no cycles, but many of them cost it a third of the time."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()


class Stopwatch:
    """Seconds by stage; a stage that comes again adds up."""

    def __init__(self) -> None:
        self._seconds: dict[str, float] = {}

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Count what happens inside under a name."""
        start = time.perf_counter()
        try:
            yield
        finally:
            self._seconds[name] = self._seconds.get(name, 0.0) + time.perf_counter() - start

    @property
    def seconds(self) -> Mapping[str, float]:
        """Seconds by stage, in the order in which the stages first came."""
        return dict(self._seconds)


def as_text(seconds: Mapping[str, float]) -> str:
    """One line of stages with their seconds.

    Examples
    --------
    >>> as_text({"read": 0.5, "solve": 1.25})
    'read 0.50 s, solve 1.25 s; together 1.75 s'
    """
    stages = ", ".join(f"{stage} {value:.2f} s" for stage, value in seconds.items())
    return f"{stages}; together {sum(seconds.values()):.2f} s"
