"""Editing the XML of a sheet."""

from __future__ import annotations

import pytest

from xlcalc.core.errors import InputError
from xlcalc.recalc.xlsx.archive.xmlparts import parse_small
from xlcalc.workbooks.kit.editing.sheet_xml import SheetXml
from xlcalc.workbooks.kit.editing.table_rows import Stretch, TableElement, replace_rows

NS = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def sheet(rows: str, after: str = "") -> SheetXml:
    text = f'<worksheet xmlns="{NS}"><dimension ref="A1:B3"/><sheetData>{rows}</sheetData>{after}</worksheet>'
    return SheetXml(text.encode())


def written(tree: SheetXml) -> str:
    text = tree.to_bytes().decode()
    return text[text.index("<sheetData") : text.index("</sheetData>")].replace(f' xmlns="{NS}"', "")


TABLE = (
    f'<table xmlns="{NS}" displayName="T" ref="A1:B3"><autoFilter ref="A1:B3"/><tableColumns count="2">'
    '<tableColumn id="1" name="Tag"/><tableColumn id="2" name="Twice">'
    "<calculatedColumnFormula>2*T[[#This Row],[Tag]]</calculatedColumnFormula></tableColumn>"
    "</tableColumns></table>"
)
ROWS = (
    '<row r="1" spans="1:3"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c></row>'
    '<row r="2"><c r="A2" s="4"><v>1</v></c><c r="B2" s="5"><f>2*T[[#This Row],[Tag]]</f><v>2</v></c></row>'
    '<row r="3" ht="20"><c r="A3" s="4"><v>2</v></c><c r="B3" s="5"><f t="shared" si="0"/><v>4</v></c>'
    '<c r="C3"><v>7</v></c></row>'
)


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        (3.0, '<c r="A2" s="4"><v>3</v></c>'),
        (0.1, '<c r="A2" s="4"><v>0.1</v></c>'),
        (True, '<c r="A2" s="4" t="b"><v>1</v></c>'),
        (None, '<c r="A2" s="4"/>'),
        ("a<b", '<c r="A2" s="4" t="inlineStr"><is><t xml:space="preserve">a&lt;b</t></is></c>'),
    ],
)
def test_a_value_keeps_the_style_of_its_cell(value: float | str | bool | None, cell: str) -> None:
    tree = sheet(ROWS)
    tree.set_value(2, 1, value)
    assert cell in written(tree)


def test_missing_rows_and_cells_are_put_in_order() -> None:
    tree = sheet('<row r="1"><c r="C1"/></row><row r="5"/>')
    tree.set_value(1, 2, 1.0)
    tree.set_value(3, 1, 2.0)
    tree.set_value(9, 1, 3.0)
    text = written(tree)
    assert text.index('r="B1"') < text.index('r="C1"') < text.index('r="A3"') < text.index('r="5"')
    assert text.index('r="5"') < text.index('r="A9"')


def test_results_of_formulas_and_arrays_are_dropped_but_not_constants() -> None:
    tree = sheet(
        '<row r="1"><c r="A1" t="str"><f>B1</f><v>x</v></c><c r="B1"><v>1</v></c>'
        '<c r="C1"><f t="array" ref="C1:D2">F(1)</f><v>5</v></c><c r="D1" t="str"><v>y</v></c></row>'
        '<row r="2"><c r="C2"><v>6</v></c><c r="E2"><v>8</v></c></row>'
    )
    tree.drop_results()
    text = written(tree)
    assert "<v>1</v>" in text
    assert "<v>8</v>" in text
    assert all(f"<v>{old}</v>" not in text for old in ("x", "5", "y", "6"))


@pytest.mark.parametrize("count", [1, 2, 5])
def test_rows_of_a_table_are_replaced_and_their_surroundings_kept(count: int) -> None:
    validation = '<dataValidations><dataValidation sqref="A2:A3"/></dataValidations>'
    tree = sheet(ROWS, validation)
    table = TableElement(parse_small(TABLE.encode()))
    replace_rows(tree, table, [{"tag": float(10 + i)} for i in range(count)])
    text = written(tree)
    assert table.root.get("ref") == f"A1:B{1 + count}"
    assert text.count("<f>2*T[[#This Row],[Tag]]</f>") == count
    assert [f"<v>{10 + i}</v>" in text for i in range(count)] == [True] * count
    assert '<c r="C3"><v>7</v></c>' in text
    assert f'sqref="A2:A{1 + count}"'.encode() in tree.to_bytes()
    assert 's="5"' in text[text.index(f'r="B{1 + count}"') :][:20]


@pytest.mark.parametrize(
    ("rows", "table", "values", "named"),
    [
        (ROWS, TABLE.replace('ref="A1:B3">', 'ref="A1:B3" totalsRowCount="1">', 1), [{}], "totals row"),
        (ROWS, TABLE, [{"twice": 1.0}], "twice"),
        (ROWS, TABLE.replace("2*T[[#This Row],[Tag]]", "2*A2"), [{"tag": 1.0}], "Twice"),
        (ROWS + '<row r="4"><c r="A4"><v>1</v></c></row>', TABLE, [{"tag": 1.0}] * 3, "row 4"),
    ],
)
def test_what_cannot_be_extended_for_certain_is_refused(
    rows: str, table: str, values: list[dict[str, float]], named: str
) -> None:
    with pytest.raises(InputError, match=named):
        replace_rows(sheet(rows), TableElement(parse_small(table.encode())), values)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("A4:A8", "A4:A40"),
        ("$A$1:$D$8", "$A$1:$D$40"),
        ("A5:A8", "A5:A8"),
        ("A4:A9", "A4:A9"),
        ("A4:Z8", "A4:Z8"),
        ("Other!A4:A8", "Other!A4:A8"),
        ("A4:B8 C4:C8", "A4:B40 C4:C40"),
    ],
)
def test_only_areas_over_the_whole_table_move(before: str, after: str) -> None:
    assert Stretch(range(1, 5), 3, 8, 40).areas(before) == after
