"""The real hosts of the tests: Calc with the add-in installed, and the conversion code of xlwings."""

from __future__ import annotations

import ctypes
import json
import os
import shutil
import subprocess
import sys
import uuid
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any
from unittest.mock import MagicMock

import pytest

from xlcalc.core.errors import InputError
from xlcalc.hosts.excel.cells import error_of
from xlcalc.hosts.libreoffice.install import install
from xlcalc.hosts.libreoffice.programs.calculator import Calculator
from xlcalc.hosts.libreoffice.programs.office import Office, find_office
from xlcalc.schema.values import CellError, Scalar, Value
from xlcalc.worksheet.catalogue import FUNCTIONS

WORKER = Path(__file__).parent / "hosts" / "libreoffice" / "calc_worker.py"
STAND_INS = (
    "pythoncom pywintypes win32api win32con win32gui win32process win32event win32timezone comtypes win32com "
    "win32com.client win32com.server win32com.server.util win32com.server.dispatcher win32com.server.policy"
).split()


def missing(what: str) -> None:
    """Skip by name, or fail where the hosts are said to be there."""
    (pytest.fail if os.environ.get("XLCALC_EXPECT_HOSTS") == "1" else pytest.skip)(what)


def python_with_uno(office: Office) -> str | None:
    candidates = (office.program / "python", office.program / "python.exe", Path("/usr/bin/python3"))
    for candidate in candidates:
        if candidate.is_file():
            tried = subprocess.run([str(candidate), "-c", "import uno"], capture_output=True, check=False)
            if tried.returncode == 0:
                return str(candidate)
    return None


class Calc:
    """A running LibreOffice, asked through the worker."""

    def __init__(self, office: Office, python: str) -> None:
        pipe = f"xlcalc{uuid.uuid4().hex}"
        command = [str(office.soffice), "--headless", "--norestore", *office.arguments]
        self._office = subprocess.Popen(
            [*command, f"--accept=pipe,name={pipe};urp;"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self._worker = subprocess.Popen(
            [python, str(WORKER), pipe], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def __getattr__(self, name: str) -> Callable[..., Any]:
        return lambda *arguments: self._ask(name, *arguments)

    def _ask(self, name: str, *arguments: Any) -> Any:
        assert self._worker.stdin is not None
        assert self._worker.stdout is not None
        self._worker.stdin.write(json.dumps([name, arguments]) + "\n")
        self._worker.stdin.flush()
        answer = json.loads(self._worker.stdout.readline())
        assert "problem" not in answer, answer["problem"]
        return answer["result"]

    def stop(self) -> None:
        try:
            self._ask("quit")
            self._office.wait(20)
        finally:
            self._worker.kill()
            self._office.kill()


@pytest.fixture(scope="session")
def bare_office(tmp_path_factory: pytest.TempPathFactory) -> Office:
    """LibreOffice with a profile and a folder of extensions of its own, without the add-in."""
    if shutil.which("soffice") is None:
        missing("LibreOffice (soffice) is not installed")
    folder = tmp_path_factory.mktemp("office")
    (folder / "extensions").mkdir()
    return Office(find_office().program, folder / "profile", folder / "extensions")


@pytest.fixture(scope="session")
def office(bare_office: Office, tmp_path_factory: pytest.TempPathFactory) -> Office:
    """LibreOffice with the add-in installed."""
    folder = tmp_path_factory.mktemp("office_with_functions")
    found = Office(bare_office.program, folder / "profile", folder / "extensions")
    install(found, FUNCTIONS)
    return found


@pytest.fixture(scope="session")
def office_python(bare_office: Office) -> str:
    """The Python that LibreOffice uses."""
    python = python_with_uno(bare_office)
    if python is None:
        missing("no Python with the uno module (python3-uno) is installed")
    return str(python)


@pytest.fixture(scope="session")
def calculator() -> Iterator[Calculator]:
    """One LibreOffice that computes workbooks for all tests."""
    try:
        made = Calculator()
    except InputError as problem:
        missing(str(problem))
    with made:
        yield made


@pytest.fixture(scope="session")
def without() -> Callable[[str], None]:
    """Skips a test by what is missing."""
    return missing


@pytest.fixture(scope="session")
def calc(office: Office, office_python: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Calc]:
    """A running Calc with the add-in; its own profile, for a conversion in the same one would end it."""
    running = Calc(replace(office, profile=tmp_path_factory.mktemp("calc")), office_python)
    yield running
    running.stop()


@pytest.fixture(scope="session")
def windows_xlwings() -> Iterator[ModuleType]:
    """xlwings with its Windows modules, on any system.

    The pywin32 packages, which only connect to Excel, are stand-ins; decorators, conversion of arguments and
    results and the VBA generator are xlwings' own.
    """
    xlwings = pytest.importorskip("xlwings", reason="xlwings is not installed")
    changed = pytest.MonkeyPatch()
    for name in STAND_INS:
        changed.setitem(
            sys.modules, name, MagicMock(name=name, __file__="stand-in", __spec__=ModuleSpec(name, None))
        )
    changed.setattr(sys.modules["pywintypes"], "com_error", type("com_error", (Exception,), {}))
    changed.setattr(sys.modules["pywintypes"], "TimeType", type("TimeType", (), {}))
    for name in ("windll", "oledll", "PyDLL"):
        changed.setattr(ctypes, name, MagicMock(), raising=False)
    import xlwings._xlwindows as windows
    import xlwings.udfs as udfs

    for name, real in (("func", udfs.xlfunc), ("arg", udfs.xlarg)):
        changed.setattr(xlwings, name, real)
    xlwings.engines.add(xlwings.Engine(impl=windows.engine))
    yield udfs
    changed.undo()
    for name in ("xlwings._xlwindows", "xlwings.udfs"):
        sys.modules.pop(name, None)


@pytest.fixture(scope="session")
def udf_module(windows_xlwings: ModuleType) -> SimpleNamespace:
    """The functions decorated by the real decorators of xlwings, as its generator reads them."""
    import xlwings

    from xlcalc.hosts.excel.wrappers import decorated
    from xlcalc.hosts.memo import Memo

    memo = Memo()
    return SimpleNamespace(**{name: decorated(xlwings, f, memo) for name, f in FUNCTIONS.items()})


class ThroughXlwings:
    """A worksheet function called the way Excel calls it: COM values, xlwings, Python, xlwings, VBA."""

    def __init__(self, udf: Any, numbers: Mapping[str, int]) -> None:
        declared = FUNCTIONS[udf.__name__]
        self.name, self.min_args, self.max_args = declared.name, declared.min_args, declared.max_args
        self.volatile, self.shape = declared.volatile, declared.shape
        self._udf, self._numbers = udf, numbers

    def __call__(self, raw: list[Value]) -> Value:
        from xlwings import conversion

        described = self._udf.__xlfunc__
        required = sum("optional" not in argument for argument in described["args"])
        if len(raw) < required or len(raw) > (self.max_args or len(raw)):
            return CellError(error_of("#VALUE!").code, "VBA refuses the number of arguments")
        converted = []
        for position, value in enumerate(raw):
            argument = described["args"][min(position, len(described["args"]) - 1)]
            converted.append(conversion.read(None, self._com(value), argument["options"]))
        rows = conversion.write(self._udf(*converted), None, described["ret"]["options"])
        rows = rows if isinstance(rows, list) else [[rows]]
        cells = [[self._cell(cell) for cell in row] for row in rows]
        return cells[0][0] if len(cells) == 1 and len(cells[0]) == 1 else cells

    def _com(self, value: Value) -> Any:
        if isinstance(value, list):
            return tuple(tuple(self._com(cell) for cell in row) for row in value)
        return self._numbers[value.code.value] if isinstance(value, CellError) else value

    @staticmethod
    def _cell(cell: Any) -> Scalar:
        """What `xlcalc_cell` of the VBA module does; tests/hosts/excel/test_vba.py runs the VBA itself."""
        return (error_of(cell) or cell) if isinstance(cell, str) else cell


@pytest.fixture(scope="session")
def through_xlwings(udf_module: SimpleNamespace) -> Mapping[str, ThroughXlwings]:
    from xlwings._xlwindows import cell_errors

    numbers = {text: number for number, text in cell_errors.items()}
    return {name: ThroughXlwings(getattr(udf_module, name), numbers) for name in FUNCTIONS}
