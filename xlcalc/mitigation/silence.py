"""Standard output closed to compiled libraries that print whatever they are told."""

from __future__ import annotations

import contextlib
import ctypes
import os
import sys
import threading
from collections.abc import Iterator

_one_at_a_time = threading.Lock()


@contextlib.contextmanager
def silenced() -> Iterator[None]:
    """Drop what compiled code prints on standard output; a process without one is left as it is."""
    with _one_at_a_time:
        if sys.stdout is not None:
            with contextlib.suppress(OSError, ValueError):
                sys.stdout.flush()
        try:
            kept = os.dup(1)
        except OSError:
            yield
            return
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, 1)
            yield
        finally:
            _flush()
            os.dup2(kept, 1)
            os.close(kept)
            os.close(nowhere)


def _flush() -> None:
    """Empty the buffers of the runtime library of C while they still lead nowhere."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL("ucrtbase" if sys.platform == "win32" else None).fflush(None)
