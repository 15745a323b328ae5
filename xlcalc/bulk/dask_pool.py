"""The pool on Dask: a cluster by its address, or one of local processes. The only module that knows Dask."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from xlcalc.bulk.pools import Lost
from xlcalc.errors import InputError

Result = TypeVar("Result")

LOCAL: Final = "local"
RETRIES: Final = 3
CONNECT_SECONDS: Final = 20


@dataclass(frozen=True)
class DaskPool:
    """Runs tasks on the workers of a Dask client; a task whose worker dies is run again elsewhere."""

    client: Any

    def run(
        self, function: Callable[[Any], Result], tasks: Sequence[Any]
    ) -> Iterator[tuple[int, Result | Lost]]:
        """As `xlcalc.bulk.pools.Pool.run`; `Lost` for a task that took several workers with it."""
        distributed: Any = importlib.import_module("distributed")
        futures = [self.client.submit(function, task, pure=False, retries=RETRIES) for task in tasks]
        number_of = {future.key: number for number, future in enumerate(futures)}
        try:
            for future, result in distributed.as_completed(futures, with_results=True, raise_errors=False):
                if future.status == "finished":
                    yield number_of[future.key], result
                else:
                    yield number_of[future.key], Lost(f"lost on the cluster: {future.exception()}")
        finally:
            self.client.cancel(futures)


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
        distributed: Any = importlib.import_module("distributed")
    except ImportError:
        raise InputError("--dask", where, "the extra: pip install 'xlcalc[dask]'") from None
    if where == LOCAL:
        with (
            distributed.LocalCluster(
                n_workers=workers, threads_per_worker=1, dashboard_address=None
            ) as cluster,
            distributed.Client(cluster) as client,
        ):
            yield DaskPool(client)
        return
    try:
        client = distributed.Client(where, timeout=CONNECT_SECONDS)
    except (OSError, ValueError, TimeoutError) as problem:
        raise InputError("--dask", where, f"the address of a scheduler that answers ({problem})") from None
    with client:
        yield DaskPool(client)
