"""A recalculation held against LibreOffice, a program that shares nothing with this one."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.formula import ArrayFormula

from xlcalc.core.errors import InputError
from xlcalc.hosts.libreoffice.programs.calculator import Calculator
from xlcalc.hosts.libreoffice.programs.office import clean_environment
from xlcalc.recalc.evaluation.calling import callbacks
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.verification.agreement import same
from xlcalc.recalc.verification.calls import with_constants
from xlcalc.schema.values import CellError, ErrorCode, Value

ORDINARY = {
    "A1": 2,
    "A2": 3,
    "A3": "three",
    "B1": "=A1+A2",
    "B2": '=IF(B1>4,"above","below")',
    "B3": "=SUM(A1:A3)/7",
    "B4": '="x"&A3',
    "B5": "=NA()",
    "B6": "=A1=A2",
    "B7": "=ROUND(B3,2)",
    "B8": "=IFERROR(B5,MATCH(3,A1:A3,0))",
    "B9": "=TODAY()",
    "B10": "=B9+1",
    "B11": "=A9",
    "B12": "=10000000.1-10000000-0.1",
    "C1": ArrayFormula("C1:C2", "=A1:A2*B1"),
    "D1": '=_xlfn.XLOOKUP("three",A1:A3,A1:A3)',
}


@dataclass(frozen=True)
class Given:
    """A function of ours whose result no other program can compute."""

    name: str
    result: Value
    min_args: int = 0
    max_args: int | None = None
    volatile: bool = False
    shape: object | None = None

    def __call__(self, raw: Sequence[Value]) -> Value:
        return self.result


def _book(path: Path, cells: dict[str, object]) -> Path:
    book = openpyxl.Workbook()
    book.worksheets[0].title = "sheet1"  # to which LibreOffice gives another name
    for address, content in cells.items():
        book.worksheets[0][address] = content
    book.save(path)
    return path


def test_ordinary_formulas_agree_and_what_cannot_be_compared_is_counted(tmp_path, calculator) -> None:
    book = _book(tmp_path / "book.xlsx", ORDINARY)
    report = recalculate(book, tmp_path / "out.xlsx", {}, witness=calculator)
    seen = report.verification
    assert seen.differing == ()
    assert sum(seen.not_compared.values()) == 2
    assert {reason.split()[0] for reason in seen.not_compared} == {"what", "XLOOKUP"}
    assert seen.agreeing == len([v for v in ORDINARY.values() if str(v).startswith(("=", "<"))]) - 2
    assert seen.program in seen.lines()[0]


def test_a_wrong_function_is_refused_with_all_that_follows(tmp_path, calculator, monkeypatch) -> None:
    right = callbacks.LIBRARY["MATCH"]
    monkeypatch.setattr(callbacks, "LIBRARY", {**callbacks.LIBRARY, "MATCH": lambda *a: right(*a) + 1})
    cells = {"A1": 5, "A2": 6, "A3": 7, "B1": "=MATCH(6,A1:A3,0)", "B2": "=B1*10", "B3": "=A1*2"}
    book = _book(tmp_path / "book.xlsx", cells)
    report = recalculate(book, tmp_path / "out.xlsx", {}, witness=calculator)
    assert [(i.cell, i.outcome) for i in report.issues] == [("B1", "refused"), ("B2", "refused")]
    assert "computes 2, not 3" in report.issues[0].reason
    assert report.issues[1].reason.startswith("it depends on sheet1!B1")
    assert [(d.cell, d.follows) for d in report.verification.differing] == [("B1", False), ("B2", True)]
    assert not report.clean
    shown = openpyxl.load_workbook(tmp_path / "out.xlsx", data_only=True).worksheets[0]
    assert (shown["B1"].value, shown["B2"].value, shown["B3"].value) == (None, None, 10)


def test_calls_of_ours_are_constants_and_the_rest_of_their_formulas_is_computed(tmp_path, calculator) -> None:
    ours = {
        "X_TABLE": Given("X_TABLE", [[1.5, "a"], [2.5, "b"]], shape=(2, 2)),
        "X_ONE": Given("X_ONE", -4.0),
        "X_BAD": Given("X_BAD", CellError(ErrorCode.NUM, "outside its range")),
    }
    cells = {
        "A1": '=VLOOKUP(2.5,X_TABLE(),2,FALSE)&"!"',
        "A2": "=X_ONE(X_ONE(1))*2",
        "A3": "=IFERROR(X_BAD(),7)",
        "A4": "=SUM(INDEX(X_TABLE(),0,1))+X_ONE()",
        "A5": ArrayFormula("A5:B6", "=X_TABLE()"),
    }
    report = recalculate(
        _book(tmp_path / "book.xlsx", cells), tmp_path / "out.xlsx", ours, witness=calculator
    )
    assert report.clean
    assert (report.verification.agreeing, report.verification.differing) == (5, ())
    assert not report.verification.not_compared


def test_what_a_call_gave_is_written_in_its_place() -> None:
    assert with_constants("HD_A(HD_B(1),2)+3", {"HD_A", "HD_B"}, ["HD_A", "HD_B"], {0: 1.5}) == "1.5+3"
    assert with_constants('HD_A()&"HD_A()"', {"HD_A"}, ["HD_A"], {0: 'q"'}) == '"q"""&"HD_A()"'
    assert with_constants("HD_A()", {"HD_A"}, ["HD_A", "HD_A"], {0: 1.0}) is None


def test_numbers_within_the_tolerance_are_the_same_and_types_are_not_mixed() -> None:
    assert same(1.0, 1.0 + 9e-10)
    assert not same(1.0, 1.0 + 2e-9)
    assert same(1e-7, 0.0, scale=1e8)
    assert not same(1e-7, 0.0, scale=10.0)
    assert not same("1", 1.0)
    assert not same(True, 1.0)
    assert not same(CellError(ErrorCode.NA), CellError(ErrorCode.NUM))


def test_one_that_stands_still_or_died_is_one_line_and_started_anew(tmp_path, calculator) -> None:
    book = _book(tmp_path / "book.xlsx", {"A1": "=1+1"})
    with Calculator(seconds=1.5) as impatient:
        assert impatient.name == calculator.name
        os.killpg(impatient._running.pid, signal.SIGSTOP)
        with pytest.raises(InputError, match=r"no answer within 1\.5 s"):
            recalculate(book, tmp_path / "out.xlsx", {}, witness=impatient)
        assert not (tmp_path / "out.xlsx").exists()
        assert impatient.name == calculator.name
        os.killpg(impatient._running.pid, signal.SIGKILL)
        with pytest.raises(InputError, match="ended"):
            recalculate(book, tmp_path / "out.xlsx", {}, witness=impatient)


def test_without_libreoffice_it_is_said_in_one_line(tmp_path, monkeypatch, calculator) -> None:
    book = _book(tmp_path / "book.xlsx", {"A1": "=1+1"})
    without = "import xlcalc.hosts.libreoffice.programs.office as o; o._PLACES = ()"
    program = f"{without}\nfrom xlcalc.cli.app import main\nmain()"
    done = subprocess.run(
        [sys.executable, "-c", program, "recalc", str(book), "--verify"],
        env={**os.environ, "PATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert done.stderr.strip().count("\n") == 0
    assert "LibreOffice" in done.stderr
    assert openpyxl.load_workbook(book, data_only=True).worksheets[0]["A1"].value is None


def test_the_started_program_hears_nothing_of_an_active_python_environment(tmp_path, monkeypatch) -> None:
    folder = tmp_path / "venv" / "bin"
    folder.mkdir(parents=True)
    (tmp_path / "venv" / "pyvenv.cfg").touch()
    monkeypatch.setenv("PATH", os.pathsep.join([str(folder), "/usr/bin"]))
    monkeypatch.setenv("VIRTUAL_ENV", str(tmp_path / "venv"))
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    cleaned = clean_environment()
    assert cleaned["PATH"] == "/usr/bin"
    assert not {"VIRTUAL_ENV", "PYTHONPATH"} & cleaned.keys()


def test_many_books_are_verified_from_the_command_line(tmp_path, calculator) -> None:
    folder = tmp_path / "books"
    folder.mkdir()
    for number in range(3):
        _book(folder / f"book{number}.xlsx", {"A1": number, "A2": "=A1+1"})
    command = [sys.executable, "-m", "xlcalc", "recalc", str(folder), "-o", str(tmp_path / "out")]
    done = subprocess.run(
        [*command, "--verify", "--json", "--workers", "1"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    results = json.loads(done.stdout)["workbooks"]
    assert [result["outcome"] for result in results] == ["clean"] * 3
    assert all("1 formulas agree, 0 differ" in " ".join(result["issues"]) for result in results)
