"""Formulas on which engines differ: what a spreadsheet shows, or a refusal; re-run before the pin moves.

Expected values marked documented are from the vendors' function descriptions, as collected in the project's
notes on spreadsheet hosts; the others are the engine's own, pinned so that a change is noticed.
"""

from __future__ import annotations

import pytest

DOCUMENTED = [
    ("CEILING(-2.5,-2)", -4.0),
    ("FLOOR(-2.5,-2)", -2.0),
    ("CEILING(2.5,-2)", "#NUM!"),
    ("FLOOR(2.5,0)", "#DIV/0!"),
    ("SUM(A1:A3)", 4.0),
    ('SUM("3",TRUE)', 4.0),
    ("INDEX(A1:A3,9)", "#REF!"),
    ('1/3&""', "0.333333333333333"),
    ('0.1+0.2&""', "0.3"),
    ('TRUE&""', "TRUE"),
    ("TRUE>1", True),
    ("SQRT(-1)", "#NUM!"),
    ("LARGE(A1:A3,9)", "#NUM!"),
    ("COUNT(A1:A3)", 2.0),
    ('TEXT(1234.5,"0.00E+00")', "1.23E+03"),
    ('CONVERT(1,"HP","W")', pytest.approx(745.6998715822702, rel=1e-15)),
    ("1E308*10", "#NUM!"),
    ("0.1+0.2=0.3", True),
    ('COUNTIF(A1:A3,"#N/A")', 0.0),
    ('XLOOKUP(2.5,B1:B3,A1:A3,"none",-1)', 1.0),
    ("XMATCH(2.5,B1:B3,1)", 2.0),
    ("FACT(-0.5)", "#NUM!"),
    ("COUNT(#N/A)+COUNT(2,#DIV/0!)", 1.0),
    ('COMPLEX(3,4,A9)&COMPLEX(3,4,"")', "3+4i3+4i"),
    ('TEXT(5.3,"# ??/16")&TEXT(2,"# ?/?")', "5  5/16" + "2    "),
    ("POWER(0,0)", "#NUM!"),
    ("LOG(10,1)", "#DIV/0!"),
    ('ISREF(INDIRECT("Nowhere!A1"))', False),
    ("ISREF(OFFSET(A1,1,0))", True),
    ("TYPE({1,2})", 64.0),
    ('NETWORKDAYS.INTL(45000,45010,"1111111")', 0.0),
    ('CONVERT(20,"Reau","C")', 25.0),
    ("SUMX2MY2(B1:B5,{1;1;1;1;1})", 4 + 9 + 16 - 3),
    ('TEXTSPLIT("a,b",)', "#VALUE!"),
    ("XMATCH(2,{1,2;3,4})", "#VALUE!"),
]
PINNED = [
    ("1*(0.5-0.4-0.1)", pytest.approx(-2.8e-17, abs=1e-18)),
    # INT takes its argument to 15 significant digits, as Excel does; examples of a thread of 2011 in
    # microsoft.public.excel.worksheet.functions, "INT defect".
    ("INT(123456789-0.0000004)", 123456789),
    ("INT(123456789-0.0000005)", 123456788),
    ("QUARTILE({1,2,3},4.9)", 3),
    ("SUMPRODUCT(LEN(LEFT(B4:B4,3)))", 3),
    ('LOWER(A2)&UPPER(FALSE)&TRIM(A9)&"."', "trueFALSE."),
    # The last subtraction of a formula is 0 where it cancels: examples that users of Excel published in
    # excelbanter.com 43390 and 816967, office-forums.com 1177891, stackoverflow.com 53337274.
    ("0.5-0.4-0.1", 0),
    ("(0.5-0.4-0.1)", pytest.approx(-2.8e-17, abs=1e-18)),
    ("52.8-8.8*6", 0),
    ("(52.8-8.8*6)", pytest.approx(-7.105427357601e-15, rel=1e-9)),
    ("39795-13530.9-11895-14369.1", 0),
    ("39795-13530.9-11895-14369.1-0", pytest.approx(-1.8189894035458600e-12, rel=1e-9)),
    ("818562.54-778536.1+-40026.44", pytest.approx(5.82077e-11, rel=1e-6)),
    ("2^1023+(2^1023-2^971)-(2^1023+(2^1023-5*2^971))", 0),
    ("2^1023+(2^1023-2^971)-(2^1023+(2^1023-9*2^971))", 8 * 2.0**971),
    ("IF(0.5-0.4-0.1=0,1,2)", 2),
]
REFUSED = [
    ("MOD(10,0.1)", "nearly a multiple"),
    ('UPPER("straße")', "in the other case"),
    ("QUOTIENT(0.3,0.1)", "nearly a multiple"),
    ("BINOM.DIST(1E10,1E30,0.3,TRUE)", "beyond 2^53"),
    ('1E20&""', "as text"),
    ('0.00001&""', "as text"),
    ('VALUE("1,234.5")', "regional settings"),
    ('CONVERT(1,"furlong","m")', "unit"),
    ('TEXT(1234.5,"# #/#")', "number format"),
    ("SUM(A1:A3*B1:B3)", "arithmetic on a range"),
    ("A1:A3*SUM(B1:B3*2)", "arithmetic on a range"),
    ("B4+1", "regional settings"),
    ("COUNTIF(A1:A3,TRUE)", "among numbers"),
    ('COUNTIF(A1:A3,">"&1/0)', "criterion"),
    ("WEEKNUM(45000,TRUE)", "logical"),
    ("MROUND(B1:B3,2)", "several cells"),
    ("SUMXMY2(B1:B5,{1;1;1;1;1})", "blank"),
    ("XMATCH(2.5,{2,2,3},-1,2)", "binary search"),
    ('INT(" 2024-01-10 ")', "between blanks"),
    ("POISSON.DIST(-0.5,5,TRUE)", "between -1 and 0"),
    ("MATCH(2,{5,1,7,2,9})", "not sorted"),
    ("MATCH(0.3,{0.30000000000000004,1},0)", "last digits"),
    ("1E400", "not a finite number"),
]
DATA = {"A1": 1.0, "A2": True, "A3": 3.0, "B1": 2.0, "B2": 3.0, "B3": 4.0, "B4": "1,234.5"}


@pytest.mark.parametrize(("formula", "expected"), DOCUMENTED + PINNED)
def test_value(formula: str, expected: object, recalculated) -> None:
    assert recalculated(DATA | {"D1": "=" + formula})["D1"] == expected


@pytest.mark.parametrize(("formula", "reason"), REFUSED)
def test_refused(formula: str, reason: str, recalculated) -> None:
    result = recalculated(DATA | {"D1": "=" + formula})
    assert result.refused == {"S!D1"}
    assert reason in result.reason("D1")
    assert result["D1"] is None
