"""The proof workbook: recalculated headlessly, and run in LibreOffice as far as that goes.

There Python is a stand-in that knows a few functions, so the sheet Functions differs and the verdict is RED.
"""

from __future__ import annotations

import re

import openpyxl
import pytest
from click.testing import CliRunner

from xlcalc import __version__
from xlcalc.cli.app import app
from xlcalc.core.errors import InputError
from xlcalc.hosts.excel import proof as proof_module
from xlcalc.hosts.excel.proof import FIRST_ROW, STEPS
from xlcalc.recalc.recalc import recalculate
from xlcalc.worksheet.catalogue import FUNCTIONS

RUN = CliRunner()
PYTHON = r"C:\python\python.exe"
STAND_IN = """
Private Function XLPyDLLActivateAuto(result As Variant, ByVal command As String, ByVal mode As Long) As Long
    If InStr(command, "no") > 0 Then
        result = "no such Python"
        XLPyDLLActivateAuto = 1
    ElseIf mode = 1 Then
        Set result = New Collection
    End If
End Function
Private Function LoadLibraryA(ByVal path As String) As Long
    LoadLibraryA = 1
End Function
Private Function stub_udf(script As String, called As String, given As Variant) As Variant
    Dim table(0 To 49, 0 To 2) As Variant
    Select Case called
        Case "HD_VERSION"
            stub_udf = XLCALC_VERSION
        Case "HD_CREST"
            stub_udf = "#NUM! HD_CREST: pulses is 7; valid: ..."
            If VarType(given(0)) = 8 Then stub_udf = "#VALUE! HD_CREST: pulses is text"
            If IsError(given(0)) Then stub_udf = "#DIV/0!"
        Case "HD_SPECTRUM"
            stub_udf = "#NUM! HD_SPECTRUM: pulses is 7"
        Case "HD_SC_AMPS"
            stub_udf = given(0) * 1000 / (Sqr(3) * given(1))
        Case "HD_THD"
            stub_udf = 40
        Case "HD_IDEAL_SPECTRUM"
            table(0, 0) = 1
            stub_udf = table
        Case Else
            stub_udf = "#VALUE! not known to the stand-in"
    End Select
End Function
"""
FEW = ("HD_VERSION", "HD_CREST", "HD_SPECTRUM", "HD_SC_AMPS", "HD_THD", "HD_IDEAL_SPECTRUM", "HD_OVERLAP_DEG")
ELSEWHERE = {
    "errors",  # the value of a cell with an error is 0 in Basic, here and below
    "array",
    "range",
    "reason",  # Calc names no caller
    "array_reason",
    "wizard",  # no MacroOptions
    "one_python",  # no GetObject
}
"""Steps that LibreOffice cannot take."""


@pytest.fixture(scope="module")
def proof(tmp_path_factory):
    path = tmp_path_factory.mktemp("proof") / "proof.xlsm"
    done = RUN.invoke(app, ["host", "proof", "excel", "-o", str(path), "--python", PYTHON])
    assert done.exit_code == 0, done.output
    return path


def test_every_formula_gives_what_the_sheet_expects(proof, tmp_path):
    report = recalculate(proof, tmp_path / "out.xlsm", FUNCTIONS)
    assert report.refused == report.errors == 0
    book = openpyxl.load_workbook(tmp_path / "out.xlsm", data_only=True)
    rows = list(book["Functions"].iter_rows(min_row=2, max_col=4, values_only=True))
    assert {row[3] for row in rows} == {"ok"}
    assert {row[0] for row in rows} == {name for name in FUNCTIONS if not name.startswith("HD_CHOICE")}
    assert book["Functions"]["F1"].value == 0
    assert book["Proof"]["B4"].value == "NOT RUN"


def test_value_that_differs_is_counted(proof, tmp_path):
    book = openpyxl.load_workbook(proof, keep_vba=True)
    book["Functions"]["C5"] = book["Functions"]["C5"].value * 1.00001
    book["Functions"]["C6"] = "text"
    book.save(tmp_path / "changed.xlsm")
    recalculate(tmp_path / "changed.xlsm", None, FUNCTIONS)
    sheet = openpyxl.load_workbook(tmp_path / "changed.xlsm", data_only=True)["Functions"]
    assert (sheet["D5"].value, sheet["D6"].value, sheet["F1"].value) == ("differs", "differs", 2)


@pytest.mark.parametrize("results", [["ok"] * len(STEPS), ["ok"] * (len(STEPS) - 1) + ["n/a"]])
def test_verdict_is_green_when_every_step_is_and_red_when_one_is_not(proof, tmp_path, results):
    for last, verdict in ((results[-1], "GREEN"), ("not ok", "RED"), (None, "NOT RUN")):
        book = openpyxl.load_workbook(proof, keep_vba=True)
        for row, text in enumerate([*results[:-1], last], start=FIRST_ROW):
            book["Proof"].cell(row, 4, text)
        del book["Functions"]
        book.save(tmp_path / "run.xlsm")
        recalculate(tmp_path / "run.xlsm", None, FUNCTIONS)
        assert openpyxl.load_workbook(tmp_path / "run.xlsm", data_only=True)["Proof"]["B4"].value == verdict


def for_libreoffice(modules, folder):
    """The modules as generated, but for the library, Python and what the objects of LibreOffice lack."""
    calls = re.sub(
        r"#If Win64 Then.*?#End If\r\n",
        'Private Const xlcalc_library As String = "x"\r\n',
        modules["xlcalc_calls"],
        flags=re.S,
    )
    calls = re.sub(r"Private Declare .*\r\n", "", calls)
    calls = calls.replace("xlcalc_kept.CallUDF(", "stub_udf(") + STAND_IN.replace("\n", "\r\n")
    changed = {**modules, "xlcalc_calls": calls}
    del changed["xlcalc_macros"]
    for name, text in changed.items():
        for found, stand_in in (
            (".Value2", ".Value"),
            ("Application.CalculateFull", "Application.Calculate"),
            ("Application.Build", '"0"'),
            ("Application.OperatingSystem", '"another system"'),
            ('Environ("TEMP")', f'"{folder}"'),
        ):
            text = text.replace(found, stand_in)
        changed[name] = text
    return changed


def test_macro_runs_as_far_as_libreoffice_goes(calc, tmp_path, monkeypatch):
    written = proof_module.macro_book
    monkeypatch.setattr(
        proof_module,
        "macro_book",
        lambda source, conf, found, code: written(source, conf, for_libreoffice(found, tmp_path), code=code),
    )
    path = tmp_path / "proof.xlsm"
    path.write_bytes(proof_module.proof_book({name: FUNCTIONS[name] for name in FEW}, PYTHON))
    calc.open(str(path))
    try:
        calc.run("xlcalc_proof.xlcalc_prove")
        rows = calc.read("Proof", f"A{FIRST_ROW}:D{FIRST_ROW + len(STEPS) - 1}")
        ((verdict,), (file,)) = calc.read("Proof", "B4:B5")
    finally:
        calc.close()
    found = {step: (what, result) for step, _, what, result in rows}
    assert verdict == "RED"
    assert found["start"][0].startswith(f"ok: {__version__}")
    lines = (tmp_path / "xlcalc_proof.txt").read_text(encoding="utf-8").splitlines()
    assert file == str(tmp_path / "xlcalc_proof.txt")
    assert lines[0].startswith(f"xlcalc {__version__}, {PYTHON}, ")
    assert [line.split("\t")[0] for line in lines[1:] if "\t" in line] == [r for _, r in found.values()]
    assert {step for step, (_, result) in found.items() if result == "not ok"} == ELSEWHERE


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["excel", "-o", "proof.xlsx"], "ends in .xlsm"),
        (["libreoffice", "-o", "proof.xlsm"], "HOST is libreoffice"),
    ],
)
def test_wrong_arguments_are_refused_in_words(arguments, said):
    failed = RUN.invoke(app, ["host", "proof", *arguments])
    assert isinstance(failed.exception, InputError)
    assert said in str(failed.exception)
