"""The quick reader of formula cells against the thorough one, and what both refuse."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from xlcalc.files.errors import UnsafePartError
from xlcalc.recalc.cellnames import cell_name
from xlcalc.recalc.xlsx.cells import FormulaCell, scan_formulas
from xlcalc.recalc.xlsx.sheetchecks import check_references
from xlcalc.recalc.xlsx.sheetscan import scan_sheet

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"

_STYLE = st.sampled_from(["", ' s="1"', ' s="2" cm="1"', ' t="str"', ' t="b" s="3"', ' t="e"', ' t="n"'])
_FORMULA = st.sampled_from(
    [
        "",
        "<f>A1+1</f>",
        "<f>IF(A1&lt;2,&quot;a&quot;,1)</f>",
        '<f t="shared" si="0"/>',
        '<f t="shared" ref="A1:A9" si="0">B1</f>',
        '<f t="array" ref="B2:C3">x</f>',
        '<f t="dataTable" ref="B2:C3" dt2D="1"/>',
        '<f xml:space="preserve"> 1 </f>',
        "<f></f>",
        "<f/>",
    ]
)
_VALUE = st.sampled_from(
    ["", "<v>1</v>", "<v>-2.5E-3</v>", "<v>a &amp; b&#10;c</v>", "<v/>", "<v></v>", "<v>#N/A</v>"]
)
_CELL = st.tuples(_STYLE, _FORMULA, _VALUE)
_ROWS = st.dictionaries(
    st.integers(1, 30), st.dictionaries(st.integers(1, 40), _CELL, max_size=6), max_size=6
)


def _sheet(rows: dict[int, dict[int, tuple[str, str, str]]], gap: str) -> bytes:
    lines = []
    for number, cells in sorted(rows.items()):
        inside = gap.join(
            f'<c r="{cell_name(number, col)}"{style}>{formula}{gap}{value}</c>'
            for col, (style, formula, value) in sorted(cells.items())
        )
        lines.append(f'<row r="{number}">{inside}</row>' if inside else f'<row r="{number}"/>')
    return f'<worksheet xmlns="{MAIN}"><sheetData>{gap.join(lines)}</sheetData></worksheet>'.encode()


def _without_place(cell: FormulaCell) -> FormulaCell:
    return cell._replace(start=0)


@settings(max_examples=150, deadline=None)
@given(rows=_ROWS, gap=st.sampled_from(["", "\n  "]))
def test_the_quick_and_the_thorough_reader_see_the_same(
    rows: dict[int, dict[int, tuple[str, str, str]]], gap: str
) -> None:
    plain = _sheet(rows, gap)
    formulas, scan = scan_formulas(plain)
    assert scan is None
    commented = plain.replace(b"</worksheet>", b"<!-- thorough --></worksheet>")
    thorough, scan = scan_formulas(commented)
    assert (scan is not None) == bool(formulas)
    assert formulas == thorough
    prefixed = plain.replace(b"<", b"<x:").replace(b"<x:/", b"</x:").replace(b"xmlns=", b"xmlns:x=")
    assert [_without_place(c) for c in scan_formulas(prefixed)[0]] == [_without_place(c) for c in formulas]


def test_the_places_found_are_those_of_the_elements() -> None:
    sheet = (
        f'<worksheet xmlns="{MAIN}"><cols><col min="2" max="3" style="4"/></cols><sheetData>'
        '<row r="2" a="&gt;>"><c r="A2" b=">"/><c r="B2"><f>A2</f><v>1</v></c></row><row r="3"/>'
        "</sheetData></worksheet>"
    ).encode()
    scan = scan_sheet(sheet)
    row, empty = scan.rows[2], scan.rows[3]
    assert sheet[row.start : row.tag_end] == b'<row r="2" a="&gt;>">'
    assert sheet[row.end - 6 : row.end] == b"</row>"
    assert sheet[empty.start : empty.end] == b'<row r="3"/>'
    assert empty.self_closing
    assert not row.self_closing
    assert sheet[row.cells[1].start : row.cells[1].end] == b'<c r="A2" b=">"/>'
    cell = row.cells[2]
    assert sheet[cell.start : cell.end] == b'<c r="B2"><f>A2</f><v>1</v></c>'
    assert sheet[slice(*cell.formula)] == b"<f>A2</f>"
    assert sheet[slice(*cell.value)] == b"<v>1</v>"
    assert sheet[scan.data_end :].startswith(b"</sheetData>")
    assert scan.column_styles == [(2, 3, "4")]


@pytest.mark.parametrize(
    "cells",
    [
        '<c r="XFE1"><f>1</f></c>',
        '<c r="A1048577"><f>1</f></c>',
        '<c r="A0"><f>1</f></c>',
        '<c r="AAAA1"><f>1</f></c>',
        '<c r="A99999999999999999999"><f>1</f></c>',
        '<c r=""><f>1</f></c>',
        '<c r="A1"><f>1</f></c><c r="A1"><f>2</f></c>',
        '<c r="A1"><f t="array" ref="A1:XFE9">1</f></c>',
        '<c r="A1"><f t="array" ref="A1:XFD1048576">1</f></c>',
        '<c r="A1"><f t="array" ref="nonsense">1</f></c>',
        '<c r="A1"><f t="unheard">1</f></c>',
    ],
)
@pytest.mark.parametrize("tail", ["", "<!-- thorough -->"])
def test_absurd_references_are_refused(cells: str, tail: str) -> None:
    rows = f'<row r="1">{cells}</row>'
    sheet = f'<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData>{tail}</worksheet>'.encode()
    with pytest.raises(UnsafePartError):
        scan_formulas(sheet)


@pytest.mark.parametrize(
    "cell",
    [
        '<c r="A1"><f>1</f><v>1</v><v>2</v></c>',
        '<c r="A1"><f>1</f><f>2</f><v>1</v></c>',
        '<c r="A1"><f>1</f><v><v>1</v></v></c>',
        '<c r="A1"><f>1<c/></f></c>',
    ],
)
def test_cells_that_can_be_read_in_two_ways_are_refused(cell: str) -> None:
    sheet = f'<worksheet xmlns="{MAIN}"><sheetData><row r="1">{cell}</row></sheetData></worksheet>'
    with pytest.raises(UnsafePartError):
        scan_formulas(sheet.encode())


def test_another_root_is_refused() -> None:
    sheet = (
        f'<x:book xmlns:x="{MAIN}"><x:sheetData><x:row><x:c><x:f>1</x:f></x:c></x:row></x:sheetData></x:book>'
    )
    with pytest.raises(UnsafePartError, match="not the part of a worksheet"):
        scan_formulas(sheet.encode())


@pytest.mark.parametrize(
    "inside",
    [
        '<sheetData><row r="1048577"/></sheetData>',
        '<sheetData><row spans="1:2" r="4294967296"/></sheetData>',
        '<sheetData><row r="1"><c s="1" r="XFE1"/></row></sheetData>',
        '<sheetData><row r="1"><c r="A1048577" t="n"><v>1</v></c></row></sheetData>',
        '<sheetData/><mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>',
        '<sheetData/><mergeCells><mergeCell ref="A1:ZZZZ9"/></mergeCells>',
        '<sheetData/><hyperlinks><hyperlink ref="A1:XFD9999" location="A1"/></hyperlinks>',
    ],
)
@pytest.mark.parametrize("prefix", ["", "x:"])
def test_what_would_exhaust_a_reader_is_refused(inside: str, prefix: str) -> None:
    prefixed = inside.replace("</", "<//").replace("<", f"<{prefix}").replace(f"<{prefix}//", f"</{prefix}")
    with pytest.raises(UnsafePartError):
        check_references(prefixed.encode())


@pytest.mark.parametrize(
    "cell", ["A1", "XFD1048576", "XFA1", "ZZ1000000", "B1048575", "XEZ999999", "WZZ1039999"]
)
def test_the_corners_of_a_worksheet_are_accepted(cell: str) -> None:
    row = cell.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    check_references(f'<row r="{row}"><c r="{cell}"/></row><mergeCell ref="A1:XFD1"/>'.encode())
