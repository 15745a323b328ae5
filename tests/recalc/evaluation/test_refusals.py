"""What is not certain keeps its old value, with everything that depends on it, each named with the reason."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.formula import ArrayFormula, DataTableFormula

from xlcalc.files.errors import WorkbookFileError


def _book(path: Path, cells: dict[str, tuple[str, object]], names: dict[str, str] | None = None) -> Path:
    """A workbook whose formulas have old values, as a spreadsheet program leaves it."""
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet("S")
        for address, (formula, value) in cells.items():
            if formula.startswith("="):
                sheet.write_formula(address, formula, None, value)
            else:
                sheet.write(address, value)
        for name, text in (names or {}).items():
            book.define_name(name, text)
    return path


def test_dependents_keep_their_old_values(recalculated, tmp_path: Path) -> None:
    path = _book(
        tmp_path / "old.xlsx",
        {
            "A1": ("", 5),
            "B1": ("=CUBEVALUE(1)", 111),
            "B2": ("=B1+1", 222),
            "B3": ("=SUM(B1:B2)", 333),
            "B4": ("=IFERROR(B2,0)", 444),
            "B5": ("=Part*2", 555),
            "B6": ('=INDIRECT("B"&1)', 666),
            "B7": ("=SUM(OFFSET(A1,0,0,1,2))", 777),
            "B8": ("=SUM(A1:INDEX(A1:B3,1,2))", 888),
            "C1": ("=A1*2", 0),
            "C2": ("=C1+1", 0),
        },
        {"Part": "=S!$B$3"},
    )
    result = recalculated(path)
    assert result.refused == {f"S!B{row}" for row in range(1, 9)}
    assert result["B1:B8"] == [[111 * row] for row in range(1, 9)]
    assert result["C1:C2"] == [[10], [11]]
    assert result.reason("B1") == "function CUBEVALUE is not supported"
    assert result.reason("B2") == "it depends on S!B1, which kept its old value"
    assert result.reason("B6") == "it depends on S!B1, which kept its old value"


def test_moving_references_work_where_everything_is_certain(recalculated) -> None:
    result = recalculated({"A1": "=B1*2", "B1": 4.0, "C1": '=INDIRECT("A1")', "C2": "=OFFSET(B1,0,-1)+1"})
    assert not result.report.issues
    assert result["C1:C2"] == [[8], [9]]


@pytest.mark.parametrize(
    ("formula", "reason"),
    [
        ("[1]Sheet1!A1", "another file"),
        ("'[other.xlsx]Data'!A1+1", "another file"),
        ("(A1,B1)", "union"),
        ("SUMIF((A1,B1),1)", "union"),
        ("SUM(SQRT(A1):A3 A2)", "intersection"),
        ("SUMIF('S:S'!A1,1)", "several sheets"),
        ("SUM(S:T!A1)", "worksheets from 'S' to 'T'"),
        ("Nowhere!A1", "no worksheet"),
        ("nosuchname+1", "no name"),
        ("nosuchtable[x]", "no table"),
        ("LAMBDA(x,x+1)", "not called"),
        ("SUM(A1#)", "a cell that has none"),
        ("SUM(1", "not a formula"),
        ("ROUND(1.5,)", "empty argument"),
        ("ROUND(1,2,3)", "arguments"),
        ('INDIRECT("rate")', "not an address"),
        ('CELL("width",A1)', "CELL of kind 'width'"),
        ('CELL("row")', "without a reference"),
        ("ISREF(VLOOKUP(1,A1:A2,1))", "may or may not be cells"),
        ("SUBTOTAL(9,{1,2})", "no range of cells"),
        ('GETPIVOTDATA("x",A1)', "not supported"),
        ('WEBSERVICE("x")', "not supported"),
        ("(" * 200 + "1" + ")" * 200, "nested"),
        ("1+" * 4000 + "1", "operands"),
        ("1+" * 4100 + "1", "longer"),
    ],
)
def test_reason(formula: str, reason: str, recalculated) -> None:
    result = recalculated({"A1": 1.0, "A2": 2.0, "D1": "=" + formula})
    assert result.refused == {"S!D1"}
    assert reason in result.reason("D1")


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("S!A1*2", "circular"),
        ("SUM(S!A:A)", "relative"),
        ("Loop+1", "defined by itself"),
        ("[2]S!$A$1", "another file"),
        ("NOSUCH(S!$A$1)", "not supported"),
    ],
)
def test_name_that_cannot_be_resolved(text: str, reason: str, recalculated) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "S"
    sheet["D1"] = "=Loop*2"
    book.defined_names["Loop"] = DefinedName("Loop", attr_text=text)
    result = recalculated(book)
    assert result.refused == {"S!D1"}
    assert reason in result.reason("D1")


def test_a_name_with_a_relative_reference_moves_with_the_cell_that_uses_it(recalculated) -> None:
    # written as for cell A1, on from the first row or column beyond the last (compared by hand; LibreOffice
    # agrees where nothing lies beyond the last)
    names = {"Left": "S!XFD1", "Above": "S!A1048576", "Both": "Left+Above"}
    names |= {"Rate": "S!$A1", "Box": "SUM(S!C2:D3)"}
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "S"
    for row in range(1, 7):
        for column in (1, 2, 5, 6):
            sheet.cell(row, column, row * 10 + column)
        if row > 1:
            sheet.cell(row, 3, "=Left+Both*2+Rate")
    sheet["D1"] = "=Box"
    for name, text in names.items():
        book.defined_names[name] = DefinedName(name, attr_text=text)
    result = recalculated(book)
    assert result.refused == set()
    above = result["C1"] or 0
    for row in range(2, 7):
        left, rate = row * 10 + 2, row * 10 + 1
        assert result[f"C{row}"] == left + 2 * (left + above) + rate
        above = result[f"C{row}"]
    assert result["D1"] == 26 + 36


def test_name_of_a_sheet_comes_before_the_workbooks(recalculated) -> None:
    book = openpyxl.Workbook()
    first, second = book.worksheets[0], book.create_sheet("Two")
    first.title = "One"
    book.defined_names["Rate"] = DefinedName("Rate", attr_text="0.1")
    second.defined_names["Rate"] = DefinedName("Rate", attr_text="0.25")
    first["A1"], second["A1"], first["A2"] = "=rate*100", "=RATE*100", "=Two!Rate*100"
    result = recalculated(book)
    assert (result["One!A1"], result["Two!A1"], result["One!A2"]) == (10, 25, 25)


def test_circular_references(recalculated) -> None:
    result = recalculated(
        {"A1": "=B1+1", "B1": "=C1", "C1": "=A1", "D1": "=SUM(A1:C1)", "E1": "=E1", "F1": "=1+1"}
    )
    assert result.refused == {f"S!{letter}1" for letter in "ABCDE"}
    assert {result.reason(f"{letter}1") for letter in "ABCE"} == {"a circular reference"}
    assert result.reason("D1") == "it depends on a circular reference"
    assert result["F1"] == 2


def test_data_table_and_refused_array(recalculated) -> None:
    result = recalculated(
        {
            "A1": DataTableFormula("A1:A3", dt2D=False, r1="B1"),
            "C1": ArrayFormula("C1:C3", "=NOSUCH(B1)"),
            "D1": "=C2+1",
            "D2": "=C4+1",
        }
    )
    assert result.refused == {"S!A1", "S!C1", "S!D1"}
    assert result["D2"] == 1


def test_dependents_of_a_refused_cell_found_while_evaluating(recalculated) -> None:
    result = recalculated({"A1": 1e20, "B1": '=A1&" V"', "C1": "=LEN(B1)", "D1": "=C1>0", "E1": "=A1/2"})
    assert result.refused == {"S!B1", "S!C1", "S!D1"}
    assert result["E1"] == 5e19


def test_hidden_rows_and_subtotal(recalculated) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "S"
    for row in range(1, 4):
        sheet.cell(row, 1, row)
    sheet["B1"] = "=SUBTOTAL(109,A1:A3)"
    assert recalculated(book)["B1"] == 6
    other = book.create_sheet("T")
    other.row_dimensions[2].hidden = True
    assert recalculated(book)["B1"] == 6
    sheet.row_dimensions[2].hidden = True
    assert recalculated(book)["B1"] == 4
    sheet["B1"] = "=SUBTOTAL(9,A1:A3)"
    assert recalculated(book)["B1"] == 6
    sheet.sheet_format.zeroHeight = True
    assert recalculated(book).refused == {"S!B1"}


@pytest.mark.parametrize("nested", ["=SUBTOTAL(9,A1:A2)*2", "=AGGREGATE(9,4,A1:A2)"])
def test_a_subtotal_that_is_a_part_of_a_formula_among_the_cells_of_another(nested: str, recalculated) -> None:
    result = recalculated({"A1": 1, "A2": 2, "A3": nested, "B1": "=SUBTOTAL(9,A1:A3)"})
    assert result.refused == {"S!B1"}


def test_precision_as_displayed_is_refused(recalculated) -> None:
    book = openpyxl.Workbook()
    book.calculation.fullPrecision = False
    with pytest.raises(WorkbookFileError, match="rounds"):
        recalculated(book)


def test_deep_nesting_in_time(recalculated) -> None:
    deep = "=" + "IF(A1>0," * 2000 + "1" + ",0)" * 2000
    long = "=" + "-" * 8000 + "1"
    result = recalculated({"A1": 1.0, "B1": deep, "B2": long})
    assert result.refused == {"S!B1", "S!B2"}
