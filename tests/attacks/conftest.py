"""The command line, run in this process or in one of its own, and small inputs to run it on."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import pytest

from xlcalc.cli.app import main
from xlcalc.core import resources


@dataclass(frozen=True)
class Finished:
    """What a command did."""

    code: int
    out: str
    err: str

    @property
    def refused_in_one_line(self) -> bool:
        """Exit code 2 and one line on standard error."""
        return self.code == 2 and len(self.err.strip().splitlines()) == 1 and "Traceback" not in self.err


Run = Callable[..., Finished]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Runs a command in this process, in the temporary folder."""

    def started(*arguments: str) -> Finished:
        out, err = io.StringIO(), io.StringIO()
        with contextlib.ExitStack() as stack:
            stack.enter_context(contextlib.redirect_stdout(out))
            stack.enter_context(contextlib.redirect_stderr(err))
            stack.enter_context(mock.patch.object(sys, "argv", ["xlcalc", *arguments]))
            stack.enter_context(contextlib.chdir(tmp_path))
            with pytest.raises(SystemExit) as ended:
                main()
        return Finished(int(ended.value.code or 0), out.getvalue(), err.getvalue())

    return started


@pytest.fixture
def start(tmp_path: Path) -> Run:
    """Runs a command in a process of its own, in the temporary folder."""

    def started(*arguments: str, seconds: float = 120, **environment: str) -> Finished:
        done = subprocess.run(
            [sys.executable, "-m", "xlcalc", *arguments],
            capture_output=True,
            cwd=tmp_path,
            env={**os.environ, **environment},
            timeout=seconds,
            check=False,
        )
        return Finished(
            done.returncode, done.stdout.decode(errors="replace"), done.stderr.decode(errors="replace")
        )

    return started


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A folder with a site of two drives (drives.csv, site.toml), a sweep and a small workbook."""
    import openpyxl

    demo = resources.folder("demo")
    shutil.copy(demo / "site.toml", tmp_path / "site.toml")
    shutil.copy(demo / "sweep.toml", tmp_path / "sweep.toml")
    lines = (demo / "drives.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (tmp_path / "drives.csv").write_text("".join(lines[:3]), encoding="utf-8")
    book = openpyxl.Workbook()
    book.active["A1"] = "=HD_SC_AMPS(A2,0.48)"
    book.active["A2"] = 20
    book.save(tmp_path / "book.xlsx")
    return tmp_path
