"""Every spelling of a function's name that a program may leave in a file."""

from __future__ import annotations

import pytest

SPELLINGS = [
    "X_TOTAL(A1,2)",
    "x_total(A1,2)",
    "[1]!X_TOTAL(A1,2)",
    "'C:\\Add ins\\calc.xlam'!X_TOTAL(A1,2)",
    "_xll.X_TOTAL(A1,2)",
    "_xldudf_NS_X_TOTAL(A1,2)",
    "_xldudf_SOME_SPACE_X_TOTAL(A1,2)",
    "[2]!_xldudf_NS_X_TOTAL(A1,2)",
    "ORG.SAMPLE.CALC.IMPL.X_TOTAL(A1,2)",
    "ORG.SAMPLE.CALC.FUNCTIONS.XTOTAL(A1,2)",
    "_xludf.X_TOTAL(A1,2)",
    "_xlfn.X_TOTAL(A1,2)",
    "_xlfn.SUM(A1,2)",
    "_xlfn.IFNA(A1+2,0)",
    "_xlfn.XLOOKUP(1,A1,A2)",
    "@X_TOTAL(A1,2)",
    "_xlfn.SINGLE(X_TOTAL(A1,2))",
    "_xlfn.LET(_xlpm.x,A1,_xlpm.x+2)",
    "IF(TRUE,X_TOTAL( A1 , 2 ))",
]


@pytest.mark.parametrize("formula", SPELLINGS)
def test_recognised(formula: str, recalculated) -> None:
    result = recalculated({"A1": 1.0, "A2": 3.0, "C1": "=" + formula})
    assert not result.report.issues
    assert result["C1"] == 3.0


@pytest.mark.parametrize(
    ("formula", "reason"),
    [
        ('IFERROR(__xludf.DUMMYFUNCTION("SUM(A1)"),3)', "placeholder"),
        ("[1]!OTHER(A1)", "another file"),
        ("'C:\\x.xlam'!SUM(A1)", "another file"),
        ("NS.UNKNOWN(A1)", "not supported"),
        ("_xldudf_NS_UNKNOWN(A1)", "not supported"),
        ("IF(FALSE,UNKNOWN(1),5)", "not supported"),
        ("IFERROR(UNKNOWN(1),9)", "not supported"),
        ("SUM (A1)", "blank"),
    ],
)
def test_refused(formula: str, reason: str, recalculated) -> None:
    result = recalculated({"A1": 1.0, "C1": "=" + formula})
    assert result.refused == {"S!C1"}
    assert reason in result.reason("C1")
