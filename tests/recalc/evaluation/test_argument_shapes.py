"""Ordinary functions with every shape of argument that workbooks hold: gaps, texts, unequal sizes, dates.

Expected values from LibreOffice 7.4.7 where it has the function; those marked * from the descriptions of the
functions (support.microsoft.com, from memory) or by hand.
"""

from __future__ import annotations

import pytest
from openpyxl.worksheet.formula import ArrayFormula

DATA = {
    "A1": -100.0,
    "A4": 120.0,
    "B1": '="2024-01-10"',
    "B2": "12,5",
    "B3": "word",
    "C1": 1.0,
    "C2": 2.0,
    "C3": 3.0,
    "D1": 10.0,
    "D2": 20.0,
    "D3": 30.0,
    "D4": 40.0,
    "E1": True,
    "E2": 3.0,
    "E3": 4.0,
    "F1": 5.0,
    "F2": 1.0,
    "F3": 7.0,
    "F4": 2.0,
}

VALUES = [
    ("IRR({-100,50})", -0.5),
    ("IRR(A1:A4)", 0.2),
    ("IRR(A1:A4,)", 0.2),
    ("NETWORKDAYS(45000,45010,DATE(2023,3,16))", 7),
    ("NETWORKDAYS(45000,45010,45001)", 7),
    ("NETWORKDAYS(45010,45000)", -8),
    ("WORKDAY(DATE(2013,4,1),3,DATE(2013,4,2))", 41369),
    ("WORKDAY(DATE(2013,4,6),1)", 41372),
    ("WORKDAY(DATE(2013,4,6),-1)", 41369),
    ("NETWORKDAYS.INTL(45000,45030,7)", 22),
    ('NETWORKDAYS.INTL(45000,45030,"0000011")', 23),
    ("CEILING.MATH(-8.1,2,0)", -8),
    ("CEILING.MATH(-8.1,2,1)", -10),
    ("CEILING.MATH(5,0)", 0),
    ("FLOOR.MATH(-8.1,2,0)", -10),
    ("FLOOR.MATH(-8.1,2,1)", -8),
    ("GCD(12,18,24)", 6),
    ("GCD(C1:C3,12)", 1),
    ("LCM(4,6,10)", 60),
    ('YEAR("2023-03-15")', 2023),
    ('INT("2024-01-10")', 45301),
    ('HOUR("15:30")', 15),
    ("IFERROR(YEAR(B1),0)", 2024),
    ('"2024-01-10"+1', 45302),
    ("SUMPRODUCT(C1:C3,D1:D4)", "#VALUE!"),
    ("SUMPRODUCT(C1:C3,D1:D3)", 140),
    ("SUMPRODUCT(--(D1:D4>15))", 3),
    ("SUMPRODUCT((C1:C3>1)*D1:D3)", 50),
    ("LEFT(TRUE,2)", "TR"),  # *
    ("PROPER(Y9)", ""),
    ("VALUE(Y9)", 0),
    ("ADDRESS(2,3,4,0)", "R[2]C[3]"),
    ("CHOOSE(TRUE,5,6)", 5),
    ('CHOOSE("2",5,6)', 6),
    ('PMT("0.01",12,100)', -8.884878867834168),
    ('IF("TRUE",1,2)', 1),
    ('AND("TRUE",TRUE)', True),
    ('MAX(1,"x")', "#VALUE!"),
    ('PRODUCT("seven")', "#VALUE!"),
    ('AVERAGE(1,"x")', "#VALUE!"),
    ("MODE.SNGL(2,2,1,1)", 2),
    ("DATE(10000,1,1)", "#NUM!"),  # *
    ("TIME(0,0,-1)", "#NUM!"),  # *
    ("PMT(0.1,0,100)", "#NUM!"),  # *
    ("INDEX(ROW(A1:A3),2)", 2),
    ("MATCH(25,{10,20,30,40},FALSE)", "#N/A"),
    ("MATCH(20,D1:D4,Y9)", 2),
    ("MATCH(20,D1:D4,)", 2),
    ("MATCH(9,F1:F4)", 4),  # * binary search ends at the last cell
    ("MATCH(1/0,D1:D4,0)", "#DIV/0!"),
    ('VLOOKUP(20,D1:F4,"3",0)', 1),
    ('LOOKUP(2,1/(D1:D4="x"),F1:F4)', "#N/A"),
    ("LOOKUP(2,1/(D1:D4>15),F1:F4)", 2),
    ("MATCH(1,INDEX((C1:C3=2)*(D1:D3=20),0),0)", 2),
    ("XMATCH(25,D1:D4,-1)", 2),  # *
    ("XMATCH(25,D1:D4,1)", 3),  # *
    ('XLOOKUP(25,D1:D4,F1:F4,"none",1)', 7),  # *
    ("SUM(COUNTIF(C1:C3,{1,2}))", 2),
    ("SUM(LARGE(D1:D4,{1,2}))", 70),
    ("SUM({1,2,3}*{4,5,6})", 32),  # *
    ("SUM(LARGE(D1:D4,{1,2})*{1,2})", 100),  # *
    ("SUMPRODUCT(1/COUNTIF(C1:C3,C1:C3))", 3),
    ("AGGREGATE(9,6,C1:C3)", 6),  # *
    ("AGGREGATE(15,6,D1:D4/(D1:D4>15),1)", 20),  # *
    ("AGGREGATE(14,6,D1:D4,2)", 30),  # *
    ('HYPERLINK("http://example.com","go")', "go"),
    ('TEXT(1234.5,"#,##0_);(#,##0)")', "1,235 "),
    ('TEXT(-1234.5,"#,##0_);(#,##0)")', "(1,235)"),
    ('TEXT(0.00012,"0.00E+00")', "1.20E-04"),
    ('TEXT(5,"General")', "5"),
    ('TEXT(45000,"mmmm d, yyyy")', "March 15, 2023"),
    ('TEXT(45000.75,"h:mm AM/PM")', "6:00 PM"),
    ('TEXT(1.5,"[h]:mm")', "36:00"),
    ('TEXT(45000,"YYYY-MM-DD")', "2023-03-15"),
    ('TEXT(3,"+0;-0;0")', "+3"),
    ('TEXT(1234567,"#,##0.0,,")', "1.2"),
    ('TEXT(123456789,"000-00-0000")', "123-45-6789"),
    ('DATEDIF(DATE(2020,1,15),DATE(2024,3,1),"M")', 49),
    ("DAYS(DATE(2024,1,1),DATE(2023,1,1))", 365),
    ('DATEVALUE("2024-03-01")', 45352),
    ("IPMT(0.1/12,3,36,8000)", -63.462189566454725),
    ("PPMT(0.1/12,3,36,8000)", -194.67530798424517),
    ("XNPV(0.1,{-100,60,60},{45000,45365,45730})", 4.132231404958667),
    ('IMSUM("3+4i","1-2i")', "4+2i"),
    ('IMABS(IMPRODUCT("1+2i","3i"))', 6.708203932499369),
    ('CONVERT(1,"mi","km")', 1.609344),
    ("DEC2HEX(255,4)", "00FF"),
    ("VLOOKUP(20,CHOOSE({1,2},D1:D3,C1:C3),2,FALSE)", 2),
    ("SUM(CHOOSE({1,2},C1:C3,D1:D3))", 66),
    ('SWITCH(2,1,"a",2,"b")', "b"),
]
REFUSED = [
    ("YEAR(B1)", "may or may not be a number"),
    ("IFERROR(B2*2,0)", "regional settings"),
    ("ISNUMBER(INT(B2))", "regional settings"),
    ("SUMPRODUCT(C1:C3,E1:E3)", "logical"),
    ("MATCH(3,F1:F4)", "not sorted"),
    ("MATCH(7,F1:F4)", "not sorted"),
    ("MATCH(2,C1:C3,-1)", "not sorted"),
    ('TEXT(1.005,"0%")', "half-way"),
    ('TEXT(0.333333,"h:mm:ss")', "half a second"),
    ("VLOOKUP(3,F1:F4,1,TRUE)", "not sorted"),
    ("LOOKUP(3,F1:F4)", "not sorted"),
    ("IRR({-100,230,-132})", "several rates"),
    ("MROUND(TRUE,2)", "logical"),
    ("SUM(ROW(D1:D3))", "several cells"),
    ("SUM(FILTER(D1:D3,D1:D3>5)*2)", "not an array formula"),
    ("SUM(D1:D3*2)", "not an array formula"),
    ("INDEX(C1:D3,2)", "by one number"),
    ("ISEVEN(TRUE)", "logical"),
    ('DATEVALUE("15/03/2024")', "regional settings"),
    ('COUNTIF(D1:D4,"1-2")', "regional settings"),
    ('TEXT(-0.001,"0.0")', "sign"),
]
ARRAYS = [
    ("SUM(IFERROR(D1:D4*C1:C3,0))", 140),
    ("SUM(IF(ISNA(D1:D4*C1:C3),1,0))", 1),
    ("SUM(IF(ISNA(D1:D4=C1:C3),1,0))", 1),
    ("SUM(D1:D3*{1,2})", 180),
    ("SUM(IFERROR(IF(D1:D4>10,C1:C3),0))", 5),
    ("SUM(IF(FREQUENCY(C1:C3,{1,2})>0,1))", 3),
]


@pytest.mark.parametrize(("formula", "expected"), VALUES)
def test_value(formula: str, expected: object, recalculated) -> None:
    result = recalculated(DATA | {"Z1": "=" + formula})
    shown = result["Z1"]
    if isinstance(expected, int | float) and not isinstance(expected, bool):
        expected = pytest.approx(expected, rel=1e-12)
    assert ("" if shown is None else shown) == expected, result.reason("Z1")


@pytest.mark.parametrize(("formula", "reason"), REFUSED)
def test_refused(formula: str, reason: str, recalculated) -> None:
    result = recalculated(DATA | {"Z1": "=" + formula})
    assert result.refused == {"S!Z1"}
    assert reason in result.reason("Z1")


@pytest.mark.parametrize(("formula", "expected"), ARRAYS)
def test_arrays_of_unequal_size(formula: str, expected: float, recalculated) -> None:
    assert recalculated(DATA | {"Z1": ArrayFormula("Z1:Z1", "=" + formula)})["Z1"] == expected
