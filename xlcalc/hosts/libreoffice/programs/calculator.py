"""A LibreOffice without a window that computes one workbook after the other."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import signal
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from types import TracebackType
from typing import Any

from xlcalc.core.errors import InputError
from xlcalc.hosts.libreoffice.programs.office import Office, clean_environment, find_office

WORKER = Path(__file__).with_name("calculator_worker.py")
START_SECONDS = 120.0
SECONDS = 300.0
_SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop>
<prop oor:name="ODFRecalcMode" oor:op="fuse"><value>0</value></prop>
</item>
<item oor:path="/org.openoffice.Office.Common/Security/Scripting">
<prop oor:name="DisableMacrosExecution" oor:op="fuse"><value>true</value></prop>
<prop oor:name="BlockUntrustedRefererLinks" oor:op="fuse"><value>true</value></prop>
</item>
<item oor:path="/org.openoffice.Setup/L10N">
<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>en-US</value></prop>
</item>
</oor:items>
"""
"""Every file is calculated when it is opened, in English; macros and outside pictures are left alone."""


class Calculator:
    """Starts LibreOffice with a profile of its own at the first workbook; use it as a context.

    Parameters
    ----------
    office : Office, optional
        The one of this machine unless given.
    seconds : float
        Longest time for one workbook, s; above 0. LibreOffice is ended then, and started anew for the next.

    Raises
    ------
    InputError
        There is no LibreOffice, or no Python that can talk with it.
    """

    def __init__(self, office: Office | None = None, *, seconds: float = SECONDS) -> None:
        self._office = office or find_office()
        self._python = _python_with_uno(self._office)
        self._seconds = seconds
        self._running: subprocess.Popen[str] | None = None
        self._answers: queue.Queue[str] = queue.Queue()
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._version = ""
        self._functions: frozenset[str] = frozenset()

    @property
    def name(self) -> str:
        """The program with its version."""
        self._start()
        return f"LibreOffice {self._version}"

    @property
    def functions(self) -> frozenset[str]:
        """Names of the worksheet functions that it has."""
        self._start()
        return self._functions

    def compute(self, source: Path, target: Path) -> None:
        """Open a workbook, let it be calculated, and save it as an .xlsx file.

        Raises
        ------
        InputError
            LibreOffice cannot open the file, ends, or does not end in time.
        """
        self._start()
        assert self._running is not None
        assert self._running.stdin is not None
        asked = {"source": str(source.resolve()), "target": str(target.resolve())}
        try:
            self._running.stdin.write(json.dumps(asked) + "\n")
            self._running.stdin.flush()
        except OSError:
            self.stop()
            raise _failure("LibreOffice ended; its work is lost") from None
        problem = self._answer(self._seconds).get("problem")
        if problem:
            self.stop()
            raise _failure(f"LibreOffice cannot open or save {source.name}: {problem}")

    def _start(self) -> None:
        if self._running is not None:
            return
        self._folder = tempfile.TemporaryDirectory(prefix="xlcalc-office-", ignore_cleanup_errors=True)
        profile = Path(self._folder.name).resolve()
        (profile / "user").mkdir()
        (profile / "none").mkdir()
        (profile / "user" / "registrymodifications.xcu").write_text(_SETTINGS, encoding="utf-8")
        self._answers = queue.Queue()
        self._running = subprocess.Popen(
            [self._python, "-E", "-s", str(WORKER), str(self._office.soffice), str(profile)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
            env=clean_environment(),
            start_new_session=True,
        )
        threading.Thread(target=_listen, args=(self._running, self._answers), daemon=True).start()
        introduced = self._answer(START_SECONDS)
        self._version = introduced["version"]
        self._functions = frozenset(introduced["functions"])

    def _answer(self, seconds: float) -> dict[str, Any]:
        try:
            line = self._answers.get(timeout=seconds)
        except queue.Empty:
            self.stop()
            raise _failure(f"LibreOffice gave no answer within {seconds:g} s and was ended") from None
        except BaseException:
            self.stop()
            raise
        if not line:
            self.stop()
            raise _failure("LibreOffice ended without an answer")
        answer: dict[str, Any] = json.loads(line)
        return answer

    def stop(self) -> None:
        """End LibreOffice, whatever it is doing."""
        running, self._running = self._running, None
        if running is not None:
            _end(running)
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None

    def __enter__(self) -> Calculator:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()


def _listen(running: subprocess.Popen[str], answers: queue.Queue[str]) -> None:
    assert running.stdout is not None
    for line in running.stdout:
        answers.put(line)
    answers.put("")


def _end(running: subprocess.Popen[str]) -> None:
    if sys.platform == "win32":
        subprocess.run(
            ["taskkill", "/F", "/T", "/PID", str(running.pid)], check=False, stdout=subprocess.DEVNULL
        )
    else:
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(running.pid, signal.SIGKILL)
    for stream in (running.stdin, running.stdout):
        if stream is not None:
            with contextlib.suppress(OSError):
                stream.close()
    running.wait()


def _python_with_uno(office: Office) -> str:
    """The Python that comes with LibreOffice or that the system has for it."""
    resources = office.program.parent / "Resources"
    candidates = (
        office.program / "python",
        office.program / "python.exe",
        resources / "python",
        Path("/usr/bin/python3"),
    )
    for candidate in candidates:
        if not candidate.is_file():
            continue
        tried = subprocess.run(
            [str(candidate), "-E", "-s", "-c", "import uno"],
            capture_output=True,
            check=False,
            env=clean_environment(),
        )
        if tried.returncode == 0:
            return str(candidate)
    raise _failure(
        "LibreOffice is installed, but without a Python that has its module uno (on Debian: python3-uno)"
    )


def _failure(sentence: str) -> InputError:
    return InputError("LibreOffice", None, "", message=sentence)
