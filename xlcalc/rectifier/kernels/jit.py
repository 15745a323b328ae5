"""How kernels are compiled, and where the machine code is kept.

Only the entry kernels are cached on disk. numba keys its cache on the file of the entry alone, so an edit
of a helper kernel would leave stale machine code behind; the fingerprint of all kernel sources, captured as
a closure variable by the entries, becomes part of the key.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeAlias, TypeVar

import numba
import numpy.typing as npt

Function = TypeVar("Function", bound=Callable[..., Any])
Record: TypeAlias = Any  # a numpy record: its fields are attributes to numba only
Array: TypeAlias = npt.NDArray[Any]

_OPTIONS: dict[str, Any] = {"nogil": True, "error_model": "numpy", "fastmath": {"contract", "reassoc", "nsz"}}


def kernel(function: Function) -> Function:
    """Compile a helper on first use."""
    compiled: Function = numba.njit(**_OPTIONS)(function)
    return compiled


def entry(function: Function) -> Function:
    """Compile an entry kernel on first use and keep it on disk where some folder is writable."""
    try:
        compiled: Function = numba.njit(cache=True, **_OPTIONS)(function)
    except RuntimeError:  # numba found no writable folder for its cache
        return kernel(function)
    return compiled


def source_fingerprint() -> int:
    """Number that changes whenever a kernel source changes."""
    digest = hashlib.blake2b(digest_size=7)
    for path in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(path.read_bytes())
    return int.from_bytes(digest.digest(), "big")
