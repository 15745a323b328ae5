"""The command line as a user types it: results, exit codes, and refusals in one line without a traceback."""

from __future__ import annotations

import contextlib
import io
import json
import re
import subprocess
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import openpyxl
import pytest

from xlcalc import __version__
from xlcalc.cli.app import main
from xlcalc.worksheet.catalogue import FUNCTIONS

UNSTABLE = '=HD_SPECTRUM(6,0.01,0,4,100,{"load kind","power";"capacitor resistance pct",0})'


@dataclass(frozen=True)
class Finished:
    returncode: int
    stdout: str
    stderr: str


def run(*arguments: str, cwd: Path | None = None) -> Finished:
    """Run the command in this process, as the console script does."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.ExitStack() as stack:
        stack.enter_context(contextlib.redirect_stdout(out))
        stack.enter_context(contextlib.redirect_stderr(err))
        stack.enter_context(mock.patch.object(sys, "argv", ["xlcalc", *arguments]))
        if cwd is not None:
            stack.enter_context(contextlib.chdir(cwd))
        with pytest.raises(SystemExit) as ended:
            main()
    return Finished(int(ended.value.code or 0), out.getvalue(), err.getvalue())


def test_console_script_runs_in_its_own_process():
    command = [sys.executable, "-m", "xlcalc", "eval", "=NOSUCH("]
    result = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert result.returncode == 2
    assert "Traceback" not in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


HEAVY = ("pandas", "scipy", "numba", "openpyxl", "lxml", "formualizer", "numpy")


@pytest.mark.parametrize(
    ("arguments", "left_out"),
    [
        (["--version"], HEAVY),
        (["--help"], HEAVY),
        (["schedule", "--help"], HEAVY),
        (["headings"], ("pandas", "scipy", "numba", "openpyxl", "lxml", "formualizer")),
        (["functions"], ("pandas", "scipy", "numba", "formualizer")),
        (["eval", "=HD_VERSION()"], ("pandas", "numba", "openpyxl")),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_a_command_loads_only_what_it_needs(arguments, left_out):
    """The whole start of a command: what it does not use takes none of its time."""
    code = (
        "import sys; from unittest import mock; from xlcalc.cli.app import main\n"
        f"with mock.patch.object(sys, 'argv', {['xlcalc', *arguments]}):\n"
        "    try: main()\n"
        "    except SystemExit as end: assert not end.code, end.code\n"
        f"print([name for name in {left_out} if name in sys.modules], file=sys.stderr)"
    )
    result = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=300, check=False
    )
    assert result.stderr.strip() == "[]"


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    return folder, run("demo", cwd=folder)


def test_demo_prints_drives_and_verdict_and_names_the_file(demo):
    folder, result = demo
    assert result.returncode == 0
    for word in ("Tag", "THD (%)", "5th (%)", "Isc/IL", "TDD", "worst order", "Voltage THD", "Verdict"):
        assert word in result.stdout
    assert "drive_study_demo.xlsx" in result.stdout
    assert (folder / "drive_study_demo.xlsx").is_file()


def test_demo_of_a_plant_prints_cases_and_names_the_file(tmp_path):
    result = run("demo", "plant", cwd=tmp_path)
    assert result.returncode == 0, result.stderr
    assert "plant_study_demo.xlsx" in result.stdout
    assert (tmp_path / "plant_study_demo.xlsx").is_file()
    for words in ("Strong supply", "Weak, no capacitors", "Grid", "Mill", "PASS", "quick"):
        assert words in result.stdout
    assert "0 with errors" in result.stdout


def test_demo_workbook_has_a_value_in_every_formula_cell(demo):
    folder, _ = demo
    path = folder / "drive_study_demo.xlsx"
    checked = 0
    with zipfile.ZipFile(path) as package:
        for name in package.namelist():
            if not name.startswith("xl/worksheets/sheet"):
                continue
            for cell in re.findall(r"<c (?:[^>]*[^>/])?>.*?</c>", package.read(name).decode()):
                if "<f" in cell:
                    assert "<v>" in cell, f"{name}: {cell}"
                    assert "<v></v>" not in cell or 't="str"' in cell, f"{name}: {cell}"
                    assert 't="e"' not in cell, f"{name}: {cell}"
                    checked += 1
    assert checked > 100


def test_new_then_recalc_of_the_copy(tmp_path):
    assert run("new", "drive_study", "my.xlsx", cwd=tmp_path).returncode == 0
    assert run("new", "drive_study", "my.xlsx", cwd=tmp_path).returncode == 2
    assert run("new", "drive_study", "my.xlsx", "--overwrite", cwd=tmp_path).returncode == 0
    before = (tmp_path / "my.xlsx").read_bytes()
    result = run("recalc", "my.xlsx", "-o", "out.xlsx", cwd=tmp_path)
    assert result.returncode == 0
    assert (tmp_path / "my.xlsx").read_bytes() == before
    assert (tmp_path / "out.xlsx").is_file()


def test_recalc_lists_an_error_by_cell_and_exits_with_1(tmp_path):
    book = openpyxl.Workbook()
    book.active["B2"] = "=HD_THD(HD_SPECTRUM(7,1))"
    book.active["B3"] = "=B2*2"
    book.active["B4"] = "=1/4"
    book.save(tmp_path / "own.xlsx")
    result = run("recalc", "own.xlsx", "--reasons", cwd=tmp_path)
    assert result.returncode == 1
    assert "Sheet!B2" in result.stderr
    assert "pulses is 7" in result.stderr
    assert "Sheet!B3" in result.stderr
    values = openpyxl.load_workbook(tmp_path / "own.xlsx", data_only=True)
    assert values["Sheet"]["B2"].value == "#NUM!"
    assert values["Sheet"]["B4"].value == 0.25
    reasons = values.worksheets[-1]
    assert any("pulses is 7" in str(cell.value) for row in reasons.iter_rows() for cell in row)


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("=HD_LIMIT_TDD(60,13.8)", 12.0),
        ("=1+2", 3.0),
        ("=HD_VERSION()", __version__),
        ("=HD_SPECTRUM_SUM({1,3,0},{1,4,90})", None),
    ],
)
def test_eval_json_prints_one_json_value(formula, expected):
    result = run("eval", formula, "--json")
    assert result.returncode == 0
    value = json.loads(result.stdout)
    if expected is None:
        assert value[0] == pytest.approx([1.0, 5.0, 53.130102], abs=1e-5)
        assert len(value) == 50
    else:
        assert value == expected


@pytest.mark.parametrize(
    ("formula", "code", "error", "words"),
    [
        ("=HD_SPECTRUM(7,1)", 1, "#NUM!", "pulses is 7"),
        ("=HD_SPECTRUM(-6,1)", 1, "#NUM!", "pulses is -6"),
        ('=HD_SPECTRUM("six",1)', 1, "#VALUE!", "pulses is 'six'"),
        ("=HD_SPECTRUM(6)", 1, "#VALUE!", "takes"),
        ("=HD_TRANSFORMER_MVA(0,5)", 1, "#NUM!", "kva is 0"),
        ("=HD_LIMIT_TDD(60,13.8,2030)", 1, "#NUM!", "edition is 2030"),
        ('=HD_SPECTRUM(6,1,0,0,100,{"no such setting",1})', 1, "#VALUE!", "no such setting"),
        (UNSTABLE, 1, "#NUM!", "unstable"),
        ("=1/0", 1, "#DIV/0!", ""),
        ("=NOSUCH(1)", 1, "#NAME?", "NOSUCH"),
        ("=A1+1", 2, "#VALUE!", "cells"),
        ("=1+", 2, "#VALUE!", "formula"),
        ("=HD_THD({1,100;5,})", 2, "#VALUE!", "array constant {1,100;5,}"),
    ],
)
def test_eval_json_prints_errors_with_their_reason(formula, code, error, words):
    result = run("eval", formula, "--json")
    assert result.returncode == code
    value = json.loads(result.stdout)
    assert value["error"] == error
    assert words in value["reason"]


def test_functions_prints_every_function(tmp_path):
    page = run("functions")
    assert page.returncode == 0
    listed = json.loads(run("functions", "--json").stdout)
    assert [entry["name"] for entry in listed] == list(FUNCTIONS)
    assert all(name in page.stdout for name in FUNCTIONS)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("recalc", "missing.xlsx"), "missing.xlsx"),
        (("recalc", "text.xlsx"), "not a workbook"),
        (("recalc", ".", "-o", "text.xlsx"), "text.xlsx"),
        (("recalc", "truncated.xlsx"), "truncated.xlsx"),
        (("new", "no_such_template", "out.xlsx"), "no_such_template"),
        (("new", "drive_study", "out.txt"), ".xlsx"),
        (("recalc",), "BOOK.xlsx"),
        (("nonsense",), "nonsense"),
        (("eval", ""), "formula"),
        (("demo", "planet"), "drives, plant"),
        (("demo", "-o", "no/such/folder/out.xlsx"), "folder"),
    ],
)
def test_unusable_arguments_exit_with_2_and_one_reason(tmp_path, arguments, words):
    (tmp_path / "text.xlsx").write_text("no workbook")
    book = openpyxl.Workbook()
    book.active["A1"] = "=1+1"
    book.save(tmp_path / "whole.xlsx")
    whole = (tmp_path / "whole.xlsx").read_bytes()
    (tmp_path / "truncated.xlsx").write_bytes(whole[: len(whole) // 2])
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    result = run(*arguments, cwd=tmp_path)
    assert result.returncode == 2
    assert words in result.stderr
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
