"""The bytes of a sheet before and after, for every spelling that XML allows."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from xlcalc.core.errors import InputError
from xlcalc.files.errors import UnsafePartError
from xlcalc.recalc.cellnames import CellRange, cell_name
from xlcalc.recalc.xlsx.cells import scan_formulas
from xlcalc.recalc.xlsx.writing.patch import SheetPatch, patch_sheet
from xlcalc.schema.values import CellError, ErrorCode

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OPEN = f'<worksheet xmlns="{MAIN}"><sheetData>'
CLOSE = "</sheetData></worksheet>"


def patched(sheet: str, values: dict, spills: dict | None = None) -> str:
    data = sheet.encode()
    formulas, scan = scan_formulas(data)
    return patch_sheet(data, formulas, scan, SheetPatch(values, spills or {}), "S").decode()


def body(rows: str, values: dict, spills: dict | None = None) -> str:
    result = patched(OPEN + rows + CLOSE, values, spills)
    assert result.startswith(OPEN)
    assert result.endswith(CLOSE)
    return result[len(OPEN) : -len(CLOSE)]


A1 = (1, 1)


@pytest.mark.parametrize(
    ("cell", "value", "expected"),
    [
        ('<c r="A1"><f>1+1</f><v>1</v></c>', 2.0, '<c r="A1"><f>1+1</f><v>2</v></c>'),
        ('<c r="A1"><f>1+1</f></c>', 2.5, '<c r="A1"><f>1+1</f><v>2.5</v></c>'),
        ('<c r="A1"><f>1+1</f><v/></c>', 1e300, '<c r="A1"><f>1+1</f><v>1e+300</v></c>'),
        ('<c r="A1"><f>x</f><v></v></c>', -0.0, '<c r="A1"><f>x</f><v>0</v></c>'),
        (
            '<c r="A1" s="3" t="str" cm="1" vm="2"><f>x</f><v>a</v></c>',
            3.0,
            '<c r="A1" s="3" cm="1" vm="2"><f>x</f><v>3</v></c>',
        ),
        (
            '<c r="A1" s="3"><f a="/>"/><v>1</v></c>',
            "a<b & c",
            '<c r="A1" s="3" t="str"><f a="/>"/><v>a&lt;b &amp; c</v></c>',
        ),
        (
            '<c r="A1" t="e"><f>x</f><v>#N/A</v></c>',
            " pad",
            '<c r="A1" t="str"><f>x</f><v xml:space="preserve"> pad</v></c>',
        ),
        ('<c r="A1" t="n"><f>x</f><v>1</v></c>', True, '<c r="A1" t="b"><f>x</f><v>1</v></c>'),
        ('<c r="A1" t="n"><f>x</f><v>1</v></c>', 4.0, '<c r="A1" t="n"><f>x</f><v>4</v></c>'),
        (
            '<c r="A1"><f>x</f><v>1</v></c>',
            CellError(ErrorCode.DIV0, "no load"),
            '<c r="A1" t="e"><f>x</f><v>#DIV/0!</v></c>',
        ),
        ('<c r="A1" t="str"><f>x</f><v>a</v></c>', None, '<c r="A1"><f>x</f></c>'),
        ('<c r="A1"><f xml:space="preserve"> 1 + 1 </f><v>1</v></c>', 2.0, None),
        ('<c r="A1"><f t="array" ref="A1">x</f><v>1</v><extLst><ext/></extLst></c>', 2.0, None),
        ("<c r='A1' t='str'><f>x</f><v>1</v></c>", 2.0, "<c r='A1'><f>x</f><v>2</v></c>"),
        ('<c s="1" r="A1" ><f >x</f ><v >1</v ></c >', 2.0, '<c s="1" r="A1" ><f >x</f ><v>2</v></c >'),
        ('<c r="A1">\n <f>x</f>\n <v>1</v>\n</c>', 2.0, None),
        ('<c r="A1"><f>x</f><!-- <v>9</v> --><v>1</v></c>', 2.0, None),
        ('<c r="A1"><f><![CDATA[IF(A2<3,"</f><v>7</v></c>",1)]]></f><v>1</v></c>', 2.0, None),
        (
            '<c r="A1"><?pi <v>9</v>?><f>x</f><v><![CDATA[1]]></v></c>',
            2.0,
            '<c r="A1"><?pi <v>9</v>?><f>x</f><v>2</v></c>',
        ),
    ],
)
def test_only_type_and_value_of_a_formula_cell_change(cell: str, value: object, expected: str | None) -> None:
    expected = cell.replace("<v>1</v>", "<v>2</v>") if expected is None else expected
    assert body(f'<row r="1">{cell}</row>', {A1: value}) == f'<row r="1">{expected}</row>'


@pytest.mark.parametrize(
    ("stored", "value"),
    [
        ('<c r="A1"><f>x</f><v>0.10</v></c>', 0.1),
        ('<c r="A1"><f>x</f><v>1E2</v></c>', 100.0),
        ('<c r="A1" t="str"><f>x</f><v>a&#65;&amp;&quot;_x000D_</v></c>', 'aA&"\r'),
        ('<c r="A1" t="str"><f>x</f><v></v></c>', ""),
        ('<c r="A1" t="str"><f>x</f><v/></c>', ""),
        ('<c r="A1" t="b"><f>x</f><v>1</v></c>', True),
        ('<c r="A1" t="e"><f>x</f><v>#REF!</v></c>', CellError(ErrorCode.REF, "any reason")),
        ('<c r="A1" t="str"><f>x</f><v><![CDATA[a<b]]></v></c>', "a<b"),
    ],
)
def test_a_cell_whose_value_is_the_same_keeps_its_bytes(stored: str, value: object) -> None:
    rows = f'<row r="1">{stored}</row>'
    assert body(rows, {A1: value}) == rows


@pytest.mark.parametrize(
    ("stored", "value"),
    [
        ('<c r="A1"><f>x</f><v>1</v></c>', True),
        ('<c r="A1" t="b"><f>x</f><v>1</v></c>', 1.0),
        ('<c r="A1" t="str"><f>x</f><v>1</v></c>', 1.0),
        ('<c r="A1" t="str"><f>x</f><v>#N/A</v></c>', CellError(ErrorCode.NA)),
        ('<c r="A1" t="s"><f>x</f><v>1</v></c>', 1.0),
        ('<c r="A1" t="e"><f>x</f><v>#SPILL!</v></c>', CellError(ErrorCode.VALUE)),
        ('<c r="A1"><f>x</f><v>0.1</v></c>', math.nextafter(0.1, 1)),
    ],
)
def test_a_value_of_another_kind_is_a_change(stored: str, value: object) -> None:
    rows = f'<row r="1">{stored}</row>'
    assert body(rows, {A1: value}) != rows


def test_cells_that_only_look_like_cells_are_left_alone() -> None:
    sheet = (
        f'<worksheet xmlns="{MAIN}"><!-- <sheetData><row r="1"><c r="A1"><f>x</f></c></row></sheetData> -->'
        '<sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>&lt;c r="B1"&gt;&lt;f&gt;</t></is></c>'
        '<c r="B1"><f>x</f><v>1</v></c></row></sheetData>'
        '<extLst><ext xmlns:o="urn:other"><o:sheetData><o:row r="1"><o:c r="B1"><o:f>x</o:f></o:c></o:row>'
        '</o:sheetData><c xmlns="urn:other" r="B1"><f>y</f></c></ext></extLst></worksheet>'
    )
    assert patched(sheet, {(1, 2): 2.0}) == sheet.replace("<v>1</v>", "<v>2</v>")


def test_a_prefix_is_kept_in_new_elements() -> None:
    sheet = (
        f'<x:worksheet xmlns:x="{MAIN}"><x:sheetData><x:row r="1">'
        '<x:c r="A1"><x:f t="array" ref="A1:B2">m</x:f></x:c></x:row>'
        "</x:sheetData></x:worksheet>"
    )
    result = patched(sheet, {(1, 1): 1.0, (1, 2): "b", (2, 1): True, (2, 2): 4.0})
    assert result == sheet.replace(
        "</x:f></x:c></x:row>",
        '</x:f><x:v>1</x:v></x:c><x:c r="B1" t="str"><x:v>b</x:v></x:c></x:row>'
        '<x:row r="2"><x:c r="A2" t="b"><x:v>1</x:v></x:c><x:c r="B2"><x:v>4</x:v></x:c></x:row>',
    )


def test_cells_and_rows_without_references_are_counted() -> None:
    rows = "<row><c><v>5</v></c><c><f>A1</f><v>5</v></c></row><row/><row><c><f>1</f><v>5</v></c></row>"
    expected = rows.replace("<f>A1</f><v>5</v>", "<f>A1</f><v>6</v>").replace(
        "<f>1</f><v>5</v>", "<f>1</f><v>7</v>"
    )
    assert body(rows, {(1, 2): 6.0, (3, 1): 7.0}) == expected


ARRAY = '<c r="B2"><f t="array" ref="B2:C4">m</f><v>1</v></c>'


def test_members_of_an_array_are_added_in_order() -> None:
    rows = (
        f'<row r="1" spans="1:4"><c r="A1"/></row><row r="2" spans="1:4" ht="15"><c r="A2"/>{ARRAY}'
        '<c r="D2"><v>8</v></c></row>'
        '<row r="4" spans="1:4"/><row r="9"><c r="A9"/></row>'
    )
    values = {(row, col): float(row * 10 + col) for row in (2, 3, 4) for col in (2, 3)}
    assert body(rows, values) == (
        '<row r="1" spans="1:4"><c r="A1"/></row>'
        '<row r="2" ht="15"><c r="A2"/><c r="B2"><f t="array" ref="B2:C4">m</f><v>22</v></c>'
        '<c r="C2"><v>23</v></c><c r="D2"><v>8</v></c></row>'
        '<row r="3"><c r="B3"><v>32</v></c><c r="C3"><v>33</v></c></row>'
        '<row r="4"><c r="B4"><v>42</v></c><c r="C4"><v>43</v></c></row><row r="9"><c r="A9"/></row>'
    )


def test_old_members_keep_their_style_and_rows_their_spans() -> None:
    rows = (
        f'<row r="2" spans="2:3">{ARRAY}<c r="C2" s="4"/></row>'
        '<row r="3" spans="2:3"><c r="B3" t="s" s="5"><v>0</v></c>'
        '<c r="C3" t="inlineStr"><is><t>a</t></is></c></row>'
    )
    assert body(rows, {(2, 3): "x", (3, 2): 1.0, (3, 3): 2.0}) == (
        f'<row r="2" spans="2:3">{ARRAY}<c r="C2" s="4" t="str"><v>x</v></c></row>'
        '<row r="3" spans="2:3"><c r="B3" s="5"><v>1</v></c><c r="C3"><v>2</v></c></row>'
    )


COLS = '<cols><col min="3" max="3" width="9" style="7"/></cols>'


def test_new_cells_take_the_style_that_the_place_shows() -> None:
    sheet = (
        f'<worksheet xmlns="{MAIN}"><dimension ref="B2"/>{COLS}'
        f'<sheetData><row r="2">{ARRAY}</row><row r="3" s="2" customFormat="1"/></sheetData></worksheet>'
    )
    values = {(2, 3): 1.0, (3, 2): 2.0, (3, 3): 3.0, (4, 3): 4.0}
    assert patched(sheet, values) == (
        f'<worksheet xmlns="{MAIN}"><dimension ref="B2:C4"/>{COLS}'
        f'<sheetData><row r="2">{ARRAY}<c r="C2" s="7"><v>1</v></c></row>'
        '<row r="3" s="2" customFormat="1">'
        '<c r="B3" s="2"><v>2</v></c><c r="C3" s="2"><v>3</v></c></row>'
        '<row r="4"><c r="C4" s="7"><v>4</v></c></row></sheetData></worksheet>'
    )


DYNAMIC = '<c r="B2" cm="1"><f t="array" ref="B2:C4">m</f><v>1</v></c>'


def test_a_dynamic_array_takes_another_range_and_clears_the_old_one() -> None:
    rows = (
        f'<row r="2">{DYNAMIC}<c r="C2" s="1"><v>2</v></c></row>'
        '<row r="3"><c r="B3"><v>3</v></c><c r="C3" t="str"><v>t</v></c></row>'
        '<row r="4"><c r="C4"><f>1</f><v>1</v></c></row>'
    )
    assert body(rows, {(2, 2): 9.0, (3, 2): 8.0}, {(2, 2): CellRange(2, 2, 3, 2)}) == (
        '<row r="2"><c r="B2" cm="1"><f t="array" ref="B2:B3">m</f><v>9</v></c><c r="C2" s="1"></c></row>'
        '<row r="3"><c r="B3"><v>8</v></c><c r="C3"></c></row>'
        '<row r="4"><c r="C4"><f>1</f><v>1</v></c></row>'
    )


def test_an_array_never_overwrites_what_stands_in_its_way() -> None:
    rows = f'<row r="2">{DYNAMIC}</row><row r="5"><c r="B5"><v>7</v></c></row>'
    with pytest.raises(InputError, match="B5"):
        body(rows, {(2, 2): 9.0, (5, 2): 7.0}, {(2, 2): CellRange(2, 2, 5, 2)})


def test_cells_are_not_added_to_a_sheet_out_of_order() -> None:
    rows = f'<row r="3"><c r="A3"/></row><row r="2">{ARRAY}</row>'
    with pytest.raises(UnsafePartError, match="out of order"):
        body(rows, {(4, 2): 9.0})
    assert "<v>9</v>" in body(rows, {(2, 2): 9.0})


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_reading_few_rows_and_reading_all_rows_give_the_same_bytes(data: st.DataObject) -> None:
    """The quick way through a plain sheet against the thorough one, which a comment switches on."""
    top, left = data.draw(st.integers(1, 6)), data.draw(st.integers(1, 4))
    corner = (top, left)
    old = CellRange(top, left, top + data.draw(st.integers(0, 3)), left + data.draw(st.integers(0, 2)))
    new = CellRange(top, left, top + data.draw(st.integers(0, 4)), left + data.draw(st.integers(0, 3)))
    source = data.draw(st.randoms(use_true_random=False))
    rows = []
    for row in range(1, 12):
        cells = ""
        for col in range(1, 9):
            if (row, col) == corner:
                formula = f'<f t="array" ref="{old.name}">m</f>'
                cells += f'<c r="{cell_name(row, col)}" cm="1">{formula}<v>1</v></c>'
            elif old.contains(row, col):
                cells += source.choice(["", f'<c r="{cell_name(row, col)}"><v>3</v></c>'])
            elif not new.contains(row, col):
                kind = source.choice(["", "", "<v>5</v>", "<f>1</f>"])
                cells += f'<c r="{cell_name(row, col)}">{kind}</c>' if kind else ""
        tag = f'<row r="{row}"' + source.choice(["", ' spans="1:8"'])
        if cells or source.random() < 0.5:
            rows.append(f"{tag}>{cells}</row>" if cells else f"{tag}/>")
    values = {
        (row, col): float(row * col)
        for row in range(new.first_row, new.last_row + 1)
        for col in range(new.first_col, new.last_col + 1)
    } | {corner: 9.0}
    sheet = OPEN + "".join(rows) + CLOSE
    quick = patched(sheet, values, {corner: new})
    thorough = patched(sheet + "<!-- thorough -->", values, {corner: new})
    assert quick + "<!-- thorough -->" == thorough
    formulas, _ = scan_formulas(quick.encode())
    assert {cell.position: cell.ref for cell in formulas}[corner] == new
