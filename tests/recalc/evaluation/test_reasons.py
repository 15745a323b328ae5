"""Every error value comes with a reason that names where it came from."""

from __future__ import annotations

import openpyxl


def test_reason_of_our_function_and_of_what_follows(recalculated) -> None:
    result = recalculated(
        {
            "A1": 20.0,
            "A2": "=X_LIMIT(A1)",
            "A3": "=A2*2",
            "A4": "=SUM(A1:A3)",
            "A5": "=X_TOTAL(A4)",
            "A6": "=X_LIMIT(50)+1",
            "A7": "=X_LIMIT(20)",
        }
    )
    assert [issue.outcome for issue in result.report.issues] == ["#NUM!"] * 6
    assert result.reason("A2") == "X_LIMIT: value is 20; valid: up to 10"
    assert {result.reason(f"A{row}") for row in (3, 4, 5)} == {"follows from S!A2"}
    assert result.reason("A6") == "X_LIMIT: value is 50; valid: up to 10"
    assert result.reason("A7") == result.reason("A2")
    assert (result.report.errors, result.report.refused) == (6, 0)


def test_reason_of_ordinary_errors(recalculated) -> None:
    result = recalculated(
        {"A1": "=1/0", "A2": "=A1+1", "A3": '="x"+1', "A4": "=MATCH(5,B1:B3,0)", "A5": "=NA()"}
    )
    assert "zero" in result.reason("A1")
    assert result.reason("A2") == "follows from S!A1"
    assert "text" in result.reason("A3")
    assert "looked for" in result.reason("A4")


def test_error_constant_is_the_origin(recalculated) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "S"
    sheet["A1"] = "#REF!"
    sheet["B1"] = "=A1*2"
    assert sheet["A1"].data_type == "e"
    result = recalculated(book)
    assert result["B1"] == "#REF!"
    assert result.reason("B1") == "follows from S!A1"
    assert result.report.errors == 1


def test_exception_and_not_a_number_inside_a_function(recalculated) -> None:
    result = recalculated({"A1": "=X_FAILS()", "A2": "=X_NAN()", "A3": "=IFERROR(A1,0)"})
    assert (result["A1"], result["A2"], result["A3"]) == ("#VALUE!", "#NUM!", 0)
    assert "ZeroDivisionError: inside the function" in result.reason("A1")
    assert "finite" in result.reason("A2")


def test_long_chain_of_errors(recalculated) -> None:
    cells = {"A1": "=1/0"} | {f"A{row}": f"=A{row - 1}+1" for row in range(2, 3001)}
    result = recalculated(cells)
    assert result.reason("A3000") == "follows from S!A1"


def test_reasons_sheet(recalculated) -> None:
    result = recalculated({"A1": "=X_LIMIT(20)", "A2": "=NOSUCH(1)"}, reasons_sheet=True)
    book = openpyxl.load_workbook(result.path)
    listed = [cell for row in book.worksheets[-1].iter_rows(values_only=True) for cell in row]
    assert "X_LIMIT: value is 20; valid: up to 10" in listed
    assert "function NOSUCH is not supported" in listed
