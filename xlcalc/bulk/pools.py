"""The same tasks in this process, in several processes, or on a Dask cluster, with equal results."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import as_completed
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

import pebble

Task = TypeVar("Task")
Result = TypeVar("Result")


@dataclass(frozen=True)
class Lost:
    """A task without a result: its process ended, or was ended because it took too long.

    Parameters
    ----------
    reason : str
        What happened.
    try_again : bool
        True where the task may be innocent, as when memory ran out.
    """

    reason: str
    try_again: bool = False


class Pool(Protocol):
    """Runs a function over tasks."""

    def run(
        self, function: Callable[[Any], Result], tasks: Sequence[Any]
    ) -> Iterator[tuple[int, Result | Lost]]:
        """Number and result of each task as it is finished, in any order.

        The function is a module's own, so that it can be sent to another process, and does not raise.
        """
        ...


@dataclass(frozen=True)
class HerePool:
    """One task after the other in this process."""

    def run(
        self, function: Callable[[Any], Result], tasks: Sequence[Any]
    ) -> Iterator[tuple[int, Result | Lost]]:
        """As `Pool.run`."""
        for number, task in enumerate(tasks):
            yield number, function(task)


@dataclass(frozen=True)
class ProcessPool:
    """Several processes; one that dies takes only its own task with it, after a second try alone.

    Parameters
    ----------
    workers : int
        Number of processes.
    limit : float, optional
        Seconds that a task may take before its process is ended; without it, any time.
    """

    workers: int
    limit: float | None = None

    def run(
        self, function: Callable[[Any], Result], tasks: Sequence[Any]
    ) -> Iterator[tuple[int, Result | Lost]]:
        """As `Pool.run`; `Lost` for a task whose process died twice, or took longer than the limit."""
        again = []
        for number, result in self._together(self.workers, function, dict(enumerate(tasks))):
            if isinstance(result, Lost) and result.try_again:
                again.append(number)
            else:
                yield number, result
        for number in again:
            yield from self._together(1, function, {number: tasks[number]})

    def _together(
        self, workers: int, function: Callable[[Any], Result], tasks: Mapping[int, Any]
    ) -> Iterator[tuple[int, Result | Lost]]:
        """Processes start afresh, as threads do not survive a fork; they end at once on an interrupt."""
        context: Any = multiprocessing.get_context("spawn")
        pool: Any = pebble.ProcessPool(workers, context=context, initializer=_leave_interrupts)
        try:
            number_of: dict[Any, int] = {
                pool.schedule(function, args=(task,), timeout=self.limit): number
                for number, task in tasks.items()
            }
            for future in as_completed(number_of):
                yield number_of[future], self._outcome(future)
            pool.close()
        except BaseException:
            pool.stop()
            raise
        finally:
            pool.join()

    def _outcome(self, future: Any) -> Any:
        try:
            return future.result()
        except TimeoutError:
            return Lost(f"stopped, because it took longer than the limit of {self.limit:g} s")
        except pebble.ProcessExpired:
            return Lost("its process ended twice without a result: out of memory, or a crash", True)


def _leave_interrupts() -> None:
    """Ctrl-C reaches all processes of a terminal; only the first one acts on it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def default_workers() -> int:
    """One process per processor that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def local_pool(workers: int, tasks: int, limit: float | None = None) -> Pool:
    """Processes for many tasks or for tasks with a limit; this process for one task or one worker."""
    count = max(1, min(workers, tasks))
    return ProcessPool(count, limit) if count > 1 or limit is not None else HerePool()
