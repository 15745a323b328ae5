"""The machine code of the kernels: compiled once per version and machine, then loaded without the compiler.

It is compiled for every processor of the machine's family, so that all processes compute the same digits.
"""

from __future__ import annotations

import contextlib
import ctypes
import hashlib
import logging
import os
import platform
import stat
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Sequence
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Any

import numpy.typing as npt

from xlcalc.core.errors import NoSolutionError

KERNELS = Path(__file__).parents[1] / "kernels"
ANY_PROCESSOR = {"NUMBA_CPU_NAME": "generic", "NUMBA_CPU_FEATURES": ""}

C_FUNCTIONS = ("exp", "pow", "hypot", "sin", "cos", "sincos", "memset", "memcpy")
"""What the kernels call in the runtime library of C."""

Addresses = Callable[[str], int]
"""Address of a function by its name."""

_BY_OTHERS = stat.S_IWGRP | stat.S_IWOTH

_log = logging.getLogger(__name__)
_one_at_a_time = threading.Lock()


def call(name: str, integers: Sequence[int], arrays: Sequence[npt.NDArray[Any]]) -> None:
    """Call a function that `kernels.build` compiles; the interpreter lock is free meanwhile.

    Parameters
    ----------
    name : str
    integers : sequence of int
        What it takes first, in the order of its parameters.
    arrays : sequence of array
        What it takes then, contiguous and of the shapes and types that it states.

    Raises
    ------
    ValueError
        An array is not contiguous.
    NoSolutionError
        The kernels cannot be compiled here; the message says why.
    """
    if not all(array.flags.c_contiguous for array in arrays):
        raise ValueError(f"{name} takes contiguous arrays only")
    with _one_at_a_time:
        function = _function(name, len(integers), len(arrays))
    if function(*integers, *[array.ctypes.data for array in arrays]):
        raise AssertionError(f"{name} failed, though no kernel raises anything")


@cache
def _function(name: str, integers: int, arrays: int) -> Callable[..., int]:
    kinds = [ctypes.c_int64] * integers + [ctypes.c_void_p] * arrays
    function: Callable[..., int] = ctypes.CFUNCTYPE(ctypes.c_int32, *kinds)(_addresses()(name))
    return function


@cache
def _addresses() -> Addresses:
    """Of the kernels, compiled now if they are not there; that they cannot be is remembered."""
    try:
        return _found()
    except NoSolutionError as problem:
        reason = str(problem)

    def address(name: str) -> int:
        raise NoSolutionError(reason)

    return address


def _found() -> Addresses:
    name = f"kernels-{fingerprint()}-{sys.platform}-{platform.machine()}"
    places = [folder / name for folder in folders()]
    for place in places:
        if is_safe(place.parent) and (found := load(place)) is not None:
            return found
    _log.info("compiling the numerical kernels; this happens once and takes about half a minute")
    for place in places:
        with contextlib.suppress(OSError):
            if not _can_hold(place.parent):
                continue
            place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            if not is_safe(place.parent):
                continue
            with tempfile.TemporaryDirectory(dir=place.parent) as folder:
                compile_to(Path(folder) / name)
                if not name.startswith(f"kernels-{fingerprint()}-"):
                    return _found()
                for made in Path(folder).iterdir():
                    made.chmod(0o755)
                    made.replace(place.parent / made.name)
            if (found := load(place)) is not None:
                return found
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        compile_to(Path(folder) / name)
        if (found := load(Path(folder) / name)) is not None:
            return found
    raise NoSolutionError("the compiled kernels cannot be loaded on this machine")


def folders() -> list[Path]:
    """Where the machine code is kept: with the package, else with the user, else in a temporary folder.

    All are absolute. A user without a home has only the last, under a name of his own.
    """
    home = os.environ.get("LOCALAPPDATA" if sys.platform == "win32" else "XDG_CACHE_HOME")
    places = [KERNELS / "__pycache__"]
    usual = os.path.expanduser("~/.cache")  # noqa: PTH111 -- that of Path fails without a home
    absolute = (given for given in (home, usual) if given and Path(given).is_absolute())
    places += [Path(given) / "xlcalc" for given in islice(absolute, 1)]
    if hasattr(os, "geteuid"):
        places.append(Path(tempfile.gettempdir()).absolute() / f"xlcalc-{os.geteuid()}")
    return places


def is_safe(folder: Path) -> bool:
    """Whether nobody but this user and the system's administrator can put a file into a folder.

    The folder is theirs and neither its group nor others may write there; nobody else can put another one in
    its place, because the same holds for all folders above, where others may write at most as in the shared
    temporary folder (sticky bit). Windows protects the folder of a user's data by itself.
    """
    if not hasattr(os, "geteuid"):
        return True
    try:
        real = folder.resolve(strict=True)
        states = [place.stat() for place in (real, *real.parents[:-1])]
    except (OSError, RuntimeError):
        return False
    own = {0, os.geteuid()}
    private = all(state.st_uid in own for state in states) and not states[0].st_mode & _BY_OTHERS
    return private and all(not s.st_mode & _BY_OTHERS or s.st_mode & stat.S_ISVTX for s in states[1:])


def _can_hold(folder: Path) -> bool:
    """Whether a folder is safe, or will be where it is made: in a safe one, or in one with the sticky bit."""
    if os.path.lexists(folder):
        return is_safe(folder)
    above = folder.parent
    while not os.path.lexists(above):
        above = above.parent
    try:
        sticky = bool(above.stat().st_mode & stat.S_ISVTX)
    except OSError:
        return False
    return is_safe(above) or (sticky and is_safe(above.parent))


def fingerprint() -> str:
    """Changes whenever a source of the kernels changes."""
    digest = hashlib.blake2b(digest_size=8)
    for path in sorted(KERNELS.glob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def compile_to(place: Path) -> None:
    """Write ``place.o``, and ``place.so`` where there is a linker: in a process of its own, else here.

    Another process keeps the compiler out of this one; it looks for no module in the folder where the user is
    at work (``-P``). An embedded interpreter may not be able to start one like itself.

    Raises
    ------
    NoSolutionError
        The compiler failed; the message says why.
    """
    if _compiled_elsewhere(place):
        return
    try:
        _compile_here(place)
    except Exception as problem:
        raise NoSolutionError(f"the kernels cannot be compiled: {problem}") from None


def _compiled_elsewhere(place: Path) -> bool:
    if "python" not in Path(sys.executable or "").name:  # the spreadsheet program itself
        return False
    paths = os.pathsep.join([str(KERNELS.parents[2]), *filter(None, sys.path)])
    with contextlib.suppress(OSError):
        done = subprocess.run(
            [sys.executable, "-P", "-m", "xlcalc.rectifier.kernels.build", str(place)],
            env={**os.environ, **ANY_PROCESSOR, "PYTHONPATH": paths},
            capture_output=True,
            check=False,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
        return done.returncode == 0
    return False


def _compile_here(place: Path) -> None:
    kept = {name: os.environ.get(name) for name in ANY_PROCESSOR}
    os.environ.update(ANY_PROCESSOR)
    try:
        from xlcalc.rectifier.kernels.build import build
    finally:
        for name, value in kept.items():
            os.environ.pop(name)
            if value is not None:
                os.environ[name] = value
    build(place)


def load(place: Path) -> Addresses | None:
    """The functions in ``place.so``, else in ``place.o``; None where neither can be loaded.

    A file that somebody else owns or may write is passed over.
    """
    with contextlib.suppress(OSError):
        return _from_library(_own(Path(f"{place}.so")))
    with contextlib.suppress(OSError):
        return _from_object(_own(Path(f"{place}.o")).read_bytes())
    return None


def _own(path: Path) -> Path:
    """The path of an ordinary file that only this user and the administrator can write.

    Raises
    ------
    PermissionError
        It is another kind of file, or somebody else's.
    """
    state = path.lstat()
    others = hasattr(os, "geteuid") and (
        state.st_uid not in {0, os.geteuid()} or bool(state.st_mode & _BY_OTHERS)
    )
    if not stat.S_ISREG(state.st_mode) or others:
        raise PermissionError(f"{path} is not a file of this user alone")
    return path.absolute()


def _from_library(path: Path) -> Addresses:
    library = ctypes.CDLL(str(path))

    def address(name: str) -> int:
        return ctypes.cast(library[name], ctypes.c_void_p).value or 0

    return address


def _from_object(code: bytes) -> Addresses:
    """Linked in memory; takes some 50 MB more."""
    import llvmlite.binding as llvm

    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    runtime = ctypes.CDLL("ucrtbase" if sys.platform == "win32" else None)
    for name in C_FUNCTIONS:
        if not llvm.address_of_symbol(name) and hasattr(runtime, name):
            llvm.add_symbol(name, ctypes.cast(runtime[name], ctypes.c_void_p).value)
    machine = llvm.Target.from_default_triple().create_target_machine(jit=True)
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), machine)
    engine.add_object_file(llvm.ObjectFileRef.from_data(code))
    engine.finalize_object()

    def address(name: str) -> int:
        return int(engine.get_function_address(name))

    return address
