"""Functions that look at error values see them, wherever in the formula the error arises."""

from __future__ import annotations

import pytest

DATA = {"A1": 1.0, "A2": 2.0, "B1": "#N/A", "B2": "text"}
NOT_AVAILABLE = [
    "B1",
    "B1+1",
    "VLOOKUP(9,A1:A2,1,FALSE)",
    "MATCH(9,A1:A2,0)+1",
    "X_TOTAL(B1)",
    "X_TOTAL(MATCH(9,A1:A2,0))",
    "INDEX(A1:A2,MATCH(9,A1:A2,0))",
    "XLOOKUP(9,A1:A2,A1:A2)",
    "SUM(A1:B1)",
    "IF(A1=1,NA(),0)",
]
THROWN = [
    "TRIM(B1)",
    "UPPER(VLOOKUP(9,A1:A2,1,FALSE))",
    "MEDIAN(A1:B1)",
    "SUMSQ(A1:B1)",
    "CONCATENATE(B2,B1)",
    'SUBSTITUTE(B1,"a","b")',
    "LEFT(B2,B1)",
    "SUMIF(A1:A2,1,B1:B2)",
    "LARGE(A1:B1,1)",
    "STDEV(A1:B1)",
    'TEXT(A1,B1)&"x"',
    "X_TOTAL(TRIM(B1))",
]


@pytest.mark.parametrize("formula", NOT_AVAILABLE + THROWN)
def test_seen(formula: str, recalculated) -> None:
    shown = recalculated(
        DATA
        | {
            "D1": f"={formula}",
            "D2": f"=ISERROR({formula})",
            "D3": f"=ISNUMBER({formula})",
            "D4": f"=ISTEXT({formula})",
            "D5": f'=IFERROR({formula},"caught")',
            "D6": f'=IF(ISERROR({formula}),"yes","no")',
            "D7": f"=ISNONTEXT({formula})",
            "D8": f"=COUNT({formula},1)",
        }
    )
    assert shown["D1:D7"] == [["#N/A"], [True], [False], [False], ["caught"], ["yes"], [True]]
    assert shown["D8"] == 1 or shown.refused == {"S!D8"}


@pytest.mark.parametrize("formula", NOT_AVAILABLE)
def test_kind_is_seen(formula: str, recalculated) -> None:
    cells = {"D1": f"=ISNA({formula})", "D2": f'=IFNA({formula},"none")', "D3": f"=ERROR.TYPE({formula})"}
    shown = recalculated(DATA | cells | {"D4": f"=ISERR({formula})"})
    assert shown["D1:D4"] == [[True], ["none"], [7], [False]]


@pytest.mark.parametrize("formula", THROWN)
def test_kind_that_is_not_seen_is_refused(formula: str, recalculated) -> None:
    shown = recalculated(DATA | {"D1": f"=ISNA({formula})", "D2": f'=IFNA({formula},"none")'})
    assert shown.refused <= {"S!D1", "S!D2"}
    for cell, right in (("D1", True), ("D2", "none")):
        assert f"S!{cell}" in shown.refused or shown[cell] == right


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        ("ISBLANK(INDEX(C1:C3,2))", True),
        ("ISNUMBER(INDEX(C1:C3,2))", False),
        ('INDEX(C1:C3,2)=""', True),
        ('IF(XLOOKUP(1,A1:A2,C1:C2)="","empty","full")', "empty"),
        ("ISBLANK(OFFSET(A1,5,5))", True),
        ('ISBLANK(INDIRECT("C3"))', True),
        ('VLOOKUP(1,A1:C2,3,FALSE)&"x"', "x"),
        ('INDEX(C1:C3,1)&"x"', "x"),
        ("INDEX(C1:C3,1)+1", 1.0),
        ("OFFSET(A1,5,5)", 0.0),
    ],
)
def test_blank_stays_blank(formula: str, value: object, recalculated) -> None:
    assert recalculated(DATA | {"E1": "=" + formula})["E1"] == value
