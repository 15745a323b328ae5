"""The sheet of reasons: added by the smallest edits, refreshed on the next run, never a formula."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from lxml import etree

from xlcalc.files.errors import WorkbookFileError
from xlcalc.recalc.xlsx.package import ReasonRow, WorkbookPackage
from xlcalc.recalc.xlsx.writing.reasons_sheet import HEADINGS, REASONS_PART

MakePackage = Callable[..., Path]
FORMULA = '<row r="1"><c r="A1"><f>1+1</f><v>1</v></c></row>'
ROWS = [
    ReasonRow("Data", "A1", "=1+1", "#NUM!", "the reactor must be > 0 & < 20 %", "Data!B7"),
    ReasonRow("It's", "B2", '=HYPERLINK("x")', "#VALUE!", "=SUM(1,2) is not meant as a formula"),
    ReasonRow("Data", "C3", "+1", "", "_x0041_ line\nbreak \x07 bell"),
]


def _texts(path: Path, name: str) -> list[tuple[str | None, ...]]:
    sheet = openpyxl.load_workbook(path)[name]
    assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)
    return [tuple(cell.value for cell in row) for row in sheet.iter_rows()]


def test_a_sheet_is_added_to_any_workbook(corpus_book: Path, tmp_path: Path, members: Callable) -> None:
    target = tmp_path / ("out" + corpus_book.suffix)
    package = WorkbookPackage.open(corpus_book)
    package.save(target, {}, stamp="s", reasons=ROWS, reasons_name="Open points")
    texts = _texts(target, "Open points")
    assert texts[0] == HEADINGS
    assert texts[1] == ("Data", "A1", "=1+1", "#NUM!", "the reactor must be > 0 & < 20 %", "Data!B7")
    assert texts[2][4] == "=SUM(1,2) is not meant as a formula"
    assert texts[3][4] == "_x005F_x0041_ line\nbreak \N{REPLACEMENT CHARACTER} bell"
    old = {info.filename: data for info, data in members(corpus_book)}
    new = {info.filename: data for info, data in members(target)}
    assert new.keys() - old.keys() == {REASONS_PART}
    changed = {name for name in old if old[name] != new[name]}
    assert changed == {"[Content_Types].xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels"}
    for name in changed:
        before, after = etree.fromstring(old[name]), etree.fromstring(new[name])
        assert len(list(after.iter())) == len(list(before.iter())) + 1
    sheets = WorkbookPackage.open(target).sheets
    assert [sheet.name for sheet in sheets] == [*(s.name for s in package.sheets), "Open points"]
    assert sheets[-1].entry.part == REASONS_PART


def test_the_next_run_refreshes_its_own_sheet(
    make_package: MakePackage, tmp_path: Path, members: Callable
) -> None:
    first, second = tmp_path / "first.xlsx", tmp_path / "second.xlsx"
    WorkbookPackage.open(make_package(FORMULA)).save(first, {}, stamp="s", reasons=ROWS)
    WorkbookPackage.open(first).save(second, {}, stamp="s", reasons=ROWS[:1])
    assert len(_texts(second, "Recalculation")) == 2
    old = {info.filename: data for info, data in members(first)}
    new = {info.filename: data for info, data in members(second)}
    assert {name for name in old if old[name] != new[name]} == {REASONS_PART}
    assert old.keys() == new.keys()


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Data", "Data (2)"),
        ("data", "data (2)"),
        ("a/b:c", "a b c"),
        ("'", "Recalculation"),
        ("x" * 40, "x" * 31),
        ('<&">', '<&">'),
    ],
)
def test_the_name_is_made_valid_and_unique(
    make_package: MakePackage, tmp_path: Path, name: str, expected: str
) -> None:
    target = tmp_path / "out.xlsx"
    WorkbookPackage.open(make_package(FORMULA)).save(target, {}, stamp="s", reasons=[], reasons_name=name)
    assert openpyxl.load_workbook(target).sheetnames == ["Data", expected]


def test_long_texts_and_odd_characters_fit_a_cell(make_package: MakePackage, tmp_path: Path) -> None:
    target = tmp_path / "out.xlsx"
    rows = [ReasonRow("Data", "A1", "=" + "1+" * 40_000, "#N/A", "\ud800\0")]
    WorkbookPackage.open(make_package(FORMULA)).save(target, {}, stamp="s", reasons=rows)
    texts = _texts(target, "Recalculation")
    assert len(texts[1][2] or "") < 32_768
    assert texts[1][4] == "\N{REPLACEMENT CHARACTER}" * 2


def test_other_prefixes_and_encodings_are_kept(make_package: MakePackage, tmp_path: Path) -> None:
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    rels = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    workbook = (
        f'<?xml version="1.0" encoding="UTF-16"?><x:workbook xmlns:x="{main}"><x:sheets>'
        f'<x:sheet xmlns:rel="{rels}" name="Data" sheetId="7" rel:id="rId1"/></x:sheets></x:workbook>'
    ).encode("utf-16")
    path = make_package(FORMULA, **{"xl/workbook.xml": workbook})
    target = tmp_path / "out.xlsx"
    WorkbookPackage.open(path).save(target, {}, stamp="s", reasons=ROWS)
    assert [sheet.name for sheet in WorkbookPackage.open(target).sheets] == ["Data", "Recalculation"]
    text = zipfile.ZipFile(target).read("xl/workbook.xml").decode("utf-16")
    assert f'<x:sheet xmlns:r="{rels}" name="Recalculation" sheetId="8" r:id="rIdReasons1"/>' in text


def test_a_stray_part_of_the_same_name_is_not_overwritten(make_package: MakePackage, tmp_path: Path) -> None:
    path = make_package(FORMULA, **{REASONS_PART: b"<worksheet/>"})
    with pytest.raises(WorkbookFileError, match="belongs to no sheet"):
        WorkbookPackage.open(path).save(tmp_path / "out.xlsx", {}, stamp="s", reasons=ROWS)
