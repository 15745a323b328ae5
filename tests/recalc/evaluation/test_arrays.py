"""Array formulas: fixed areas, dynamic arrays, and arrays where the file's formula shows one value."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from openpyxl.worksheet.formula import ArrayFormula


@pytest.mark.parametrize(
    ("area", "formula", "expected"),
    [
        ("C1:D2", "X_GRID(2,2)", [[0, 1], [10, 11]]),
        ("C1:D2", "X_GRID(5,3)", [[0, 1], [10, 11]]),
        ("C1:E3", "X_GRID(2,2)", [[0, 1, "#N/A"], [10, 11, "#N/A"], ["#N/A"] * 3]),
        ("C1:D2", "7", [[7, 7], [7, 7]]),
        ("C1:D3", "X_GRID(1,2)", [[0, 1], [0, 1], [0, 1]]),
        ("C1:D2", "X_GRID(2,1)", [[0, 0], [10, 10]]),
        ("C1:D2", "1/0", [["#DIV/0!", "#DIV/0!"]] * 2),
        ("C1:D2", "SQRT(-A1:A2)", [["#NUM!", "#NUM!"]] * 2),
        ("C1:D2", "A1:A2*A1:A2", [[1, 1], [4, 4]]),
        ("C1:E2", "X_MIXED()", [[1, None, "x"], [True, "#N/A", 2]]),
        ("C1:C1", "SUM(A1:A2*A1:A2)", [[5]]),
        ("C1:C3", "A1:A3", [[1], [2], [0]]),
    ],
)
def test_fixed_area(area: str, formula: str, expected: list[list[object]], recalculated) -> None:
    cells = {"A1": 1.0, "A2": 2.0, area.partition(":")[0]: ArrayFormula(area, "=" + formula)}
    shown = recalculated(cells)[area]
    assert shown == expected if isinstance(shown, list) else [[shown]] == expected


def test_padding_is_no_issue_and_errors_are(recalculated) -> None:
    result = recalculated({"C1": ArrayFormula("C1:F3", "=X_MIXED()")})
    assert [(issue.cell, issue.outcome, issue.reason) for issue in result.report.issues] == [
        ("D2", "#N/A", "not there")
    ]


def test_old_results_neither_block_nor_feed(recalculated, tmp_path: Path) -> None:
    first = recalculated({"A1": 2.0, "C1": ArrayFormula("C1:C3", "=A1*{1;2;3}"), "E1": "=SUM(C1:C3)"})
    assert first["C1:C3"] == [[2], [4], [6]]
    second = recalculated(first.path)
    assert second["E1"] == 12
    assert second.report.changed == 0


def _dynamic(path: Path, formula: str, area: str, more: dict[str, object] | None = None) -> Path:
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet("S")
        for row in range(4):
            sheet.write(row, 0, row + 1)
        for address, content in (more or {}).items():
            sheet.write(address, content)
        sheet.write_dynamic_array_formula(area, "{=" + formula + "}", None, 1)
    return path


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("X_GRID(3,2)", [[0, 1], [10, 11], [20, 21]]),
        ("A1:A4*{1,10}", [[1, 10], [2, 20], [3, 30], [4, 40]]),
        ("_xlfn._xlws.FILTER(A1:A4,A1:A4>2)", [[3], [4]]),
        ("_xlfn._xlws.SORT(A1:A4,1,-1)", [[4], [3], [2], [1]]),
        ("_xlfn.UNIQUE({1;2;2;1})", [[1], [2]]),
        ("_xlfn.SEQUENCE(2,2,5,10)", [[5, 15], [25, 35]]),
        ("ROUND(A1:A4/3,1)", [[0.3], [0.7], [1], [1.3]]),
    ],
)
def test_dynamic_array_spills(
    formula: str, expected: list[list[object]], recalculated, tmp_path: Path
) -> None:
    result = recalculated(_dynamic(tmp_path / "dynamic.xlsx", formula, "C1"))
    assert not result.report.issues
    sheet = openpyxl.load_workbook(result.path, data_only=True)["S"]
    shown = [[cell.value for cell in row] for row in sheet["C1:E5"]]
    padded = [row + [None] * (3 - len(row)) for row in expected] + [[None] * 3] * (5 - len(expected))
    assert shown == padded


def test_blocked_dynamic_array_keeps_its_value(recalculated, tmp_path: Path) -> None:
    result = recalculated(_dynamic(tmp_path / "d.xlsx", "X_GRID(3,2)", "C1", {"C2": 99, "E1": "=C1+1"}))
    assert result.refused == {"S!C1", "S!E1"}
    assert "does not fit" in result.reason("C1")
    assert result["C1:C3"] == [[1], [99], [None]]


def test_dynamic_array_shrinks(recalculated, tmp_path: Path) -> None:
    path = _dynamic(tmp_path / "d.xlsx", "X_GRID(2,1)", "C1:C4")
    result = recalculated(path)
    assert result["C1:C4"] == [[0], [10], [None], [None]]


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("A1:A4", 2),
        ("A1:A4*10", 20),
        ("@A1:A4", 2),
        ("A:A+1", 3),
        ("Column", 2),
        ("A5:D5", "#VALUE!"),
        ("ROUND(A1:A4,0)", 2),
        ('IF(A1:A4>1,"up","down")', "up"),
        ("A1:B4", "#VALUE!"),
    ],
)
def test_plain_formula_crosses_a_range_with_its_own_row(formula: str, expected: object, recalculated) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "S"
    for row in range(1, 5):
        sheet.cell(row, 1, row)
    sheet["F2"] = "=" + formula
    book.defined_names["Column"] = openpyxl.workbook.defined_name.DefinedName(
        "Column", attr_text="S!$A$1:$A$4"
    )
    assert recalculated(book)["F2"] == expected


@pytest.mark.parametrize(
    "formula", ["TRANSPOSE(A1:A3)", "OFFSET(A1,0,0,2,1)", "INDEX(A1:B3,0,1)", 'INDIRECT("A1:A3")', "{1,2,3}"]
)
def test_plain_formula_with_several_values_is_refused(formula: str, recalculated) -> None:
    result = recalculated({"A1": 1.0, "A2": 2.0, "A3": 3.0, "D1": "=" + formula})
    assert result.refused == {"S!D1"}


@pytest.mark.parametrize("formula", ["WEEKDAY(A1:A4)", "N(A1:A4)"])
def test_what_the_engine_does_not_repeat_is_refused(formula: str, recalculated) -> None:
    result = recalculated({"A1": 1.0, "A2": 2.0, "D1": ArrayFormula("D1:E4", "=" + formula)})
    assert result.refused == {"S!D1"}
