"""The pool on Dask: a cluster by its address, or one of local processes. The only module that knows Dask."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from xlcalc.bulk.pools import Lost
from xlcalc.errors import InputError

Result = TypeVar("Result")

LOCAL: Final = "local"
CONNECT_SECONDS: Final = 20


@dataclass(frozen=True)
class DaskPool:
    """Runs tasks on the workers of a Dask client; a task whose worker dies is run again elsewhere."""

    client: Any

    def run(
        self, function: Callable[[Any], Result], tasks: Sequence[Any]
    ) -> Iterator[tuple[int, Result | Lost]]:
        """As `xlcalc.bulk.pools.Pool.run`; `Lost` for a task that takes workers with it when run alone."""
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
        futures = {n: self.client.submit(function, task, pure=False) for n, task in tasks.items()}
        number_of = {future.key: number for number, future in futures.items()}
        left = set(futures)
        try:
            done = library.as_completed(futures.values(), with_results=True, raise_errors=False)
            for future, result in done:
                number = number_of[future.key]
                if future.status == "cancelled":
                    break
                left.discard(number)
                if future.status == "finished":
                    yield number, result
                else:
                    yield number, Lost(f"lost on the cluster: {future.exception()}")
            if left:
                raise ConnectionError
        except (OSError, TimeoutError, RuntimeError, library.client.FutureCancelledError) as problem:
            raise _ended(len(left), problem) from None
        finally:
            with contextlib.suppress(Exception):
                self.client.cancel(list(futures.values()))


def _ended(left: int, problem: BaseException) -> InputError:
    said = f" ({problem})" if str(problem) else ""
    return InputError(
        "--dask",
        f"a scheduler that no longer answers{said}, with {left} tasks open",
        "a scheduler that stays; go on with --resume, here with --workers or on another one",
    )


@contextmanager
def dask_pool(where: str, workers: int) -> Iterator[DaskPool]:
    """A pool on a cluster.

    Parameters
    ----------
    where : str
        ``local`` for processes of this machine, or the address of a scheduler, such as
        ``tcp://scheduler:8786``. Its workers need the same version of the package and, for workbooks, the
        same files under the same paths.
    workers : int
        Number of local processes.

    Raises
    ------
    InputError
        Dask is not installed, or no scheduler answers.
    """
    try:
        import distributed
    except ImportError:
        raise InputError("--dask", where, "the extra: pip install 'xlcalc[cluster]'") from None
    library: Any = distributed
    if where == LOCAL:
        with (
            library.LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster,
            library.Client(cluster) as client,
        ):
            yield DaskPool(client)
        return
    try:
        client = library.Client(where, timeout=CONNECT_SECONDS)
    except (OSError, ValueError, TimeoutError) as problem:
        raise InputError("--dask", where, f"the address of a scheduler that answers ({problem})") from None
    with client:
        yield DaskPool(client)
