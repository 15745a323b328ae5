"""Compiles the kernels: ``python -m xlcalc.rectifier.kernels.build PLACE`` writes PLACE.o, PLACE.so."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from xlcalc.rectifier.kernels.entries import batch, respond
from xlcalc.rectifier.kernels.jit import object_code
from xlcalc.rectifier.kernels.resample import resample

LINKERS = ("cc", "gcc", "clang")


def build(place: Path) -> None:
    """Write the object code, and a shared library where there is a linker."""
    code = Path(f"{place}.o")
    code.write_bytes(object_code(batch, respond, resample))
    if sys.platform != "win32":
        any(_linked(linker, code, f"{place}.so") for linker in LINKERS)


def _linked(linker: str, code: Path, library: str) -> bool:
    try:
        done = subprocess.run(
            [linker, "-shared", "-o", library, str(code), "-lm"], capture_output=True, check=False
        )
    except OSError:
        return False
    return done.returncode == 0


if __name__ == "__main__":
    build(Path(sys.argv[1]))
