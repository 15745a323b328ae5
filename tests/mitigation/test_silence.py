"""Standard output closed to compiled code and open again."""

from __future__ import annotations

import subprocess
import sys

import pytest

from xlcalc.mitigation.milp.program import quiet_native_stdout

PROGRAM = """
import ctypes
from xlcalc.mitigation.milp.program import quiet_native_stdout
library = ctypes.CDLL(None)
print("before")
with quiet_native_stdout():
    library.printf(b"chatter")
print("after")
"""


@pytest.mark.skipif(sys.platform == "win32", reason="the runtime library has another name")
def test_what_compiled_code_prints_is_dropped_and_nothing_else():
    """In a process of its own with a pipe, where the runtime library keeps what it prints in a buffer."""
    done = subprocess.run([sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["before", "after"]


@pytest.mark.skipif(sys.platform == "win32", reason="the runtime library has another name")
def test_without_standard_output_nothing_happens():
    program = "import os, sys; os.close(1); sys.stdout = None\n" + PROGRAM
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout + done.stderr == ""


def test_output_is_open_again_after_an_error(capfd):
    with pytest.raises(ZeroDivisionError), quiet_native_stdout():
        raise ZeroDivisionError
    print("here")
    assert capfd.readouterr().out == "here\n"
