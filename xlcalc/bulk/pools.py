"""The same tasks in this process, in several processes, or on a Dask cluster, with equal results."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

Task = TypeVar("Task")
Result = TypeVar("Result")


@dataclass(frozen=True)
class Lost:
    """A task whose process ended without a result."""

    reason: str


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
    """

    workers: int

    def run(
        self, function: Callable[[Any], Result], tasks: Sequence[Any]
    ) -> Iterator[tuple[int, Result | Lost]]:
        """As `Pool.run`; `Lost` for a task whose process died twice."""
        waiting = list(range(len(tasks)))[::-1]
        while waiting:
            suspects: list[int] = []
            with _executor(self.workers) as executor:
                yield from _until_broken(executor, self.workers, function, tasks, waiting, suspects)
            for number in suspects:
                with _executor(1) as alone:
                    yield number, _alone(alone, function, tasks[number])


def _until_broken(
    executor: ProcessPoolExecutor,
    workers: int,
    function: Callable[[Any], Result],
    tasks: Sequence[Any],
    waiting: list[int],
    suspects: list[int],
) -> Iterator[tuple[int, Result | Lost]]:
    """Results until all tasks are done or a process died; then `suspects` were running.

    No more tasks are handed out than there are processes, so that few are suspect.
    """
    running: dict[Future[Result], int] = {}
    while waiting or running:
        while waiting and len(running) < workers and not suspects:
            number = waiting.pop()
            try:
                running[executor.submit(function, tasks[number])] = number
            except BrokenProcessPool:
                waiting.append(number)
                break
        if not running:
            return
        done, _ = wait(running, return_when=FIRST_COMPLETED)
        for future in done:
            number = running.pop(future)
            try:
                result = future.result()
            except BrokenProcessPool:
                suspects.append(number)
            else:
                yield number, result


def _alone(executor: ProcessPoolExecutor, function: Callable[[Any], Result], task: object) -> Result | Lost:
    try:
        return executor.submit(function, task).result()
    except BrokenProcessPool:
        return Lost("its process ended twice without a result: out of memory, or a crash")


@contextmanager
def _executor(workers: int) -> Iterator[ProcessPoolExecutor]:
    """Processes that are started afresh, because threads do not survive a fork; ended at once on an
    interrupt."""
    context = multiprocessing.get_context("spawn")
    executor = ProcessPoolExecutor(workers, mp_context=context, initializer=_leave_interrupts)
    try:
        yield executor
    except BaseException:
        processes = list((getattr(executor, "_processes", None) or {}).values())
        executor.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.terminate()
        raise
    executor.shutdown(wait=True)


def _leave_interrupts() -> None:
    """Ctrl-C reaches all processes of a terminal; only the first one acts on it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def default_workers() -> int:
    """One process per processor that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def local_pool(workers: int, tasks: int) -> Pool:
    """Processes for many tasks, this process for one task or one worker."""
    count = min(workers, tasks)
    return ProcessPool(count) if count > 1 else HerePool()
