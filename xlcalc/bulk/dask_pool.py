"""The pool on a Dask cluster, by its address. The only module that knows Dask."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

from xlcalc.bulk.pools import Lost
from xlcalc.errors import InputError
from xlcalc.files.reading import read_bytes

Result = TypeVar("Result")

CONNECT_SECONDS: Final = 20
LARGEST_BYTES: Final = 1 << 20
TlsFiles = tuple[Path, Path, Path]


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
        client = library.Client(where, timeout=CONNECT_SECONDS, security=security)
    except (OSError, ValueError, TimeoutError, TypeError, RuntimeError) as problem:
        raise InputError("--dask", where, f"the address of a scheduler that answers ({problem})") from None
    try:
        yield DaskPool(client)
    finally:
        with contextlib.suppress(Exception):
            client.close()
