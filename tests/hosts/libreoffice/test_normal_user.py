"""The add-in installed through the extension manager by a user who is not root, as on an engineer's machine.

Run by root, the commands are run as the unprivileged user `nobody` with a home of its own, by the Python that
LibreOffice uses, which that user can start.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from xlcalc.hosts.libreoffice.install import FOLDER_NAME
from xlcalc.hosts.libreoffice.package import import_folders
from xlcalc.hosts.libreoffice.programs.office import Office
from xlcalc.worksheet.catalogue import FUNCTIONS

NOBODY = 65534
Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="module")
def home() -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(prefix="normal-user-"))
    yield folder
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="module")
def run(home: Path, office_python: str, without: Callable[[str], None]) -> Run:
    prefix: list[str] = []
    if not hasattr(os, "geteuid"):
        without("users of this system are not told apart by number")
    if os.geteuid() == 0:
        if shutil.which("setpriv") is None:
            without("setpriv is not installed")
        os.chown(home, NOBODY, NOBODY)
        prefix = ["setpriv", f"--reuid={NOBODY}", f"--regid={NOBODY}", "--clear-groups"]
    environment = {"HOME": str(home), "PATH": os.defpath, "PYTHONPATH": os.pathsep.join(import_folders())}

    def started(*arguments: str) -> subprocess.CompletedProcess[str]:
        command = [*prefix, office_python, *arguments]
        return subprocess.run(
            command, env=environment, cwd=home, capture_output=True, text=True, timeout=280, check=False
        )

    tried = started("-c", "import xlcalc.cli.app")
    if tried.returncode:
        without(f"another user cannot load this environment: {tried.stderr.strip().splitlines()[-1]}")
    return lambda *arguments: started("-m", "xlcalc", "host", *arguments, "libreoffice")


def test_install_check_and_remove(run, home, bare_office):
    installed = run("install")
    assert installed.returncode == 0, installed.stderr
    assert "for this user" in installed.stdout
    package = next(home.rglob("xlcalc.oxt"))
    assert package.stat().st_uid == home.stat().st_uid != 0
    checked = run("check")
    assert checked.returncode == 0, checked.stdout + checked.stderr
    lines = checked.stdout.splitlines()
    assert len(lines) == 1 + sum(len(function.examples) for function in FUNCTIONS.values())
    assert all(line.startswith("ok ") for line in lines)
    removed = run("remove")
    assert removed.returncode == 0, removed.stderr
    gone = run("check")
    assert gone.returncode == 1
    assert "#NAME?" in gone.stdout
    again = run("remove")
    assert again.returncode == 2
    assert again.stderr.strip().endswith("not among the extensions of this user; valid: an installed add-in")
    assert not (Office(bare_office.program).shared_extensions / FOLDER_NAME).exists()


def test_check_leaves_an_open_libreoffice_alone(run, home):
    lock = home / ".config" / "libreoffice" / "4" / ".lock"
    lock.parent.mkdir(parents=True, exist_ok=True)
    lock.write_text("", encoding="utf-8")
    refused = run("check")
    lock.unlink()
    assert refused.returncode == 2
    assert (
        refused.stderr.strip() == f"xlcalc: LibreOffice is open; valid: closed first; if it is, delete {lock}"
    )
