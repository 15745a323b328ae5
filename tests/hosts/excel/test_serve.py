"""The Python that Excel starts, run as Excel runs it; and what a call asks of Excel: nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from unittest.mock import MagicMock

import pytest

import xlcalc
from xlcalc.hosts.excel import serve as serve_module
from xlcalc.hosts.excel.vba import PYTHON_MODULE, SERVER_MODULE, module_text

MISSING = None  # an empty variant
DIV0 = -2146826281
STAND_IN = "def serve(clsid):\n    print('served', clsid)\n"


def started(
    folder: Path, xlwings: str, cwd: Path, program: list[str] | None = None
) -> tuple[subprocess.CompletedProcess[str], str]:
    """Start as the command in the VBA module says, with a stand-in for xlwings."""
    library = folder / "library"
    library.mkdir(exist_ok=True)
    (library / "xlwings.py").write_text(xlwings, encoding="utf-8")
    command = module_text("xlcalc_calls").partition('python & """ ')[2].partition(" $(CLSID)")[0].split()
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join([str(library), str(Path(xlcalc.__file__).parent.parent)]),
        "LOCALAPPDATA": str(folder / "data"),
    }
    command = [sys.executable, *(program or command), "{506e67c3}"]
    done = subprocess.run(command, cwd=cwd, env=environment, capture_output=True, text=True, check=False)
    return done, (folder / "data" / "xlcalc" / "excel.log").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["https: a b", "Łukasz 開発"])
def test_nothing_is_imported_from_the_folder_of_a_workbook(tmp_path, name):
    """Excel's current folder is that of the last file opened; what lies there must not be run."""
    folder = tmp_path / name
    folder.mkdir()
    for planted in ("numpy.py", "xlwings.py", "xlcalc.py", "os.py", "pywintypes.py"):
        (folder / planted).write_text("raise SystemExit('planted code was run')\n", encoding="utf-8")
    decorators = "def func(**k):\n    return lambda f: f\ndef arg(n, **k):\n    return lambda f: f\n"
    done, log = started(tmp_path, decorators + STAND_IN, folder)
    assert done.returncode == 0, log
    assert log.splitlines()[-1] == "served {506e67c3}"
    assert SERVER_MODULE.endswith(serve_module.__name__.rpartition(".")[2])


def test_start_that_fails_ends_and_leaves_its_reason(tmp_path):
    """Excel waits as long as this process lives: up to two minutes (xlwings, config.cpp)."""
    done, log = started(tmp_path, "raise ImportError('no pywin32')\n", tmp_path)
    assert done.returncode == 1
    assert "ImportError: no pywin32" in log


def test_start_that_hangs_is_given_up(tmp_path):
    program = (
        "import sys, xlcalc.hosts.excel.serve as s; s.LONGEST_START = 0.3; s.serve(sys.argv[1], s.log_file())"
    )
    done, log = started(tmp_path, "import time\ntime.sleep(60)\n", tmp_path, ["-c", program])
    assert done.returncode == 1
    assert "was given up" in log
    assert serve_module.LONGEST_START < 30


def test_call_of_a_function_asks_excel_nothing(windows_xlwings, udf_module, monkeypatch):
    """Through `XLPython.CallUDF` and `call_udf` of xlwings, with values as VBA hands them over."""
    import xlwings
    from xlwings import com_server

    dispatch = MagicMock(side_effect=AssertionError("an object of Excel was asked for"))
    monkeypatch.setattr(xlwings._xlwindows, "Dispatch", dispatch, raising=False)
    monkeypatch.setattr(windows_xlwings, "Dispatch", dispatch, raising=False)
    monkeypatch.setattr(windows_xlwings, "get_udf_module", lambda *a: udf_module)
    monkeypatch.setattr(com_server, "FromVariant", lambda value: value)
    call = com_server.XLPython().CallUDF
    table = ((1.0, 100.0, 0.0), (5.0, 40.0, 0.0), (7.0, DIV0, 0.0))
    assert call(PYTHON_MODULE, "HD_SC_AMPS", (1000.0, 69.0)) == pytest.approx(8367.4, rel=1e-5)
    assert call(PYTHON_MODULE, "HD_VERSION", ()) == xlcalc.__version__
    assert call(PYTHON_MODULE, "HD_THD", (table[:2],)) == pytest.approx(40.0)
    assert call(PYTHON_MODULE, "HD_THD", (table,)).startswith("#DIV/0!")
    assert call(PYTHON_MODULE, "HD_REACTOR_FOR_THD", (35.0, 6.0, 1.0, MISSING, MISSING, MISSING)) > 0
    assert call(PYTHON_MODULE, "HD_SERIES_MVA", (100.0, 50.0)) == pytest.approx(100 / 3)
    assert len(call(PYTHON_MODULE, "HD_IDEAL_SPECTRUM", (6.0, MISSING))) > 10
    assert not dispatch.called
