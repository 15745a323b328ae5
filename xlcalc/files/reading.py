"""Files read within bounds: ordinary files only, never more than a stated number of bytes."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from xlcalc.core.errors import InputError

READABLE = "a readable file"


def read_bytes(path: Path, most: int, valid: str = READABLE) -> bytes:
    """Contents of an ordinary file.

    Parameters
    ----------
    path : Path
    most : int
        Largest size, bytes; also where the size that the system tells is not the true one.
    valid : str
        What is expected there, for the message.

    Raises
    ------
    InputError
        There is no such file, it may not be read, is a folder, pipe or device, or is too large.
    """
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except (OSError, ValueError) as problem:
        raise InputError(str(path), _words(problem), valid, wrong_kind=True) from None
    mode = os.fstat(handle).st_mode
    if not stat.S_ISREG(mode):
        os.close(handle)
        what = "a folder" if stat.S_ISDIR(mode) else "a pipe or device, no ordinary file"
        raise InputError(str(path), what, valid, wrong_kind=True)
    with os.fdopen(handle, "rb") as stream:
        try:
            data = stream.read(most + 1)
        except OSError as problem:
            raise InputError(str(path), _words(problem), valid, wrong_kind=True) from None
    if len(data) > most:
        raise InputError(str(path), f"larger than {_size(most)}", f"{valid} of up to {_size(most)}")
    return data


def read_text(path: Path, most: int, valid: str = "a readable text file") -> str:
    """Contents of an ordinary UTF-8 file without its mark; raises `InputError` as `read_bytes`."""
    try:
        return read_bytes(path, most, valid).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(str(path), "no UTF-8 text", valid, wrong_kind=True) from None


def _words(problem: Exception) -> str:
    return problem.strerror or str(problem) if isinstance(problem, OSError) else str(problem)


def _size(count: int) -> str:
    return f"{count >> 20} MiB" if count >= 1 << 20 else f"{count} bytes"
