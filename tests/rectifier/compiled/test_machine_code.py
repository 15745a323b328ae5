"""Compilation of the kernels, and the two ways to load them."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import xlcalc
from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.compiled import machine_code
from xlcalc.rectifier.compiled.machine_code import call, compile_to, fingerprint, folders, load
from xlcalc.rectifier.drive import FrontEnd, solve_front_end

SOLVE = """
from xlcalc.rectifier.compiled import machine_code
{before}
from xlcalc.rectifier.drive import FrontEnd, solve_front_end
print(solve_front_end(FrontEnd(12, 0.5, choke_pct=4.0, unbalance_pct=2.0)).thd_pct)
import sys
print(sorted({{"numba", "llvmlite"}} & set(sys.modules)))
"""


def in_a_process(before: str, **variables: str) -> tuple[str, str]:
    """Distortion and the loaded parts of the compiler in a process of its own."""
    paths = os.pathsep.join([str(Path(xlcalc.__file__).parents[1]), *filter(None, sys.path)])
    done = subprocess.run(
        [sys.executable, "-c", SOLVE.format(before=before)],
        env={**os.environ, "PYTHONPATH": paths, **variables},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    first, second = done.stdout.splitlines()
    return first, second


@pytest.fixture(scope="module")
def expected() -> str:
    return str(solve_front_end(FrontEnd(12, 0.5, choke_pct=4.0, unbalance_pct=2.0)).thd_pct)


@pytest.fixture(scope="module")
def object_file(expected: str) -> Path:
    """What the first solution has left."""
    assert expected
    return next(made for folder in folders() for made in folder.glob(f"kernels-{fingerprint()}-*.o"))


def test_a_process_computes_without_the_compiler(expected: str) -> None:
    if shutil.which("cc") is None:
        pytest.skip("no linker (cc) is installed")
    assert in_a_process("") == (expected, "[]")


def test_object_code_gives_the_same_digits_as_the_library(
    object_file: Path, tmp_path: Path, expected: str
) -> None:
    """Where there is no linker the object code is linked in memory."""
    alone = tmp_path / "alone"
    shutil.copy(object_file, f"{alone}.o")
    before = f"found = machine_code.load({str(alone)!r}); machine_code._addresses = lambda: found"
    found, parts = in_a_process(before)
    assert found == expected
    assert parts == "['llvmlite']"


def test_where_nothing_can_be_kept_the_kernels_are_compiled_all_the_same(expected: str) -> None:
    found, _ = in_a_process("machine_code.folders = lambda: [machine_code.Path('/proc/none')]")
    assert found == expected


def test_code_that_is_cut_short_is_not_loaded(object_file: Path, tmp_path: Path, expected: str) -> None:
    """In a process of its own: object code for a library may lie out of reach in one that holds much else."""
    place = tmp_path / "cut"
    Path(f"{place}.so").write_bytes(b"no library")
    assert load(place) is None
    shutil.copy(object_file, f"{place}.o")
    before = f"found = machine_code.load({str(place)!r}); machine_code._addresses = lambda: found"
    assert in_a_process(before) == (expected, "['llvmlite']")


@pytest.fixture
def broken_python(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As in a program whose Python cannot start one like itself."""
    program = tmp_path / "python"
    program.write_text("#!/bin/sh\nexit 1\n")
    program.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(program))


@pytest.mark.usefixtures("broken_python")
def test_without_another_process_the_kernels_are_compiled_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("xlcalc.rectifier.kernels.build.object_code", lambda *functions: b"code")
    monkeypatch.setattr("xlcalc.rectifier.kernels.build.LINKERS", ())
    before = dict(os.environ)
    compile_to(tmp_path / "kernels")
    assert (tmp_path / "kernels.o").read_bytes() == b"code"
    assert dict(os.environ) == before


@pytest.mark.usefixtures("broken_python")
def test_failure_of_the_compiler_is_told_and_not_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tries = []

    def fail(*functions: object) -> bytes:
        tries.append(functions)
        raise OSError("no space left")

    monkeypatch.setattr("xlcalc.rectifier.kernels.build.object_code", fail)
    monkeypatch.setattr(machine_code, "folders", lambda: [tmp_path])
    fresh = machine_code._addresses.__wrapped__
    address = fresh()
    for _ in range(2):
        with pytest.raises(NoSolutionError, match="cannot be compiled: no space left"):
            address("batch")
    assert len(tries) == 1


def test_arrays_must_be_contiguous() -> None:
    with pytest.raises(ValueError, match="contiguous"):
        call("batch", [], [np.zeros((3, 3)).T[:2]])


def test_fingerprint_and_folders() -> None:
    assert fingerprint() == fingerprint()
    assert len(fingerprint()) == 16
    assert folders()[1].name == "xlcalc"
