"""OFFSET, INDIRECT and ranges with INDEX: decided by the cells that they met; measuring is no circle.

Expected values by hand; LibreOffice 7.4.7 shows the same.
"""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from openpyxl.workbook.defined_name import DefinedName

DATA = {
    "A1": 10.0,
    "A2": 20.0,
    "A3": 30.0,
    "A4": 40.0,
    "A5": "=ROWS(A$1:A5)",
    "B1": "=COLUMNS($A1:B1)",
    "C2": "=ROW(C2)",
    "B6": "=SUM(B1:OFFSET(B6,-1,0))",
    "N4": 7.0,
    "N5": "=OFFSET(N5,-1,0,1,1)",
    "D1": "=CUBEVALUE(1)",
    "E1": 3.0,
    "F2": "=OFFSET(F1,2,0)",
    "F3": "=F2+1",
    "G1": '=INDIRECT("G1")',
}


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("A5", 5),
        ("B1", 2),
        ("C2", 2),
        ("B6", 2),
        ("N5", 7),
        ("SUM(A1:INDEX(A:A,3))", 60),
        ("SUM(INDEX(A1:A4,2):INDEX(A1:A4,3))", 50),
        ("SUM(A1:INDEX(A1:D1,2))", 12),
        ("OFFSET(A1,3,0)", 40),
        ("SUM(OFFSET(A1,0,0,3))", 60),
        ("SUM(OFFSET(A4,0,0,-2,1))", 70),
        ("SUM(OFFSET(A1:A2,1,0))", 50),
        ("SUM(OFFSET(A1:A2,1,0,,1))", 50),
        ("SUM(OFFSET(INDEX(A1:A4,2),0,0,2,1))", 50),
        ("SUM(OFFSET(OFFSET(A1,1,0),1,0))", 30),
        ("SUMPRODUCT(SUBTOTAL(9,OFFSET(A1,ROW(A1:A4)-1,0)))", 100),
        ("SUMPRODUCT(SUBTOTAL(9,OFFSET(A1,0,0,{1,2,3})))", 100),
        ("OFFSET(A1,-1,0)", "#REF!"),
        ("OFFSET(A1,0,0,0)", "#REF!"),
        ('OFFSET(A1,"x",0)', "#VALUE!"),
        ('INDIRECT("T!A1")', "#REF!"),
        ('INDIRECT("S!A1")', 10),
        ('INDIRECT("Rate")', 20),
        ('SUM(INDIRECT("A:A"))', 105),
        ('SUM(INDIRECT("A"&1&":A"&3))', 60),
        ('SUMPRODUCT(ROW(INDIRECT("1:"&4)))', 10),
        ("SUMPRODUCT((ROW(A1:A4)=2)*A1:A4)", 20),
        ("SUMPRODUCT(COLUMN(A1:C1))", 6),
        ("ROWS(OFFSET(A1,0,0,7))", 7),
        ("IF(E1>9,OFFSET(D1,0,0),5)", 5),
        ("MATCH(30,OFFSET(A1,0,0,4,1),0)", 3),
        ('INDIRECT("R3C1",FALSE)', 30),
        ("LET(r,A1:A4,SUM(INDEX(r,2):INDEX(r,3)))", 50),
        ("LET(r,A1:A4,MAX(OFFSET(r,1,0,2,1)))", 30),
        ('IFERROR(OFFSET(A1,-1,0),"off")', "off"),
    ],
)
def test_value(formula: str, expected: object, recalculated) -> None:
    assert recalculated(_book(formula))["Z1"] == expected


@pytest.mark.parametrize(
    "formula",
    [
        'INDIRECT("D1")',
        "SUM(OFFSET(C1,0,0,1,3))",
        "IFERROR(OFFSET(D1,0,0),0)",
        'SUM(A1:INDIRECT("D"&1))',
        "OFFSET(Z1,0,0)",
        'INDIRECT("F2")',
        'INDIRECT("R1",FALSE)',
        "SUMPRODUCT(AGGREGATE(9,6,OFFSET(A1,ROW(A1:A4)-1,0)))",
        "SUMPRODUCT(--ISFORMULA(OFFSET(A1,ROW(A1:A4)-1,0)))",
        "SUMPRODUCT(SUBTOTAL(ROW(A1:A4),A1:A4))",
        "SUMPRODUCT(SUBTOTAL(9,OFFSET(A1,ROW(A1:A4)-1,3)))",
    ],
)
def test_refused(formula: str, recalculated) -> None:
    assert recalculated(_book(formula)).refused == {"S!D1", "S!F2", "S!F3", "S!G1", "S!Z1"}


def test_circles_through_computed_addresses(recalculated) -> None:
    result = recalculated(_book("1"))
    assert {result.reason(cell) for cell in ("F2", "F3", "G1")} == {"a circular reference"}


def _book(formula: str) -> openpyxl.Workbook:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "S"
    for address, content in (DATA | {"Z1": "=" + formula}).items():
        sheet[address] = content
    book.defined_names["Rate"] = DefinedName("Rate", attr_text="S!$A$2")
    return book


def test_a_part_of_an_array_is_met_however_the_formulas_are_ordered(tmp_path: Path, recalculated) -> None:
    book = xlsxwriter.Workbook(tmp_path / "arrays.xlsx")
    sheet = book.add_worksheet("S")
    sheet.write_column("A1", ['=INDIRECT("D3")', "=SUM(OFFSET(D2,1,0,2,1))", "=A1*10", '=INDIRECT("G3")+0'])
    sheet.write_array_formula("C2:D4", "={1,2;3,4;5,6}*1")
    sheet.write_column("F1", ["=A4"])
    sheet.write_dynamic_array_formula("G2", "=A1*_xlfn.SEQUENCE(2)")
    book.close()
    result = recalculated(tmp_path / "arrays.xlsx")
    assert result.refused == set()
    assert result["A1:A4"] == [[4], [10], [40], [8]]
    assert result["F1"] == 8
