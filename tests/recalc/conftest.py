"""Workbooks of many kinds, made here, and an independent comparison of sheets."""

from __future__ import annotations

import datetime
import shutil
import struct
import subprocess
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from lxml import etree
from openpyxl.chart import LineChart, Reference
from openpyxl.comments import Comment
from openpyxl.formatting.rule import CellIsRule
from openpyxl.styles import Font, PatternFill
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.table import Table

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE_RELS = "http://schemas.openxmlformats.org/package/2006/relationships"
_WORKBOOK_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
_SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
_HEAD = b'<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'

_PIVOT_FOLDER = Path(__file__).parent / "pivot_parts"
_PIVOT_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_PIVOT_PARTS = {
    "pivotCache/pivotCacheDefinition": "pivotCacheDefinition",
    "pivotCache/pivotCacheRecords": "pivotCacheRecords",
    "pivotTables/pivotTable": "pivotTable",
}

MakePackage = Callable[..., Path]


def parts_for(sheet: bytes) -> dict[str, bytes]:
    """Members of the smallest workbook with one sheet called Data."""
    return {
        "[Content_Types].xml": _HEAD
        + (
            '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
            '<Default Extension="rels" '
            'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
            '<Default Extension="xml" ContentType="application/xml"/>'
            f'<Override PartName="/xl/workbook.xml" ContentType="{_WORKBOOK_TYPE}"/>'
            f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{_SHEET_TYPE}"/></Types>'
        ).encode(),
        "_rels/.rels": _HEAD
        + (
            f'<Relationships xmlns="{PACKAGE_RELS}"><Relationship Id="rId1" '
            f'Type="{RELS}/officeDocument" Target="xl/workbook.xml"/></Relationships>'
        ).encode(),
        "xl/workbook.xml": _HEAD
        + (
            f'<workbook xmlns="{MAIN}" xmlns:r="{RELS}"><sheets>'
            '<sheet name="Data" sheetId="1" r:id="rId1"/></sheets></workbook>'
        ).encode(),
        "xl/_rels/workbook.xml.rels": _HEAD
        + (
            f'<Relationships xmlns="{PACKAGE_RELS}"><Relationship Id="rId1" '
            f'Type="{RELS}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>'
        ).encode(),
        "xl/worksheets/sheet1.xml": sheet,
    }


@pytest.fixture
def make_package(tmp_path: Path) -> MakePackage:
    """Write a workbook around a sheet's XML (or around the inside of its sheetData)."""

    def make(sheet: bytes | str, name: str = "hand.xlsx", **overrides: bytes | None) -> Path:
        data = sheet.encode() if isinstance(sheet, str) else sheet
        if data.startswith(b"<row"):
            data = _sheet_around(data)
        members: dict[str, bytes | None] = {**parts_for(data), **overrides}
        path = tmp_path / name
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for part, content in members.items():
                if content is not None:
                    archive.writestr(part, content)
        return path

    return make


def tiny_png() -> bytes:
    """A picture of two by two points."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">L", len(data)) + kind + data + struct.pack(">L", zlib.crc32(kind + data))

    header = struct.pack(">2L5B", 2, 2, 8, 2, 0, 0, 0)
    rows = zlib.compress((b"\0" + b"\x20\x80\xff" * 2) * 2)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def _rich_xlsxwriter(path: Path) -> None:
    picture = path.with_suffix(".png")
    picture.write_bytes(tiny_png())
    book = xlsxwriter.Workbook(str(path))
    data, other = book.add_worksheet("Drive data"), book.add_worksheet("Été & 'co' 2")
    bold = book.add_format({"bold": True, "num_format": "0.00"})
    for row in range(12):
        data.write_number(row, 0, row * 1.5)
        data.write_formula(row, 1, f"=A{row + 1}*2", bold, row * 3.0)
        data.write_formula(row, 2, f'=IF(A{row + 1}>3,"high","low")', None, "low")
        data.write_formula(row, 3, f"=A{row + 1}>3", None, False)
    data.write_formula("F1", "=SUM(B1:B12)/0", None, "#DIV/0!")
    data.write_array_formula("H1:I3", "{=A1:B3*2}", None, 0)
    data.write_dynamic_array_formula("K1:K3", "=A1:A12/6", None, 0)
    data.write_comment("A1", "a note on the first reading")
    data.conditional_format("B1:B12", {"type": "3_color_scale"})
    data.conditional_format("B1:B12", {"type": "data_bar", "data_bar_2010": True})
    data.data_validation("M1", {"validate": "list", "source": ["yes", "no"]})
    data.add_sparkline("N1", {"range": "'Drive data'!A1:A12"})
    data.insert_image("P1", str(picture))
    data.insert_textbox("P5", "a text box")
    data.set_header("&L&G", {"image_left": str(picture)})
    data.protect("", {"format_columns": True})
    chart = book.add_chart({"type": "column"})
    chart.add_series({"values": "='Drive data'!$B$1:$B$12"})
    other.insert_chart("D2", chart)
    other.add_table("A5:B8", {"columns": [{"header": "tag"}, {"header": "kW", "formula": "=5*2"}]})
    other.write_formula("A1", "='Drive data'!B2+total", None, 0)
    other.write_rich_string("A2", "plain ", bold, "bold")
    other.write_url("A3", "internal:'Drive data'!A1")
    book.define_name("total", "='Drive data'!$B$12")
    book.add_worksheet("hidden").hide()
    book.add_chartsheet("Plot").set_chart(_bar(book))
    book.set_custom_property("project", "invented")
    book.close()


def _bar(book: xlsxwriter.Workbook) -> object:
    chart = book.add_chart({"type": "bar"})
    chart.add_series({"values": "='Drive data'!$B$1:$B$12"})
    return chart


def _rich_openpyxl(path: Path) -> None:
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904
    sheet = book.active
    sheet.title = "Site"
    for row in range(1, 9):
        sheet.cell(row, 1, row * 0.1).font = Font(bold=True)
        sheet.cell(row, 2, f"=A{row}^2").fill = PatternFill("solid", fgColor="00FFEE88")
        sheet.cell(row, 3, datetime.date(2020, 1, row))
    sheet["E1"] = "=limit*2"
    sheet["E2"] = '="a & b <c> "&A1'
    sheet["G1"] = ArrayFormula("G1:H4", "=A1:B4*10")
    sheet["A1"].comment = Comment("measured", "operator")
    sheet.conditional_formatting.add("B1:B8", CellIsRule(operator="greaterThan", formula=["0.3"]))
    validation = DataValidation(type="decimal", operator="between", formula1="0", formula2="10")
    validation.add("A1:A8")
    sheet.add_data_validation(validation)
    sheet.merge_cells("J1:K2")
    sheet.protection.sheet = True
    book.defined_names["limit"] = DefinedName("limit", attr_text="Site!$A$8")
    table_sheet = book.create_sheet("Schedule")
    for line in (("tag", "kW", "double"), ("M1", 10, "=B2*2"), ("M2", 20, "=B3*2")):
        table_sheet.append(line)
    table_sheet.add_table(Table(displayName="drives", ref="A1:C3"))
    chart = LineChart()
    chart.add_data(Reference(sheet, min_col=2, min_row=1, max_row=8))
    sheet.add_chart(chart, "M2")
    book.save(path)


def _plain_sheet_xml() -> str:
    return (
        '<row r="1" spans="1:3"><c r="A1"><v>2</v></c>'
        '<c r="B1" s="0"><f t="shared" ref="B1:B3" si="0">A1*2</f><v>0</v></c></row>'
        '<row r="2"><c r="A2"><v>3</v></c><c r="B2"><f t="shared" si="0"/><v>0</v></c></row>'
        '<row r="3"><c r="A3"><v>4</v></c><c r="B3"><f t="shared" si="0"/></c></row>'
    )


def _shared_formulas(path: Path) -> None:
    _write(path, parts_for(_sheet_around(_plain_sheet_xml().encode())))


def _prefixed(path: Path) -> None:
    body = _plain_sheet_xml()
    for tag in ("row", "c", "f", "v"):
        body = body.replace(f"<{tag} ", f"<x:{tag} ").replace(f"<{tag}>", f"<x:{tag}>")
        body = body.replace(f"</{tag}>", f"</x:{tag}>")
    sheet = f'<x:worksheet xmlns:x="{MAIN}"><x:sheetData>{body}</x:sheetData></x:worksheet>'
    _write(path, parts_for(_HEAD + sheet.encode()))


def _sheet_around(body: bytes) -> bytes:
    return _HEAD + f'<worksheet xmlns="{MAIN}"><sheetData>'.encode() + body + b"</sheetData></worksheet>"


def _write(path: Path, parts: dict[str, bytes]) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, content in parts.items():
            archive.writestr(part, content)


def _with_macros(path: Path) -> None:
    """The rich workbook declared macro-enabled, with an opaque macro part."""
    source = path.with_name("source-of-macros.xlsx")
    _rich_openpyxl(source)
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "[Content_Types].xml":
                content = content.replace(
                    _WORKBOOK_TYPE.encode(), b"application/vnd.ms-excel.sheet.macroEnabled.main+xml"
                ).replace(
                    b"</Types>",
                    b'<Override PartName="/xl/vbaProject.bin" '
                    b'ContentType="application/vnd.ms-office.vbaProject"/></Types>',
                )
            new.writestr(name, content)
        new.writestr("xl/vbaProject.bin", bytes(range(256)) * 8)
    source.unlink()


def _with_pivot(path: Path) -> None:
    """A pivot table with its cache and records, which no library of the corpus writes, around our own sheets.

    Parts as in ECMA-376 Part 1, 18.10 and 12.3 (clause numbers from memory); openpyxl reads them.
    """
    source = path.with_name("source-of-pivot.xlsx")
    book = openpyxl.Workbook()
    data = book.active
    data.title = "Readings"
    for line in (("bus", "kW", "double"), ("A", 10, "=B2*2"), ("B", 20, "=B3*2"), ("A", 5, "=B4*2")):
        data.append(line)
    data["E1"] = "=SUM(C2:C4)+Summary!B4"
    summary = book.create_sheet("Summary")
    for row, line in enumerate((("bus", "Sum of kW"), ("A", 15), ("B", 20), ("Total", 35)), start=1):
        summary.cell(row, 1, line[0])
        summary.cell(row, 2, line[1])
    summary["D1"] = "=B4*2"
    book.save(source)
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name).decode()
            if name == "[Content_Types].xml":
                parts = "".join(
                    f'<Override PartName="/xl/{part}1.xml" ContentType="{_PIVOT_TYPE}.{kind}+xml"/>'
                    for part, kind in _PIVOT_PARTS.items()
                )
                content = content.replace("</Types>", parts + "</Types>")
            if name == "xl/_rels/workbook.xml.rels":
                content = content.replace(
                    "</Relationships>",
                    f'<Relationship Id="rIdPivot" Type="{RELS}/pivotCacheDefinition" '
                    'Target="pivotCache/pivotCacheDefinition1.xml"/></Relationships>',
                )
            if name == "xl/workbook.xml":
                used = f'<pivotCache cacheId="7" xmlns:r="{RELS}" r:id="rIdPivot"/>'
                content = content.replace("</workbook>", f"<pivotCaches>{used}</pivotCaches></workbook>")
            new.writestr(name, content)
        for part in sorted(_PIVOT_FOLDER.rglob("*.*")):
            new.write(part, part.relative_to(_PIVOT_FOLDER).as_posix())
    source.unlink()


@cache
def _saved_by_libreoffice() -> bytes:
    """The rich workbook after LibreOffice opened and saved it, with its own parts and namespaces."""
    office = shutil.which("soffice")
    if office is None:
        pytest.skip("LibreOffice (soffice) is not installed")
    with tempfile.TemporaryDirectory() as folder:
        source, out = Path(folder) / "source.xlsx", Path(folder) / "out"
        _rich_xlsxwriter(source)
        profile = f"-env:UserInstallation=file://{folder}/profile"
        command = [office, "--headless", profile, "--convert-to", "xlsx", "--outdir", str(out), str(source)]
        subprocess.run(command, check=True, timeout=180, capture_output=True)
        return (out / "source.xlsx").read_bytes()


def _libreoffice(path: Path) -> None:
    path.write_bytes(_saved_by_libreoffice())


CORPUS: dict[str, Callable[[Path], None]] = {
    "xlsxwriter.xlsx": _rich_xlsxwriter,
    "openpyxl.xlsx": _rich_openpyxl,
    "shared.xlsx": _shared_formulas,
    "prefixed.xlsx": _prefixed,
    "macros.xlsm": _with_macros,
    "pivot.xlsx": _with_pivot,
    "libreoffice.xlsx": _libreoffice,
}


@pytest.fixture(params=sorted(CORPUS))
def corpus_book(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """One workbook after the other, rich in features."""
    path = tmp_path / request.param
    CORPUS[request.param](path)
    return path


@pytest.fixture
def make_corpus(tmp_path: Path) -> Callable[[str], Path]:
    """Makes one workbook of the corpus by name."""

    def make(name: str) -> Path:
        path = tmp_path / name
        CORPUS[name](path)
        return path

    return make


@pytest.fixture
def rich_book(tmp_path: Path) -> Path:
    """The workbook with charts, pictures, sparklines, comments and arrays."""
    path = tmp_path / "rich.xlsx"
    _rich_xlsxwriter(path)
    return path


@pytest.fixture
def rich_1904(tmp_path: Path) -> Path:
    """A workbook with dates from 1904, a table, a legacy array and protection."""
    path = tmp_path / "rich1904.xlsx"
    _rich_openpyxl(path)
    return path


def _canonical(element: etree._Element) -> tuple[object, ...]:
    return (
        element.tag,
        tuple(sorted(element.attrib.items())),
        element.text or "",
        tuple((_canonical(child), child.tail or "") for child in element),
    )


def sheet_differences(before: bytes, after: bytes) -> dict[str, tuple[object, object]]:
    """Cells whose value differs, by name; fails if anything but cell types and values differs.

    Independent of the code under test: both sheets are parsed as trees.
    """
    trees = [etree.fromstring(data) for data in (before, after)]
    values: list[dict[str, tuple[str, str | None]]] = []
    for tree in trees:
        found = {}
        for cell in tree.iter(f"{{{MAIN}}}c"):
            value = cell.find(f"{{{MAIN}}}v")
            if cell.find(f"{{{MAIN}}}f") is None:
                continue
            found[cell.get("r", "")] = (cell.attrib.pop("t", ""), None if value is None else value.text or "")
            if value is not None:
                cell.remove(value)
        values.append(found)
    assert _canonical(trees[0]) == _canonical(trees[1])
    assert values[0].keys() == values[1].keys()
    return {name: (old, values[1][name]) for name, old in values[0].items() if old != values[1][name]}


@pytest.fixture
def differences() -> Callable[[bytes, bytes], dict[str, tuple[object, object]]]:
    """The independent comparison of two sheets."""
    return sheet_differences


def members_of(path: Path) -> Iterator[tuple[zipfile.ZipInfo, bytes]]:
    """Members of an archive in order."""
    with zipfile.ZipFile(path) as archive:
        for info in archive.infolist():
            yield info, archive.read(info)


@pytest.fixture
def members() -> Callable[[Path], Iterator[tuple[zipfile.ZipInfo, bytes]]]:
    """Members of an archive in order."""
    return members_of
