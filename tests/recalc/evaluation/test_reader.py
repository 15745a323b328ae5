"""What the reader makes of a file's XML, for plain and for unusual writers."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from xlcalc.files.errors import WorkbookFileError
from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.evaluation.content import ArrayMark, BookContent
from xlcalc.recalc.reader import read_book
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.schema.values import CellError, ErrorCode

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
Written = Callable[[str], BookContent]


@pytest.fixture
def written(tmp_path: Path) -> Written:
    """Put the XML of a sheet into a workbook and read it."""

    def write(sheet_xml: str) -> BookContent:
        base, path = tmp_path / "base.xlsx", tmp_path / "book.xlsx"
        with xlsxwriter.Workbook(str(base)) as book:
            book.add_worksheet("Sheet").write_column(0, 0, ["plain", "  spaced ", "a\rb", "x < y & z"])
        with zipfile.ZipFile(base) as source, zipfile.ZipFile(path, "w") as target:
            for name in source.namelist():
                is_sheet = name == "xl/worksheets/sheet1.xml"
                target.writestr(name, sheet_xml if is_sheet else source.read(name))
        return read_book(WorkbookPackage.open(path))

    return write


CELLS = """
<row r="1"><c r="A1"><v>1.5</v></c>
<c r="B1" t="s"><v>0</v></c>
<c r="C1" t="b"><v>1</v></c>
<c r="D1" s="1"/></row>
<row r="2"><c r="A2" t="e"><v>#N/A</v></c>
<c r="B2" t="str"><v>a&amp;b</v></c>
<c r="C2" t="s"><v>1</v></c></row>
<row r="3"><c r="A3"><f t="shared" ref="A3:A5" si="0">A1*$A$1+SUM(B:B)</f><v>2</v></c>
<c r="C3" t="s"><v>2</v></c></row>
<row r="4"><c r="A4"><f t="shared" si="0"/><v>2</v></c>
<c r="B4"><f>"A1"&amp;A1</f></c></row>
<row r="5"><c r="B5"><f t="shared" si="0"/></c>
<c r="C5" t="d"><v>2024-02-29T12:00:00</v></c></row>
<row r="6"><c r="A6" cm="1"><f t="array" ref="A6:A7">X(1)</f><v>1</v></c>
<c r="B6"><f t="array" ref="B6:B7">A1:A2</f></c></row>
<row r="7"><c r="A7"><v>9</v></c>
<c r="B7"><v>9</v></c>
<c r="C7"><v>9</v></c></row>
"""


def _check(book: BookContent) -> None:
    sheet = book.sheets[0]
    constants = {(row, col): value for row, col, value in sheet.constants}
    assert constants == {
        (1, 1): 1.5,
        (1, 2): "plain",
        (1, 3): True,
        (2, 1): CellError(ErrorCode.NA),
        (2, 2): "a&b",
        (2, 3): "  spaced ",
        (3, 3): "a\rb",
        (5, 3): 45351.5,
        (7, 3): 9.0,
    }
    formulas = {(cell.row, cell.col): (cell.text, cell.mark, cell.area) for cell in sheet.formulas}
    assert formulas == {
        (3, 1): ("A1*$A$1+SUM(B:B)", ArrayMark.PLAIN, None),
        (4, 1): ("A2*$A$1+SUM(B:B)", ArrayMark.PLAIN, None),
        (4, 2): ('"A1"&A1', ArrayMark.PLAIN, None),
        (5, 2): ("B3*$A$1+SUM(C:C)", ArrayMark.PLAIN, None),
        (6, 1): ("X(1)", ArrayMark.DYNAMIC, CellRange(6, 1, 7, 1)),
        (6, 2): ("A1:A2", ArrayMark.ARRAY, CellRange(6, 2, 7, 2)),
    }


def test_plain_spelling(written: Written) -> None:
    _check(written(f'<worksheet xmlns="{MAIN}"><sheetData>{CELLS}</sheetData></worksheet>'))


def test_prefixed_and_commented_spelling(written: Written) -> None:
    cells = CELLS
    for tag in ("row", "c", "v", "f"):
        cells = (
            cells.replace(f"<{tag} ", f"<x:{tag} ")
            .replace(f"<{tag}>", f"<x:{tag}>")
            .replace(f"</{tag}>", f"</x:{tag}>")
        )
    _check(
        written(f'<x:worksheet xmlns:x="{MAIN}"><!-- c --><x:sheetData>{cells}</x:sheetData></x:worksheet>')
    )
    _check(written(f'<worksheet xmlns="{MAIN}"><!-- note --><sheetData>{CELLS}</sheetData></worksheet>'))


def test_inline_text_and_cells_without_addresses(written: Written) -> None:
    book = written(
        f'<worksheet xmlns="{MAIN}"><sheetData>'
        '<row><c t="inlineStr"><is><t>one </t></is></c><c><v>2</v></c></row>'
        '<row r="4"><c t="inlineStr"><is><r><t>ri</t></r><r><t>ch</t></r><rPh><t>no</t></rPh></is></c></row>'
        "</sheetData></worksheet>"
    )
    assert book.sheets[0].constants == [(1, 1, "one "), (1, 2, 2.0), (4, 1, "rich")]


@pytest.mark.parametrize(
    "cell",
    [
        '<c r="A1"><v>NaN</v></c>',
        '<c r="A1"><v>one</v></c>',
        '<c r="A1" t="s"><v>99</v></c>',
        '<c r="A1" t="s"><v>-1</v></c>',
    ],
)
def test_values_that_make_no_sense(cell: str, written: Written) -> None:
    with pytest.raises(WorkbookFileError):
        written(f'<worksheet xmlns="{MAIN}"><sheetData><row r="1">{cell}</row></sheetData></worksheet>')


def test_other_writer_agrees(tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    with xlsxwriter.Workbook(str(path), {"constant_memory": True}) as book:
        sheet = book.add_worksheet("In line")
        sheet.set_row(0, None, None, {"hidden": True})
        sheet.write_row(0, 0, ["a & b", 1.25, True])
        sheet.write_formula(0, 3, "=B1*2", None, 2.5)
    content = read_book(WorkbookPackage.open(path)).sheets[0]
    assert content.constants == [(1, 1, "a & b"), (1, 2, 1.25), (1, 3, True)]
    assert [cell.text for cell in content.formulas] == ["B1*2"]
    assert content.hidden_rows.rows


def test_names_tables_and_dates_from_1904(tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    with xlsxwriter.Workbook(str(path), {"date_1904": True}) as book:
        sheet = book.add_worksheet("S")
        book.define_name("Rate", "=S!$A$1")
        book.define_name("S!Own", "=5")
        sheet.add_table(
            "B2:D6",
            {
                "name": "Parts",
                "total_row": True,
                "columns": [{"header": h} for h in ("Tag", "it's [a] #1", "n")],
            },
        )
    content = read_book(WorkbookPackage.open(path))
    assert content.names == {("", "rate"): "S!$A$1", ("S", "own"): "5"}
    table = content.tables["parts"]
    assert (table.columns, table.area, table.totals_rows) == (
        ("Tag", "it's [a] #1", "n"),
        CellRange(2, 2, 6, 4),
        1,
    )
    assert content.date_1904


def test_dates_from_1904(recalculated) -> None:
    book = openpyxl.Workbook()
    book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    book.worksheets[0]["A1"] = "=DATE(2024,2,29)"
    book.worksheets[0]["A2"] = "=YEAR(A1)*10000+MONTH(A1)*100+DAY(A1)"
    result = recalculated(book)
    stored = read_book(WorkbookPackage.open(result.path))
    assert stored.date_1904
    cached = WorkbookPackage.open(result.path).sheets[0].formulas
    assert [cell.cached for cell in cached] == [45351.0 - 1462.0, 20240229.0]
