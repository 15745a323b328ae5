"""Whole columns and rows inside arrays; expected values by hand, and as LibreOffice shows them."""

from __future__ import annotations

import pytest
from openpyxl.worksheet.formula import ArrayFormula

DATA = {
    "A1": "a",
    "A2": "b",
    "A4": "a",
    "A5": "c",
    "B1": 1,
    "B2": 2,
    "B3": 3,
    "B4": -4,
    "C1": 5,
    "C3": 7,
    "C4": 9,
    "C5": 11,
    "J1": "a",
}

PLAIN = [
    ('SUMPRODUCT((A:A="a")*(B:B))', -3),
    ("SUMPRODUCT((A:A=$J$1)*(B:B=1))", 1),
    ('SUMPRODUCT((A:A<>"a")*C:C)', 18),
    ("SUMPRODUCT(B:B*C:C)", -10),
    ("SUMPRODUCT(B:B,C:C)", -10),
    ('SUMPRODUCT(--(A:A="a"),C:C)', 14),
    ("SUMPRODUCT(--ISNUMBER(B:B))", 4),
    ('LOOKUP(2,1/(A:A<>""),A:A)', "c"),
    ('INDEX(C:C,MATCH(1,INDEX((A:A="a")*(B:B=-4),0),0))', 9),
    ('MATCH(TRUE,INDEX(A:A="",0),0)', 3),
    ("SUMPRODUCT((B:B>AVERAGE(B:B))*1)", 3),
    ('SUMPRODUCT((1:1="a")*1)', 2),
    ('COUNTIF(A:A,"<>a")', 1048574),
]
ARRAYS = [
    ('SUM(IF(A:A="a",B:B))', -3),
    ('MAX(IF(A:A="a",B:B))', 1),
    ('AVERAGE(IF(A:A="a",B:B))', -1.5),
    ('COUNT(1/(A:A="a"))', 2),
    ('MAX((A:A="a")*C:C)', 9),
    ('MIN((A:A="a")*B:B)', -4),
    ('SUM(FILTER(B:B,A:A="a"))', -3),
]
REFUSED = [
    'SUMPRODUCT(--(A:A=""))',
    "SUMPRODUCT(--(A:A=$J$2))",
    "SUMPRODUCT(B:B+1)",
    "SUMPRODUCT(1/COUNTIF(A:A,A:A))",
    'MATCH(TRUE,INDEX(A:A="z",0),0)*0+MATCH(TRUE,INDEX(A:A&"x"="x",0),0)*0+XMATCH(TRUE,A:A="")',
    'SUMPRODUCT((A:A="a")*(1:1="a"))',
    'TEXTJOIN("-",FALSE,A:A)',
]
REFUSED_ARRAYS = [
    "UNIQUE(A:A)",
    "SORT(A:A)",
    "A:A",
    "1:1",
    "A:A&1",
    "AVERAGE(B:B+0)",
    'SUM(FILTER(B:B,A:A=""))',
    'AND(A:A<>"z")',
]


@pytest.mark.parametrize(("formula", "expected"), PLAIN)
def test_plain(formula: str, expected: object, recalculated) -> None:
    result = recalculated(DATA | {"L9": "=" + formula})
    assert result.refused == set()
    assert result["L9"] == expected


@pytest.mark.parametrize(("formula", "expected"), ARRAYS)
def test_array(formula: str, expected: object, recalculated) -> None:
    result = recalculated(DATA | {"L9": ArrayFormula("L9:L9", "=" + formula)})
    assert result.refused == set()
    assert result["L9"] == expected


@pytest.mark.parametrize("formula", REFUSED)
def test_refused_where_blank_cells_count(formula: str, recalculated) -> None:
    assert recalculated(DATA | {"L9": "=" + formula}).refused == {"S!L9"}


@pytest.mark.parametrize("formula", REFUSED_ARRAYS)
def test_array_refused_where_blank_cells_count(formula: str, recalculated) -> None:
    assert recalculated(DATA | {"L9": ArrayFormula("L9:L10", "=" + formula)}).refused == {"S!L9"}
