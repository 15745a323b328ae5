"""A fault of the program: one line for the user, and a file for whoever mends it."""

from __future__ import annotations

import contextlib
import os
import platform
import shlex
import sys
import tempfile
import traceback
from collections.abc import Sequence

import xlcalc

FAULT = 3
"""Exit code."""


def one_line(problem: BaseException) -> str:
    """The message of an exception without breaks of lines."""
    return " ".join(str(problem).split()) or type(problem).__name__


def report_fault(problem: BaseException, arguments: Sequence[str], *, debug: bool = False) -> int:
    """Report an internal error in one line; the traceback goes into a file, or is shown too.

    Returns
    -------
    int
        The exit code.
    """
    text = fault_text(problem, arguments)
    if debug:
        print(text, file=sys.stderr)
    what = f"{type(problem).__name__}: {one_line(problem)[:200]}"
    print(f"xlcalc: a fault of the program ({what}); {_kept(text)}", file=sys.stderr)
    return FAULT


def fault_text(problem: BaseException, arguments: Sequence[str]) -> str:
    """What somebody needs who looks for the fault."""
    return (
        f"xlcalc {xlcalc.__version__}, Python {platform.python_version()}, {platform.platform()}\n"
        f"xlcalc {shlex.join(arguments)}\n\n" + "".join(traceback.format_exception(problem))
    )


def _kept(text: str) -> str:
    name = ""
    try:
        handle, name = tempfile.mkstemp(".log", "xlcalc-fault-")
        with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as log:
            log.write(text)
    except OSError:
        with contextlib.suppress(OSError):
            os.unlink(name)  # noqa: PTH108
        return "please report it with what --debug shows"
    return f"please report it with {name}"
