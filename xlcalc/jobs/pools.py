"""The same tasks in this process, in several processes, or on a Dask cluster, with equal results."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
import traceback
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from typing import Any, Protocol, TypeVar

Task = TypeVar("Task")
Result = TypeVar("Result")


@dataclass(frozen=True)
class Lost:
    """A task without a result: its process ended, or was ended because it took too long."""

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
    limit : float, optional
        Seconds that a task may take, the start of its process included, before the process is ended; without
        it, any time.
    """

    workers: int
    limit: float | None = None

    def run(
        self, function: Callable[[Any], Result], tasks: Sequence[Any]
    ) -> Iterator[tuple[int, Result | Lost]]:
        """As `Pool.run`; `Lost` for a task whose process died twice, or took longer than the limit."""
        suspects = []
        with _crew() as crew:
            for number, result in self._together(crew, self.workers, function, tasks, range(len(tasks))):
                if result is DIED:
                    suspects.append(number)
                else:
                    yield number, result
            for number, result in self._together(crew, 1, function, tasks, suspects):
                lost = Lost("its process ended twice without a result: out of memory, or a crash")
                yield number, lost if result is DIED else result

    def _together(
        self,
        crew: list[_Worker],
        workers: int,
        function: Callable[[Any], Any],
        tasks: Sequence[Any],
        numbers: Sequence[int],
    ) -> Iterator[tuple[int, Any]]:
        """Result of each task, `Lost` for one that took too long, `DIED` where its process did."""
        waiting = list(numbers)[::-1]
        busy: dict[Connection, _Worker] = {}
        while waiting or busy:
            while waiting and len(busy) < workers:
                worker = next((w for w in crew if w.connection not in busy), None) or _started(crew)
                worker.take(function, tasks[waiting[-1]], waiting[-1], self.limit)
                waiting.pop()
                busy[worker.connection] = worker
            soonest = min(worker.deadline for worker in busy.values())
            pause = None if soonest == float("inf") else max(0.0, soonest - time.monotonic())
            for ready in wait(list(busy), pause):
                worker = busy.pop(ready)  # type: ignore[call-overload]
                result = worker.result()
                if result is DIED:
                    _ended(crew, worker)
                yield worker.number, result
            now = time.monotonic()
            for worker in [w for w in busy.values() if w.deadline <= now and not w.connection.poll()]:
                del busy[worker.connection]
                _ended(crew, worker)
                reason = f"stopped, because it took longer than the limit of {self.limit:g} s"
                yield worker.number, Lost(reason)


class WorkerFault(RuntimeError):
    """A process of the pool failed by a fault of the program; the message is its traceback."""


class _Died:
    """What is known of a task whose process ended."""


DIED = _Died()


class _Worker:
    """A process that takes one task after the other, and what it is at work on."""

    def __init__(self) -> None:
        """Starts afresh, because threads do not survive a fork."""
        context = multiprocessing.get_context("spawn")
        self.connection, far_end = context.Pipe()
        self.process = context.Process(target=_serve, args=(far_end,), daemon=True)
        with _interrupts_held():
            self.process.start()
        far_end.close()
        self.number, self.deadline = -1, float("inf")

    def take(self, function: Callable[[Any], Any], task: object, number: int, limit: float | None) -> None:
        """Hand over a task; a process that is gone is noticed when its result is asked for."""
        self.number = number
        self.deadline = float("inf") if limit is None else time.monotonic() + limit
        try:
            self.connection.send((function, task))
        except (BrokenPipeError, ConnectionResetError):
            return

    def result(self) -> Any:
        """What the task gave, or `DIED`; raises `WorkerFault` where the task raised."""
        try:
            good, value = self.connection.recv()
        except (EOFError, OSError):
            return DIED
        if not good:
            raise value
        return value

    def end(self) -> None:
        """End the process at once, whatever it is doing."""
        self.process.kill()
        self.process.join()
        self.connection.close()


def _serve(connection: Connection) -> None:
    """The work of a process. Ctrl-C reaches all processes of a terminal; only the first one acts on it.

    When the first process ends, in whatever way, this one does at once: every file appears complete or not at
    all, and nobody waits for a result.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    warnings.simplefilter("ignore", RuntimeWarning)
    threading.Thread(target=_end_with_parent, name="end with parent", daemon=True).start()
    while True:
        try:
            function, task = connection.recv()
        except (EOFError, OSError):
            return
        answer: tuple[bool, Any]
        try:
            answer = True, function(task)
        except Exception as problem:
            answer = False, _described(problem)
        try:
            connection.send(answer)
        except OSError:
            return
        except Exception as problem:
            connection.send((False, _described(problem)))


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _described(problem: Exception) -> WorkerFault:
    return WorkerFault("".join(traceback.format_exception(problem)))


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """A process that is started here hears no interrupt from the start; one for this process comes later."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _started(crew: list[_Worker]) -> _Worker:
    worker = _Worker()
    crew.append(worker)
    return worker


def _ended(crew: list[_Worker], worker: _Worker) -> None:
    worker.end()
    crew.remove(worker)


@contextmanager
def _crew() -> Iterator[list[_Worker]]:
    """Processes of a run; all have ended when it ends, in whatever way."""
    crew: list[_Worker] = []
    try:
        yield crew
    finally:
        for worker in crew:
            worker.end()


def default_workers() -> int:
    """One process per processor that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def local_pool(workers: int, tasks: int, limit: float | None = None) -> Pool:
    """Processes for many tasks or for tasks with a limit; this process for one task or one worker."""
    count = max(1, min(workers, tasks))
    return ProcessPool(count, limit) if count > 1 or limit is not None else HerePool()
