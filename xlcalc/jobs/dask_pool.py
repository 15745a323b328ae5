"""The pool on a Dask cluster, by its address. The only module that imports Dask."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

from xlcalc.core.errors import InputError
from xlcalc.files.reading import read_bytes
from xlcalc.jobs.pools import Lost

Result = TypeVar("Result")

CONNECT_SECONDS: Final = 20
POLL_SECONDS: Final = 2
ANSWER_SECONDS: Final = 30
WORKERLESS_SECONDS: Final = 120
"""So long may a cluster be without any worker: those that died are started again within it."""

LARGEST_BYTES: Final = 1 << 20
TlsFiles = tuple[Path, Path, Path]


@dataclass(frozen=True)
class DaskPool:
    """Runs tasks on the workers of a Dask client; a task whose worker dies is run again elsewhere."""

    client: Any

    def run(
        self, function: Callable[[Any], Result], tasks: Sequence[Any]
    ) -> Iterator[tuple[int, Result | Lost]]:
        """As `xlcalc.jobs.pools.Pool.run`; `Lost` for a task that takes workers with it when run alone."""
        suspects = []
        for number, result in self._together(function, dict(enumerate(tasks))):
            if isinstance(result, Lost):
                suspects.append(number)
            else:
                yield number, result
        for number in suspects:
            yield from self._together(function, {number: tasks[number]})

    def _together(
        self, function: Callable[[Any], Result], tasks: Mapping[int, Any]
    ) -> Iterator[tuple[int, Result | Lost]]:
        """All tasks at once; one may be lost because another killed the worker that it waited on."""
        import distributed

        library: Any = distributed
        futures = {self.client.submit(function, task, pure=False): n for n, task in tasks.items()}
        try:
            while futures:
                for future in self._finished(library, list(futures)):
                    number = futures.pop(future)
                    if future.status == "finished":
                        yield number, future.result(ANSWER_SECONDS)
                    else:
                        yield number, Lost(f"lost on the cluster: {future.exception(ANSWER_SECONDS)}")
        except (OSError, TimeoutError, RuntimeError, CancelledError) as problem:
            raise _ended(len(futures), problem) from None
        finally:
            with contextlib.suppress(Exception):
                self.client.cancel(list(futures))

    def _finished(self, library: Any, futures: list[Any]) -> list[Any]:
        """Futures with a result or a failure, some at least.

        Raises
        ------
        TimeoutError
            There has been no worker for `WORKERLESS_SECONDS`.
        """
        alone_since = None
        while True:
            try:
                done = library.wait(futures, timeout=POLL_SECONDS, return_when="FIRST_COMPLETED").done
            except library.TimeoutError:
                now = time.monotonic()
                if self._has_workers(library):
                    alone_since = None
                elif alone_since is None:
                    alone_since = now
                elif now - alone_since > WORKERLESS_SECONDS:
                    raise TimeoutError("it has no worker") from None
                continue
            return [future for future in futures if future in done]

    def _has_workers(self, library: Any) -> bool:
        """Whether the scheduler answers that it has some."""
        try:
            return bool(self._answer(self.client.scheduler.ncores))
        except library.TimeoutError:
            return False

    def _answer(self, ask: Callable[..., Any], *arguments: Any) -> Any:
        """What the scheduler answers; one that has closed may take a question and stay silent for ever."""
        return self.client.sync(ask, *arguments, callback_timeout=ANSWER_SECONDS)


def _ended(left: int, problem: BaseException) -> InputError:
    lines = str(problem).splitlines() or [""]
    said = f" ({lines[0]})" if lines[0] and not isinstance(problem, CancelledError) else ""
    return InputError(
        "--dask",
        f"a cluster that no longer answers{said}, with {left} tasks open",
        "a scheduler that stays and has workers; go on with --resume, here with --workers or on another one",
    )


def _connected(library: Any, where: str, security: Any) -> Any:
    """A client of the scheduler.

    One that did not reach it is closed here: where it is left to the garbage collector, this may close it
    while another starts, and both wait for one lock for ever (seen in distributed 2026.8).
    """
    client = library.Client.__new__(library.Client)
    try:
        client.__init__(where, timeout=CONNECT_SECONDS, security=security)
    except BaseException:
        with contextlib.suppress(Exception):
            client.close(timeout=ANSWER_SECONDS)
        raise
    return client


@contextmanager
def dask_pool(where: str, tls: TlsFiles | None = None) -> Iterator[DaskPool]:
    """A pool on a cluster.

    Parameters
    ----------
    where : str
        The address of a scheduler, such as ``tls://scheduler:8786``. Its workers need the same version of the
        package and, for workbooks, the same files under the same paths. Whoever reaches a scheduler without
        TLS can run programs on it, on its workers and here.
    tls : tuple of three Paths, optional
        Certificate of the authority, certificate and key of this client.

    Raises
    ------
    InputError
        Dask is not installed, a file of TLS cannot be used, or no scheduler answers.
    """
    try:
        import distributed
    except ImportError:
        raise InputError("--dask", where, "the extra: pip install 'xlcalc[cluster]'") from None
    library: Any = distributed
    security = None
    if tls is not None:
        if not where.startswith("tls://"):
            raise InputError("--dask", where, "an address that begins with tls://, because of --dask-tls")
        for path in tls:
            read_bytes(path, LARGEST_BYTES)
        names = ("tls_ca_file", "tls_client_cert", "tls_client_key")
        files = dict(zip(names, map(str, tls), strict=True))
        security = library.Security(require_encryption=True, **files)
    try:
        client = _connected(library, where, security)
    except (OSError, ValueError, TimeoutError, TypeError, RuntimeError) as problem:
        raise InputError("--dask", where, f"the address of a scheduler that answers ({problem})") from None
    try:
        yield DaskPool(client)
    finally:
        with contextlib.suppress(Exception):
            client.close()
