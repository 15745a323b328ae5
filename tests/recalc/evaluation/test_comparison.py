"""Comparison of numbers at 15 significant digits, in operators and in functions that compare.

Equality of 0.1+0.2 and 0.3, 1.1*1.1 and 1.21: LibreOffice 7.4.7 says TRUE; Excel by cells that it saved.
"""

from __future__ import annotations

import math

import pytest

from xlcalc.recalc.evaluation.library.comparing import number_order, order, text_order
from xlcalc.recalc.evaluation.library.values import Uncertain

DATA = {"A1": 0.1, "A2": 0.2, "A3": "=A1+A2", "A4": 0.3, "B1": "=1.1*1.1", "B2": 1.21}


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("0.1+0.2=0.3", True),
        ("0.1+0.2<=0.3", True),
        ("0.1+0.2>0.3", False),
        ("A3<>A4", False),
        ("A3>=A4", True),
        ("B1=B2", True),
        ('IF(A3<=A4,"PASS","FAIL")', "PASS"),
        ('IFS(A3>A4,"FAIL",TRUE,"PASS")', "PASS"),
        ('SWITCH(A3,A4,"same","other")', "same"),
        ("SUMPRODUCT((A1:A4<=0.3)*1)", 4),
        ("AND(A3=A4,B1=B2)", True),
        ("1=1.000000000001", False),
        ('"a"="A"', True),
        ('"a"<1', False),
        ("TRUE>9", True),
        ("Z9=0", True),
        ('Z9=""', True),
    ],
)
def test_comparison(formula: str, expected: object, recalculated) -> None:
    result = recalculated(DATA | {"D1": "=" + formula})
    assert result["D1"] == expected


@pytest.mark.parametrize(
    "formula",
    [
        "MATCH(A4,A3:A3,0)",
        "VLOOKUP(0.3,A3:B3,1,FALSE)",
        'COUNTIF(A3:A3,"<=0.3")',
        "IFERROR(MATCH(A4,A3:A3,0),0)",
        "SUMIFS(A1:A4,A1:A4,A4)",
        "1=1+4.5E-15",
    ],
)
def test_refused_where_the_last_digits_decide(formula: str, recalculated) -> None:
    assert recalculated(DATA | {"D1": "=" + formula}).refused == {"S!D1"}


def test_numbers_between_the_two_rules() -> None:
    assert number_order(1.0, 1.0 + 2**-52) == 0
    assert number_order(-1.6472311463710958, -1.6472311463710965) == 0
    assert number_order(1.0, 1.0 + 2e-14) == -1
    assert number_order(0.0, 5e-324) == -1
    with pytest.raises(Uncertain):
        number_order(1.0, 1.0 + 4.5e-15)
    with pytest.raises(Uncertain):
        number_order(9.0, math.nextafter(9.0 + 2e-14, 0))


def test_texts() -> None:
    assert text_order("Apple", "apple") == 0
    assert text_order("ab", "abc") == -1
    assert text_order("item 10", "item 9") == -1
    with pytest.raises(Uncertain):
        text_order("co-op", "coop")
    assert order("z", True) == -1
    assert order(None, False) == 0
