"""What our functions receive, whatever expression stands in the formula."""

from __future__ import annotations

import openpyxl
import pytest

from xlcalc.schema.values import CellError, ErrorCode

DATA = {
    "A1": 1.0,
    "A2": 2.0,
    "A3": 3.0,
    "B1": 10.0,
    "B2": 20.0,
    "B3": 30.0,
    "C1": "=1/0",
    "C2": "text",
    "C3": True,
}


@pytest.mark.parametrize(
    ("formula", "shapes"),
    [
        ("X_SHAPE(A1:B3)", "3x2"),
        ("X_SHAPE(A1)", "float"),
        ("X_SHAPE(A1:A1)", "float"),
        ("X_SHAPE(D9)", "NoneType"),
        ("X_SHAPE(X_GRID(4,2))", "4x2"),
        ("X_SHAPE(CHOOSE(2,A1,A1:B3))", "3x2"),
        ("X_SHAPE(IF(A1=1,A1:A3,B1))", "3x1"),
        ("X_SHAPE(INDEX(A1:B3,0,2))", "3x1"),
        ("X_SHAPE(INDEX(X_GRID(4,2),0,1),INDEX(X_GRID(4,2),2,0))", "4x1 1x2"),
        ("X_SHAPE(OFFSET(A1,0,0,2,2))", "2x2"),
        ('X_SHAPE(INDIRECT("A1:B2"))', "2x2"),
        ("X_SHAPE({1,2;3,4})", "2x2"),
        ("X_SHAPE(A1:B2,X_GRID(2,2),C2)", "2x2 2x2 str"),
        ("X_SHAPE(1=1,C3)", "bool bool"),
        ("X_SHAPE(1,)", "float"),
        ("X_SHAPE(1,,)", "float"),
        ("X_SHAPE(,1)", "NoneType float"),
        ("X_SHAPE(1,,2)", "float NoneType float"),
        ("X_SHAPE(A:A)", "3x1"),
        ("X_SHAPE(TRANSPOSE(A1:B3))", "2x3"),
        ("X_SHAPE(C1)", "CellError"),
    ],
)
def test_shape(formula: str, shapes: str, recalculated) -> None:
    assert recalculated(DATA | {"E1": "=" + formula})["E1"] == shapes


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        ("INDEX(X_GRID(5,3),5,2)", 41.0),
        ("X_TOTAL(X_GRID(2,2))", 22.0),
        ("X_TOTAL(A1:A3,B1:B3)", 66.0),
        ("X_TOTAL(IF(A1>0,A1:A3,B1:B3))", 6.0),
        ("SUM(X_GRID(2,2))*2", 44.0),
        ("MAX(X_GRID(3,1))", 20.0),
        ("X_GRID(3,3)", 0.0),
        ("X_GRID(3,3)+5", 5.0),
        ("SUMPRODUCT(X_GRID(3,1)*A1:A3)", 80.0),
        ("VLOOKUP(10,X_GRID(5,3),3,FALSE)", 12.0),
        ("IFERROR(X_LIMIT(20),-1)", -1.0),
        ("ISERROR(X_LIMIT(20))", True),
        ("IF(ISNUMBER(X_LIMIT(5)),1,2)", 1.0),
    ],
)
def test_nested(formula: str, value: object, recalculated) -> None:
    result = recalculated(DATA | {"E1": "=" + formula})
    assert result["E1"] == value
    assert not result.refused


def test_errors_arrive_in_place(recalculated, functions) -> None:
    recalculated(DATA | {"E1": "=X_SHAPE(A1:C2)"})
    assert functions["X_SHAPE"].calls == [[[[1.0, 10.0, CellError(ErrorCode.DIV0)], [2.0, 20.0, "text"]]]]


def test_equal_calls_are_computed_once(recalculated, functions) -> None:
    cells = {f"E{row}": "=X_TOTAL($A$1:$A$3,2)" for row in range(1, 30)}
    report = recalculated(DATA | cells).report
    assert (report.own_calls, report.distinct_calls) == (29, 1)
    assert len(functions["X_TOTAL"].calls) == 1


def test_memo_tells_types_apart(recalculated) -> None:
    result = recalculated(DATA | {"E1": "=X_SHAPE(1)", "E2": "=X_SHAPE(TRUE)", "E3": '=X_SHAPE("1")'})
    assert result["E1:E3"] == [["float"], ["bool"], ["str"]]


def test_volatile_function_is_never_remembered(recalculated, functions) -> None:
    recalculated({"A1": "=X_COUNTER(1)", "A2": "=X_COUNTER(1)"})
    assert len(functions["X_COUNTER"].calls) >= 2


def test_branch_not_taken_is_not_called(recalculated, functions) -> None:
    recalculated({"A1": "=IF(1=1,5,X_TOTAL(1))"})
    assert functions["X_TOTAL"].calls == []


def test_array_constant_arrives_as_written(recalculated, functions) -> None:
    """It stays outside the engine, see `held`: every kind of element, once for all rows that repeat it."""
    constant = '{"a ""b""",-1.5;TRUE,#N/A;FALSE,2E3}'
    cells = {f"A{r}": f"=X_SHAPE({constant},B{r})" for r in range(1, 4)}
    result = recalculated(cells | {"C1": f"=SUM(X_GRID(2,2))+SUM({{1,2}})+ROWS({constant})"})
    assert result["A3"] == "3x2 NoneType"
    assert result["C1"] == 22.0 + 3.0 + 3.0
    expected = [['a "b"', -1.5], [True, CellError(ErrorCode.NA)], [False, 2000.0]]
    assert functions["X_SHAPE"].calls == [[expected, None]]


def test_reasons_name_the_caller_on_every_sheet(recalculated) -> None:
    """Formulas that differ in their rows only are one to the engine; each still has its own reasons."""
    book = openpyxl.Workbook()
    for number, sheet in enumerate([book.worksheets[0], book.create_sheet("Other")], start=1):
        for row in range(1, 30):
            sheet[f"A{row}"] = row
            sheet[f"B{row}"] = f"=X_LIMIT(A{row})"
            sheet[f"AA{row}"] = f"=X_LIMIT(A{row}*{number * 100})"
    book.worksheets[0].title = "S"
    report = recalculated(book).report
    found = {issue.address: issue.reason for issue in report.issues}
    expected = {}
    for number, sheet in enumerate(["S", "Other"], start=1):
        values = {f"{sheet}!B{row}": row for row in range(1, 30)}
        values |= {f"{sheet}!AA{row}": row * number * 100 for row in range(1, 30)}
        expected |= {
            at: f"X_LIMIT: value is {value:g}; valid: up to 10" for at, value in values.items() if value > 10
        }
    assert found == expected
