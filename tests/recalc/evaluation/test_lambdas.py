"""LAMBDA, called and repeated; expected values by hand from the published descriptions of the functions.

(support.microsoft.com, one page per function; from memory. LibreOffice 7.4 has none of them.)
"""

from __future__ import annotations

import openpyxl
import pytest
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.formula import ArrayFormula

DATA = {f"A{row}": value for row, value in enumerate([4, 1, 3, None, "x"], 1)}
DATA |= {f"B{row}": value for row, value in enumerate([10, 20, 30, 40, 50], 1)}
NAMES = {
    "Double": "_xlfn.LAMBDA(_xlpm.x,_xlpm.x*2)",
    "Hyp": "_xlfn.LAMBDA(_xlpm.a,_xlpm.b,SQRT(_xlpm.a^2+_xlpm.b^2))",
    "Twice": "_xlfn.LAMBDA(_xlpm.f,_xlpm.x,_xlpm.f(_xlpm.f(_xlpm.x)))",
    "Over": "_xlfn.LAMBDA(_xlpm.limit,SUM(_xlfn._xlws.FILTER(S!$B$1:$B$5,S!$B$1:$B$5>_xlpm.limit)))",
    "Endless": "_xlfn.LAMBDA(_xlpm.n,Endless(_xlpm.n-1))",
}

ONE = [
    ("LAMBDA(x,x+1)(2)", 3),
    ("LAMBDA(x,y,x-y)(B2,B1)", 10),
    ("LAMBDA(1+1)()", 2),
    ("LET(f,LAMBDA(x,x*2),f(4)+f(B1))", 28),
    ("LET(k,3,f,LAMBDA(x,x*k),k,100,f(2))", 6),
    ("LET(x,5,LAMBDA(x,x+1)(x*10)+x)", 56),
    ("LET(a,1,b,a+1,a,b*10,a+b)", 22),
    ("Double(21)", 42),
    ("Hyp(3,4)", 5),
    ("Twice(Double,5)", 20),
    ('Twice(LAMBDA(t,t&"!"),"a")', "a!!"),
    ("Over(25)", 120),
    ("SUM(MAP(B1:B3,LAMBDA(x,x/10)))", 6),
    ("SUM(MAP(B1:B3,Double))", 120),
    ("SUM(MAP(A1:A3,B1:B3,LAMBDA(x,y,x*y)))", 150),
    ('SUM(MAP(A1:A5,LAMBDA(x,IF(x="",100,1))))', 104),
    ("SUM(MAP(B1:B5,LAMBDA(x,IF(x>$B$2,x,0))))", 120),
    ('SUM(MAP(A1:A3,LAMBDA(x,COUNTIF(B:B,">"&x*10))))', 7),
    ("SUM(MAP(A1:A3,LAMBDA(x,SUMIF($A$1:$A$3,x,$B$1:$B$3))))", 60),
    ("LET(k,2,SUM(MAP(B1:B2,LAMBDA(x,x*k))))", 60),
    ("LET(k,2,f,LAMBDA(x,x*k),SUM(MAP(B1:B2,LAMBDA(x,f(x)+1))))", 62),
    ("INDEX(MAP(B1:B3,LAMBDA(x,1/(x-20))),2)", "#DIV/0!"),
    ("SUM(BYROW(A1:B3,LAMBDA(r,MAX(r))))", 60),
    ("SUM(BYCOL(A1:B3,LAMBDA(c,SUM(c))))", 68),
    ("INDEX(BYROW(A1:B5,LAMBDA(r,COUNTA(r))),4)", 1),
    ('TEXTJOIN("-",TRUE,BYROW(A1:B3,LAMBDA(r,TEXTJOIN("+",TRUE,r))))', "4+10-1+20-3+30"),
    ("SUM(MAKEARRAY(2,3,LAMBDA(r,c,r*10+c)))", 102),
    ("REDUCE(0,B1:B5,LAMBDA(a,x,a+x))", 150),
    ("REDUCE(1,{2;3;4},LAMBDA(a,x,a*x))", 24),
    ('REDUCE("",{"a","b","c"},LAMBDA(a,x,x&a))', "cba"),
    ("ROWS(REDUCE(0,{1;2;3},LAMBDA(a,x,VSTACK(a,x))))", 4),
    ("SUM(REDUCE(0,{1;2;3},LAMBDA(a,x,VSTACK(a,x*10))))", 60),
    ("INDEX(SCAN(0,B1:B5,LAMBDA(a,x,a+x)),4)", 100),
    ("SUM(SCAN(0,{1,2;3,4},LAMBDA(a,x,a+x)))", 20),
    ("SUM(MAP(SEQUENCE(3),LAMBDA(n,SUM(SEQUENCE(n)))))", 10),
    ("SUM(MAP(SEQUENCE(2),LAMBDA(i,SUM(MAP(SEQUENCE(3),LAMBDA(j,i*j))))))", 18),
    ("LET(r,B1:B3,SUM(MAP(r,LAMBDA(x,x-AVERAGE(r)))))", 0),
]

REFUSED = [
    ("Endless(3)", "calls itself"),
    ("LAMBDA(x,x)", "not called"),
    ("LAMBDA(x,x)(1,2)", "1 parameters that is given 2"),
    ("SUM(MAP(A1:A3,SUM))", "not written as LAMBDA"),
    ("SUM(MAP(A1:A3,B1:B2,LAMBDA(x,y,x+y)))", "different sizes"),
    ("SUM(MAP(A1:A3,LAMBDA(x,SEQUENCE(2))))", ""),
    ("SUM(MAP(A1:A3,LAMBDA(x,ROW(x))))", "ROW inside"),
    ("SUM(MAP(A1:A3,LAMBDA(x,RAND())))", "RAND inside"),
    ("SUM(MAP(A1:A3*2,LAMBDA(x,COUNTIF(x,2))))", "no range of cells"),
    ("SUM(MAP(B1:B3,LAMBDA(x,x&1E20)))", "1e+20"),
    ("REDUCE(,B1:B3,LAMBDA(a,x,a+x))", "empty argument"),
    ("SUM(MAP(B1:B3,LAMBDA(x,X_TOTAL(x))))", "X_TOTAL inside"),
    ("LET(f,LAMBDA(x,x),f)", "as a value"),
]


def _book(formula: str) -> openpyxl.Workbook:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "S"
    for address, value in DATA.items():
        sheet[address] = value
    for name, text in NAMES.items():
        book.defined_names[name] = DefinedName(name, attr_text=text)
    sheet["D1"] = ArrayFormula("D1:D1", "=" + formula)
    return book


@pytest.mark.parametrize(("formula", "expected"), ONE)
def test_one_value(formula: str, expected: object, recalculated) -> None:
    result = recalculated(_book(formula))
    assert [issue.reason for issue in result.report.issues if issue.refused] == []
    assert result["D1"] == expected


@pytest.mark.parametrize(("formula", "reason"), REFUSED)
def test_refused(formula: str, reason: str, recalculated) -> None:
    result = recalculated(_book(formula))
    assert result.refused == {"S!D1"}
    assert reason in result.reason("D1")


def test_each_cell_of_a_filled_down_column_has_its_own_values(recalculated) -> None:
    cells = {f"C{row}": f"=SUM(MAP($B$1:B{row},LAMBDA(x,x+A{row})))" for row in range(1, 4)}
    result = recalculated(DATA | cells)
    assert [result[f"C{row}"] for row in range(1, 4)] == [14, 32, 69]


def test_what_a_body_uses_is_followed(recalculated) -> None:
    result = recalculated(DATA | {"C1": "=NOSUCH()", "C2": "=SUM(MAP(B1:B3,LAMBDA(x,x+$C$1)))"})
    assert result.refused == {"S!C1", "S!C2"}
