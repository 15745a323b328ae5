"""One formula without a workbook."""

from __future__ import annotations

from datetime import datetime

import pytest

from xlcalc.core.errors import InputError
from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.schema.values import CellError, ErrorCode
from xlcalc.worksheet.catalogue import FUNCTIONS as CATALOGUE


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("=1+2", 3.0),
        ("1+2", 3.0),
        ("  = 2^10 ", 1024.0),
        ('="a"&1', "a1"),
        ("=1=1", True),
        ("=X_TOTAL(1,2)", 3.0),
        ("=x_total(1,2)*2", 6.0),
        ("=X_GRID(2,2)", [[0.0, 1.0], [10.0, 11.0]]),
        ("=INDEX(X_GRID(5,3),5,2)", 41.0),
        ("=X_TOTAL(X_GRID(2,2))", 22.0),
        ("={1,2;3,4}*2", [[2.0, 4.0], [6.0, 8.0]]),
        ("=SUM({1,2,3})", 6.0),
        ("=X_SHAPE(,1)", "NoneType float"),
    ],
)
def test_value(text: str, value: object, functions) -> None:
    assert evaluate_formula(text, functions) == value


def test_errors_have_reasons(functions) -> None:
    assert evaluate_formula("=X_LIMIT(20)", functions) == CellError(
        ErrorCode.NUM, "X_LIMIT: value is 20; valid: up to 10"
    )
    through = evaluate_formula("=X_LIMIT(20)*2+1", functions)
    assert isinstance(through, CellError)
    assert through.reason == "X_LIMIT: value is 20; valid: up to 10"
    plain = evaluate_formula("=1/0", functions)
    assert isinstance(plain, CellError)
    assert (plain.code, bool(plain.reason)) == (ErrorCode.DIV0, True)
    grid = evaluate_formula("=X_MIXED()", functions)
    assert isinstance(grid, list)
    assert grid[1][1] == CellError(ErrorCode.NA, "not there")


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "a formula"),
        ("=", "a formula"),
        ("=SUM(1", "not a formula"),
        ("=1+", "not a formula"),
        ("=)", "not a formula"),
        ("=A1+1", "refers to cells"),
        ("=SUM(A:A)", "refers to cells"),
        ("=X_TOTAL(Sheet1!A1)", "no worksheet"),
        ("=Rate*2", "no name"),
        ('=INDIRECT("A1")', "refers to cells"),
        ("=1E400", "not a finite number"),
        ("=" + "X_TOTAL(" * 200 + "1" + ")" * 200, "nested"),
    ],
)
def test_refused(text: str, reason: str, functions) -> None:
    with pytest.raises(InputError, match=reason) as caught:
        evaluate_formula(text, functions)
    assert caught.value.argument == "formula"


def test_clock(functions) -> None:
    assert evaluate_formula("=TODAY()", functions, now=datetime(2024, 2, 29, 12)) == 45351.0


def test_an_unknown_function_is_the_error_value_of_a_spreadsheet() -> None:
    result = evaluate_formula("=NOSUCH(1)", {})
    assert result == CellError(ErrorCode.NAME, "function NOSUCH is not supported")


@pytest.mark.parametrize(
    "formula",
    ["=INDEX(HD_SPECTRUM(7,1),5,2)", "=VLOOKUP(5,HD_SPECTRUM(7,1),2)", "=MATCH(5,HD_SPECTRUM(7,1),0)"],
)
def test_a_look_up_passes_on_the_error_of_our_function(formula: str) -> None:
    result = evaluate_formula(formula, CATALOGUE)
    assert isinstance(result, CellError)
    assert result.code is ErrorCode.NUM
    assert "pulses is 7" in result.reason
