"""The VBA modules: held to the limits of VBA, compared with what xlwings writes, and run.

They are run in LibreOffice Basic in its VBA mode, another interpreter of the same language, with stand-ins
for the library of xlwings, for Python and for what LibreOffice lacks.
"""

from __future__ import annotations

import io
import re
from types import SimpleNamespace

import pytest

from xlcalc.hosts.excel.cells import error_of
from xlcalc.hosts.excel.vba import (
    ERROR_NUMBERS,
    FUNCTIONS_MODULE,
    LARGEST_MODULE,
    PYTHON_MODULE,
    module_text,
    vba_modules,
)
from xlcalc.schema.values import ErrorCode
from xlcalc.worksheet.catalogue import FUNCTIONS

LONGEST_LINE = 1023
WIZARD_TEXT = 255
SHEET = "Sheet1"
RESERVED = set(  # MS-VBAL 3.3.5.2, reserved identifiers
    "call case close const declare defbool dim do else elseif end endif enum erase event exit for friend "
    "function get global gosub goto if implements input let lock loop lset next on open option print "
    "private public put raiseevent redim resume return rset seek select set static stop sub type unlock "
    "wend while with write rem any as byref byval each in new shared until withevents optional paramarray "
    "preserve spc tab then to and eqv imp is like mod not or xor abs cbool cbyte ccur cdate cdbl cdec "
    "cint clng csng cstr cvar cverr date debug doevents fix int len lenb me pset scale sgn string array "
    "circle inputb lbound ubound true false nothing empty null boolean byte currency double integer long "
    "object single variant step line".split()
)
LOST = 462  # The remote server machine does not exist or is unavailable (error list of VBA)
STAND_INS = """
Private stub_mode As String
Private stub_starts As Long
Private stub_reads As Long
Private stub_loads As Long
Private stub_calls As Long
Private stub_callers As Long
Private stub_command As String
Private stub_bar As String
Private stub_given As String

Private Function XLPyDLLActivateAuto(result As Variant, command As String, mode As Long) As Long
    If mode = 1 Then
        stub_starts = stub_starts + 1
        stub_command = command
        If stub_mode = "dead" Then
            result = "Python process exited before it was possible to create the interface object."
            XLPyDLLActivateAuto = 1
        Else
            Set result = New Collection
        End If
    End If
End Function

Private Function LoadLibraryA(path As String) As Long
    stub_loads = stub_loads + 1
    LoadLibraryA = 1
    If stub_mode = "no library" Then LoadLibraryA = 0
End Function

Private Function stub_rows() As Variant
    Dim rows(1 To 9, 1 To 2) As Variant
    stub_reads = stub_reads + 1
    rows(1, 1) = "Interpreter_Win"
    rows(1, 2) = "C:\\Program Files\\Python\\python.exe"
    stub_rows = rows
End Function

Private Function stub_caller() As String
    stub_callers = stub_callers + 1
    stub_caller = "$A$1"
End Function

Private Function stub_udf(script As String, called As String, given As Variant) As Variant
    Dim k As Long
    stub_calls = stub_calls + 1
    If stub_mode = "lost once" And stub_calls = 2 Then Err.Raise 462
    If stub_mode = "lost" Then Err.Raise 462
    If stub_mode = "exception" Then Err.Raise 1001
    stub_given = called & ":"
    For k = LBound(given) To UBound(given)
        stub_given = stub_given & " " & stub_shown(given(k))
    Next k
    stub_udf = stub_given
    If stub_mode = "error" Then stub_udf = "#NUM! HD_X: reason"
End Function

Private Function stub_shown(value As Variant) As String
    If IsEmpty(value) Then
        stub_shown = "missing"
    ElseIf IsArray(value) Then
        stub_shown = "table"
    Else
        stub_shown = CStr(value)
    End If
End Function

Public Function trial_calls(mode As String, times As Double) As Variant
    Dim k As Long
    Dim answer As Variant
    stub_mode = mode
    Set xlcalc_kept = Nothing
    Set xlcalc_reasons = Nothing
    xlcalc_failed = ""
    stub_starts = 0
    stub_reads = 0
    stub_loads = 0
    stub_calls = 0
    stub_callers = 0
    For k = 1 To times
        answer = xlcalc_call("HD_X", Array(k))
    Next k
    trial_calls = stub_starts & " starts, " & stub_reads & " reads, " & stub_loads & " loads, " & stub_calls _
        & " calls, " & stub_callers & " callers, " & shown(answer) & "|" & xlcalc_failed & "|" & stub_command
End Function
Public Function trial_restart() As Variant
    Dim answer As Variant
    answer = trial_calls("dead", 2)
    stub_mode = ""
    answer = shown(xlcalc_call("HD_X", Array(1)))
    xlcalc_forget
    trial_restart = answer & ", " & shown(xlcalc_call("HD_X", Array(1))) & ", " & stub_starts & " starts"
End Function
Public Function trial_reason() As Variant
    trial_reason = trial_calls("error", 1)
    trial_reason = xlcalc_reasons.Item("$A$1")
    stub_mode = ""
    xlcalc_call "HD_X", Array(1)
    If xlcalc_reasons Is Nothing Then trial_reason = trial_reason & ", gone"
End Function
Public Function trial_progress(seconds As Double, calls As Double) As Variant
    Dim k As Long
    Dim finish As Double
    stub_bar = ""
    xlcalc_last = 0
    For k = 1 To calls
        xlcalc_begin "HD_X"
        finish = Timer + seconds ' whole seconds in LibreOffice
        Do While Timer < finish
        Loop
        xlcalc_value 1
    Next k
    trial_progress = stub_bar
End Function
Public Function trial_long() As Variant
    stub_bar = ""
    xlcalc_begin "TRY_CHOICE_VALUE"
    xlcalc_value 1
    trial_long = stub_bar
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


@pytest.fixture(scope="module")
def modules():
    return vba_modules(FUNCTIONS)


def functions_of(text: str) -> dict[str, str]:
    found = re.findall(r"^Function (\w+)(.*?)^End Function", text.replace("\r\n", "\n"), re.M | re.S)
    return {name: f"Function {name}{body}" for name, body in found}


def excel_declaration(function: str) -> str:
    return function.partition("\n")[0].strip()


def test_same_names_and_arguments_as_xlwings_own_generator(windows_xlwings, udf_module, modules):
    written = io.StringIO()
    windows_xlwings.generate_vba_wrapper(PYTHON_MODULE, udf_module, written, SimpleNamespace(Name="b.xlsm"))
    theirs = {n: excel_declaration(f) for n, f in functions_of(written.getvalue()).items()}
    ours = {n: excel_declaration(f) for n, f in functions_of(modules[FUNCTIONS_MODULE]).items()}
    assert sorted(theirs) == sorted(FUNCTIONS)
    assert ours == theirs


def test_public_names_are_the_functions_and_the_macros_of_the_user(modules):
    assert sorted(functions_of(modules[FUNCTIONS_MODULE])) == sorted(FUNCTIONS)
    seen = {name for name, text in modules.items() if "Option Private Module" not in text}
    assert seen == {FUNCTIONS_MODULE, "xlcalc_macros"}
    offered = re.findall(r"^(?:Public )?(Function|Sub) (\w+)\((.*?)\)", modules["xlcalc_macros"], re.M)
    assert {(kind, given) for kind, _, given in offered} == {("Sub", "")}
    assert {name for _, name, _ in offered} == {
        "xlcalc_reason",
        "xlcalc_restart",
        "xlcalc_mend_links",
        "Auto_Open",
    }


def test_texts_of_the_wizard_fit_and_are_the_registrys(modules):
    text = modules[FUNCTIONS_MODULE]
    helps = modules["xlcalc_texts"]
    listed = dict(re.findall(r'^    t\((\d+)\) = "(.*)"\r$', helps, re.M))
    for name, function in FUNCTIONS.items():
        quoted = function.about.replace('"', '""')
        assert f"Function {name}(" in text
        assert f'\r\nAttribute {name}.VB_Description = "{quoted}"\r\n' in text
        (given,) = re.findall(rf'Macro:="{name}",(.*)', helps)
        shown = [listed[n].replace('""', '"') for n in re.findall(r"t\((\d+)\)", given)]
        assert shown == [a.help for a in function.arguments]
        assert all(len(t) <= WIZARD_TEXT for t in (function.about, *shown)), name


def test_modules_are_what_the_vba_editor_takes(modules):
    for name, text in modules.items():
        text.encode("ascii")
        lines = text.split("\r\n")
        assert lines[0] == f'Attribute VB_Name = "{name}"'
        assert max(map(len, lines)) <= LONGEST_LINE
        assert "\n" not in "".join(lines)
        assert len(text) < LARGEST_MODULE
        assert "{" not in re.sub(r"\$\(CLSID\)", "", text)


def test_no_name_is_a_word_of_the_language(modules):
    """`Step` as an argument stopped a whole module from compiling."""
    for text in (*modules.values(), module_text("xlcalc_proof")):
        names = re.findall(r"^\s*(?:Dim|Private|Public) (?:Const )?(\w+)\s*(?:\(.*\))? As ", text, re.M)
        for given in re.findall(
            r"^(?:Private |Public )?(?:Function|Sub) \w+\((.*?)\)(?: As \w+)?\r?$", text, re.M
        ):
            names += [
                part.split(" As ")[0].split()[-1].removesuffix("()") for part in given.split(", ") if part
            ]
        assert names or "Attribute VB_Name" in text
        assert not RESERVED & {name.lower() for name in names}


def test_no_path_of_a_workbook_is_asked_for(modules):
    """Addresses of shared folders break Python's start, and a folder on its path would be executed from."""
    for text in modules.values():
        assert not re.search(r"\bActiveWorkbook\.(Full|Path)|\bThisWorkbook\.Path|CurDir", text)
    assert "FullName" not in modules["xlcalc_calls"]
    assert "-P -B -m" in modules["xlcalc_calls"]


def test_numbers_of_the_error_values_are_those_xlwings_reads(windows_xlwings):
    from xlwings._xlwindows import cell_errors

    high_word = -0x7FF60000  # 0x800A0000, what VBA adds to the number of an error value
    assert {high_word + number: code.value for code, number in ERROR_NUMBERS.items()} == cell_errors


def for_basic(modules) -> str:
    """The modules in one, as generated but for the declared library and what LibreOffice lacks.

    The functions begin with TRY_, for our add-in for Calc knows the others."""
    text = "\n".join(modules[name].replace("\r\n", "\n") for name in (FUNCTIONS_MODULE, "xlcalc_calls"))
    text = re.sub(r"^(Attribute|Option) .*\n", "", text, flags=re.M)
    text = re.sub(
        r"#If Win64 Then.*?#End If\n", 'Private Const xlcalc_library As String = "x.dll"\n', text, flags=re.S
    )
    text = re.sub(r"^Private Declare .*\n", "", text, flags=re.M)
    for found, stand_in in (
        ("xlcalc_kept.CallUDF(", "stub_udf("),
        ('ThisWorkbook.Worksheets("xlcalc.conf").Range("A1:B9").Value2', "stub_rows()"),
        ("Application.Caller.Address(External:=True)", "stub_caller()"),
        ("Application.StatusBar = text", 'stub_bar = stub_bar & "|" & text'),
    ):
        assert text.count(found) == 1, found
        text = text.replace(found, stand_in)
    text = text.replace("HD_", "TRY_")
    declared = re.findall(r"^(?:Private|Public) (?:Const )?xlcalc_?\w* As .*\n", text, flags=re.M | re.I)
    for line in declared:
        text = text.replace(line, "")
    return "".join(declared) + STAND_INS + text


@pytest.fixture(scope="module")
def basic(calc, modules):
    calc.open()
    calc.basic(for_basic(modules))
    yield calc
    calc.close()


def told(basic, formula):
    basic.write(SHEET, "A2", formula)
    return basic.read(SHEET, "A2")[0][0]


@pytest.mark.parametrize(
    ("mode", "counts", "answer"),
    [
        ("healthy", "1 starts, 1 reads, 1 loads, 50 calls, 0 callers", "HD_X: 50"),
        ("dead", "1 starts, 1 reads, 1 loads, 0 calls, 50 callers", "error value 2015"),
        ("no library", "0 starts, 1 reads, 2 loads, 0 calls, 50 callers", "error value 2015"),
        ("lost once", "2 starts, 2 reads, 2 loads, 51 calls, 0 callers", "HD_X: 50"),
        ("lost", "2 starts, 2 reads, 2 loads, 2 calls, 50 callers", "error value 2015"),
        ("exception", "1 starts, 1 reads, 1 loads, 50 calls, 50 callers", "error value 2015"),
    ],
)
def test_python_is_started_once_and_a_failure_remembered(basic, mode, counts, answer):
    """Fifty calls; reads are of the configuration, callers what a healthy call need not ask Excel for."""
    said, failure, command = told(basic, f'=TRIAL_CALLS("{mode}";50)').split("|")
    assert said == f"{counts}, {answer}"
    assert bool(failure) == (mode in ("dead", "no library", "lost"))
    assert ("xlcalc_restart" in failure) == bool(failure)
    if mode == "healthy":
        assert command == r'"C:\Program Files\Python\python.exe" -P -B -m xlcalc.hosts.excel.serve $(CLSID)'


def test_restart_forgets_the_failure(basic):
    assert told(basic, "=TRIAL_RESTART()") == "error value 2015, HD_X: 1, 2 starts"


def test_reason_is_kept_until_the_cell_computes(basic):
    assert told(basic, "=TRIAL_REASON()") == "#NUM! HD_X: reason, gone"


def test_every_function_hands_over_its_name_and_all_arguments(basic):
    told(basic, '=TRIAL_CALLS("";1)')
    for function in FUNCTIONS.values():
        name = function.name.replace("HD_", "TRY_")
        required = [a for a in function.arguments if a.required or a.repeats]
        given = [str(n) for n in range(1, len(required) + 1)]
        left_out = [] if function.variadic else ["missing"] * (len(function.arguments) - len(required))
        assert told(basic, f"={name}({';'.join(given)})") == " ".join([f"{name}:", *given, *left_out])


@pytest.mark.parametrize("given", [[], ["1"], ["1", "2", "3"]])
def test_repeated_arguments_may_be_many_or_none(basic, given):
    told(basic, '=TRIAL_CALLS("";1)')
    name = "TRY_SPECTRUM_SUM"
    assert told(basic, f"={name}({';'.join(given)})") == " ".join([f"{name}:", *given])


@pytest.mark.parametrize("code", list(ErrorCode))
def test_tagged_error_becomes_an_error_value_of_vba(basic, code):
    for reason in ("", " HD_THD: no fundamental"):
        assert told(basic, f'=TRIAL("{code.value}{reason}")') == f"error value {ERROR_NUMBERS[code]}"


@pytest.mark.parametrize("text", ["M-101", "PASS", "#1 pump", "NUM! x", "#NUM!x", ""])
def test_other_text_stays_text(basic, text):
    assert error_of(text) is None
    assert told(basic, f'=TRIAL("{text}")') == text


def test_number(basic):
    assert told(basic, "=TRIAL_NUMBER(2.5)") == 2.5


def test_error_inside_an_array(basic):
    basic.array(SHEET, "D1:F1", '=TRIAL_ROW("#NUM! x")')
    basic.array(SHEET, "D3:E4", '=TRIAL_TABLE("#N/A x")')
    assert basic.read(SHEET, "D1:F1") == [[1.0, "Error 2036", 3.0]]  # how Calc shows CVErr(2036)
    assert basic.read(SHEET, "D3:E4") == [[1.0, "text"], ["Error 2042", 4.0]]


def test_long_recalculation_is_told_in_the_status_bar_and_the_bar_is_given_back(basic):
    bar = told(basic, "=TRIAL_PROGRESS(1;3)")
    line = r"\|xlcalc: computing HD_X \({} calls done, [1-9] s\)\|(?:False|0)"
    assert re.fullmatch(line.format(1) + line.format(2), bar)
    assert told(basic, "=TRIAL_PROGRESS(0;3)") == ""


def test_long_function_is_told_at_once(basic):
    assert told(basic, "=TRIAL_LONG()").startswith(
        "|xlcalc: computing TRY_CHOICE_VALUE, up to a minute; xlcalc choose"
    )
