"""The VBA module: compared with the one xlwings writes, held to the limits of VBA, and its error rule run.

The rule is run in LibreOffice Basic in its VBA mode, another interpreter of the same language; Excel itself
belongs to the manual checklist.
"""

from __future__ import annotations

import io
import re
from types import SimpleNamespace

import pytest

from xlcalc.hosts.excel.cells import error_of
from xlcalc.hosts.excel.vba import ERROR_NUMBERS, MODULE_NAME, PYTHON_MODULE, vba_module
from xlcalc.schema.values import ErrorCode
from xlcalc.worksheet.catalogue import FUNCTIONS

LONGEST_LINE = 1023
WIZARD_TEXT = 255
SHEET = "Sheet1"


def functions_of(text: str) -> dict[str, str]:
    found = re.findall(r"^Function (\w+)(.*?)^End Function", text.replace("\r\n", "\n"), re.M | re.S)
    return {name: f"Function {name}{body}" for name, body in found}


def as_xlwings_writes(function: str) -> str:
    """Our text of a function with the documented differences undone."""
    lines = []
    for line in function.splitlines():
        if line.strip().startswith(("Dim k As Long", "On Error GoTo failed", "xlcalc_begin ")):
            continue
        line = re.sub(r"= xlcalc_value\((.*)\)$", r"= \1", line)
        line = re.sub(r"= xlcalc_failure\((.*)\)$", r"= \1", line)
        lines.append(line.strip())
    return "\n".join(lines).strip()


def excel_branch(function: str) -> str:
    """The lines of xlwings' text that Excel compiles."""
    text = re.sub(r"^\s*#Else\n.*?#End If\n", "", function, flags=re.M | re.S)
    kept = [line.strip() for line in text.splitlines() if not line.strip().startswith(("#If", "If TypeOf"))]
    return "\n".join(kept).strip()


@pytest.mark.parametrize(("book", "add_in"), [("b.xlsm", False), ("xlcalc.xlam", True)])
def test_same_functions_and_calls_as_xlwings_own_generator(windows_xlwings, udf_module, book, add_in):
    written = io.StringIO()
    windows_xlwings.generate_vba_wrapper(PYTHON_MODULE, udf_module, written, SimpleNamespace(Name=book))
    theirs = {name: excel_branch(text) for name, text in functions_of(written.getvalue()).items()}
    text = vba_module(FUNCTIONS, add_in=add_in)
    ours = {name: as_xlwings_writes(function) for name, function in functions_of(text).items()}
    assert ("ActiveWorkbook" in text) is add_in
    assert sorted(theirs) == sorted(FUNCTIONS)
    assert {name: ours[name] for name in FUNCTIONS} == theirs


def test_texts_of_the_wizard_fit_and_are_the_registrys(udf_module):
    for name, function in FUNCTIONS.items():
        described = getattr(udf_module, name).__xlfunc__
        assert described["category"] == function.category
        assert [a["doc"] for a in described["args"]] == [a.help for a in function.arguments]
        for text in (described["ret"]["doc"], described["category"], *(a["doc"] for a in described["args"])):
            assert len(text) <= WIZARD_TEXT, name
        names = [a["name"] for a in described["args"]]
        assert len(names) + sum(map(len, names)) <= 254


def test_text_is_what_the_vba_editor_takes():
    text = vba_module(FUNCTIONS)
    text.encode("cp1252")
    lines = text.split("\r\n")
    assert lines[0] == f'Attribute VB_Name = "{MODULE_NAME}"'
    assert max(map(len, lines)) <= LONGEST_LINE
    assert "\n" not in "".join(lines)


def test_numbers_of_the_error_values_are_those_xlwings_reads(windows_xlwings):
    from xlwings._xlwindows import cell_errors

    high_word = -0x7FF60000  # 0x800A0000, what VBA adds to the number of an error value
    assert {high_word + number: code.value for code, number in ERROR_NUMBERS.items()} == cell_errors


@pytest.fixture(scope="module")
def basic(calc):
    calc.open()
    text = vba_module(FUNCTIONS).replace("\r\n", "\n").partition("\n")[2]
    text = text.replace("Application.StatusBar = text", 'xlcalc_bar = xlcalc_bar & "|" & text')
    calc.basic(
        text.replace(
            "Private xlcalc_told As Boolean", "Private xlcalc_told As Boolean\nPrivate xlcalc_bar As String"
        )
        + """
Public Function trial_progress(seconds As Double, calls As Double) As Variant
    Dim k As Long
    Dim finish As Double
    xlcalc_bar = ""
    xlcalc_last = 0
    For k = 1 To calls
        xlcalc_begin "HD_X"
        finish = Timer + seconds ' whole seconds in LibreOffice
        Do While Timer < finish
        Loop
        xlcalc_value 1
    Next k
    trial_progress = xlcalc_bar
End Function
Private Function shown(value As Variant) As Variant
    shown = value
    If VarType(value) = 10 Then shown = "error value " & Mid(CStr(value), 7)
End Function
Public Function trial(value As String) As Variant
    trial = shown(xlcalc_value(value))
End Function
Public Function trial_number(value As Double) As Variant
    trial_number = xlcalc_value(value)
End Function
Public Function trial_failed() As Variant
    On Error GoTo failed
    Err.Raise 1000
    Exit Function
failed:
    trial_failed = shown(xlcalc_failure(Err.Description))
End Function
Public Function trial_row(middle As String) As Variant
    trial_row = xlcalc_value(Array(1, middle, 3))
End Function
Public Function trial_table(corner As String) As Variant
    Dim cells(1, 1) As Variant
    cells(0, 0) = 1
    cells(0, 1) = "text"
    cells(1, 0) = corner
    cells(1, 1) = 4
    trial_table = xlcalc_value(cells)
End Function
"""
    )
    yield calc
    calc.close()


@pytest.mark.parametrize("code", list(ErrorCode))
def test_tagged_error_becomes_an_error_value_of_vba(basic, code):
    for reason in ("", " HD_THD: no fundamental"):
        basic.write(SHEET, "A2", f'=TRIAL("{code.value}{reason}")')
        assert basic.read(SHEET, "A2") == [[f"error value {ERROR_NUMBERS[code]}"]]


@pytest.mark.parametrize("text", ["M-101", "PASS", "#1 pump", "NUM! x", "#NUM!x", ""])
def test_other_text_stays_text(basic, text):
    assert error_of(text) is None
    basic.write(SHEET, "A2", f'=TRIAL("{text}")')
    assert basic.read(SHEET, "A2") == [[text]]


def test_number_and_failed_call(basic):
    basic.write(SHEET, "A2", "=TRIAL_NUMBER(2.5)")
    basic.write(SHEET, "A3", "=TRIAL_FAILED()")
    number, failed = basic.read(SHEET, "A2:A3")
    assert number == [2.5]
    assert failed == [f"error value {ERROR_NUMBERS[ErrorCode.VALUE]}"]


def test_error_inside_an_array(basic):
    basic.array(SHEET, "D1:F1", '=TRIAL_ROW("#NUM! x")')
    basic.array(SHEET, "D3:E4", '=TRIAL_TABLE("#N/A x")')
    assert basic.read(SHEET, "D1:F1") == [[1.0, "Error 2036", 3.0]]  # how Calc shows CVErr(2036)
    assert basic.read(SHEET, "D3:E4") == [[1.0, "text"], ["Error 2042", 4.0]]


def test_long_recalculation_is_told_in_the_status_bar_and_the_bar_is_given_back(basic):
    """The line that sets the status bar is replaced by a note; everything else runs as generated."""
    assert "Application.StatusBar = text" in vba_module(FUNCTIONS)
    basic.write(SHEET, "A2", "=TRIAL_PROGRESS(1;3)")
    ((bar,),) = basic.read(SHEET, "A2")
    line = r"\|xlcalc: computing HD_X \({} calls done, [1-9] s\)\|False"
    assert re.fullmatch(line.format(1) + line.format(2), bar)
    basic.write(SHEET, "A2", "=TRIAL_PROGRESS(0;3)")
    assert basic.read(SHEET, "A2") == [[""]]
