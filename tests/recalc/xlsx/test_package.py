"""Whole workbooks: what stays identical, what changes, and who can read the result."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
import xlsxwriter

from xlcalc.core.errors import InputError
from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.xlsx.package import SheetPatch, WorkbookPackage, read_stamp
from xlcalc.schema.values import CellError, ErrorCode

STAMP = "xlcalc 0.0 2030-01-31T10:00Z"


def _all_new(package: WorkbookPackage) -> dict[str, SheetPatch]:
    return {
        sheet.name: SheetPatch({cell.position: cell.row + cell.col / 7 for cell in sheet.formulas})
        for sheet in package.sheets
        if sheet.formulas
    }


def test_every_other_part_stays_identical_and_only_values_of_formulas_change(
    corpus_book: Path, tmp_path: Path, members: Callable, differences: Callable
) -> None:
    package = WorkbookPackage.open(corpus_book)
    target = tmp_path / ("out" + corpus_book.suffix)
    package.save(target, _all_new(package), stamp=STAMP)
    changed_parts = {sheet.entry.part: sheet for sheet in package.sheets if sheet.formulas}
    assert changed_parts
    old, new = list(members(corpus_book)), list(members(target))
    assert [info.filename for info, _ in old] == [info.filename for info, _ in new]
    for (old_info, old_data), (new_info, new_data) in zip(old, new, strict=True):
        for attribute in ("compress_type", "date_time", "external_attr", "create_system", "comment"):
            assert getattr(old_info, attribute) == getattr(new_info, attribute)
        sheet = changed_parts.get(old_info.filename)
        if sheet is None:
            assert old_data == new_data
            assert (old_info.flag_bits, old_info.extra) == (new_info.flag_bits, new_info.extra)
        else:
            assert len(differences(old_data, new_data)) == len(sheet.formulas)
    assert read_stamp(target) == STAMP
    assert zipfile.ZipFile(target).testzip() is None


def test_openpyxl_and_pandas_read_the_numbers(corpus_book: Path, tmp_path: Path) -> None:
    package = WorkbookPackage.open(corpus_book)
    target = tmp_path / ("out" + corpus_book.suffix)
    results = _all_new(package)
    package.save(target, results, stamp=STAMP)
    book = openpyxl.load_workbook(target, data_only=True)
    frames = pd.read_excel(target, sheet_name=None, header=None, engine="openpyxl")
    for name, patch in results.items():
        for (row, col), value in patch.values.items():
            assert book[name].cell(row, col).value == value
            assert frames[name].iat[row - 1, col - 1] == value


def test_saving_with_the_values_it_has_changes_no_part(
    corpus_book: Path, tmp_path: Path, members: Callable
) -> None:
    package = WorkbookPackage.open(corpus_book)
    same = {
        sheet.name: SheetPatch(
            {cell.position: cell.cached for cell in sheet.formulas if cell.cached is not None}
        )
        for sheet in package.sheets
        if sheet.formulas
    }
    target = tmp_path / ("out" + corpus_book.suffix)
    package.save(target, same, stamp=STAMP)
    assert [data for _, data in members(corpus_book)] == [data for _, data in members(target)]


def test_what_a_rich_workbook_tells(rich_book: Path, rich_1904: Path) -> None:
    package = WorkbookPackage.open(rich_book)
    assert [(sheet.name, sheet.entry.state, sheet.entry.kind) for sheet in package.sheets] == [
        ("Drive data", "visible", "worksheet"),
        ("Été & 'co' 2", "visible", "worksheet"),
        ("hidden", "hidden", "worksheet"),
        ("Plot", "visible", "chartsheet"),
    ]
    assert (package.date1904, package.macro_enabled, package.stamp) == (False, False, None)
    cells = {cell.name: cell for cell in package.sheet("Drive data").formulas}
    assert cells["B2"].cached == 3.0
    assert cells["C2"].cached == "low"
    assert cells["D2"].cached is False
    assert cells["F1"].cached == CellError(ErrorCode.DIV0)
    assert (cells["H1"].kind, cells["H1"].dynamic, cells["H1"].ref) == ("array", False, CellRange(1, 8, 3, 9))
    assert (cells["K1"].kind, cells["K1"].dynamic, cells["K1"].ref) == (
        "array",
        True,
        CellRange(1, 11, 3, 11),
    )
    assert WorkbookPackage.open(rich_1904).date1904


def test_macro_workbooks_are_told_apart(corpus_book: Path) -> None:
    assert WorkbookPackage.open(corpus_book).macro_enabled == (corpus_book.suffix == ".xlsm")


def test_a_result_can_be_recalculated_again(rich_book: Path, tmp_path: Path) -> None:
    first, second = tmp_path / "first.xlsx", tmp_path / "second.xlsx"
    package = WorkbookPackage.open(rich_book)
    package.save(first, _all_new(package), stamp="one")
    again = WorkbookPackage.open(first)
    assert again.stamp == "one"
    again.save(second, {}, stamp="two")
    assert WorkbookPackage.open(second).stamp == "two"
    assert [c.cached for c in again.sheets[0].formulas] == [
        c.cached for c in WorkbookPackage.open(second).sheets[0].formulas
    ]


def test_a_dynamic_array_grows_and_shrinks(rich_book: Path, tmp_path: Path) -> None:
    package = WorkbookPackage.open(rich_book)
    target = tmp_path / "grown.xlsx"
    values = {(row, 11): float(row * 10) for row in range(1, 21)}
    package.save(target, {"Drive data": SheetPatch(values, {(1, 11): CellRange(1, 11, 20, 11)})}, stamp=STAMP)
    sheet = openpyxl.load_workbook(target, data_only=True)["Drive data"]
    assert [sheet.cell(row, 11).value for row in range(1, 22)] == [*(10.0 * r for r in range(1, 21)), None]
    grown = WorkbookPackage.open(target)
    assert {c.name: c.ref for c in grown.sheets[0].formulas}["K1"] == CellRange(1, 11, 20, 11)
    smaller = tmp_path / "smaller.xlsx"
    grown.save(
        smaller,
        {"Drive data": SheetPatch({(1, 11): 1.0, (2, 11): 2.0}, {(1, 11): CellRange(1, 11, 2, 11)})},
        stamp=STAMP,
    )
    sheet = openpyxl.load_workbook(smaller, data_only=True)["Drive data"]
    assert [sheet.cell(row, 11).value for row in range(1, 22)] == [1.0, 2.0, *([None] * 19)]


@pytest.mark.parametrize(
    ("patch", "words"),
    [
        (SheetPatch({(1, 1): 1.0}), "a cell with a formula"),
        (SheetPatch({(1, 2): float("nan")}), "not finite"),
        (SheetPatch({(1, 2): "a\x01b"}), "control characters"),
        (SheetPatch({(1, 2): "x" * 32_768}), "longer than 32767"),
        (SheetPatch({(1, 8): 1.0}, {(1, 8): CellRange(1, 8, 5, 9)}), "fixed size"),
        (SheetPatch({(1, 2): 1.0}, {(1, 2): CellRange(1, 2, 2, 2)}), "array formula"),
        (SheetPatch({(1, 11): 1.0, (1, 13): 2.0, (1, 16): 2.0}), "inside an array"),
        (SheetPatch({}, {(1, 11): CellRange(1, 11, 2, 11)}), "a value for the formula cell"),
    ],
)
def test_values_for_other_cells_and_impossible_values_are_refused(
    rich_book: Path, tmp_path: Path, patch: SheetPatch, words: str
) -> None:
    target = tmp_path / "out.xlsx"
    with pytest.raises(InputError, match=words):
        WorkbookPackage.open(rich_book).save(target, {"Drive data": patch}, stamp=STAMP)
    assert not target.exists()


@pytest.mark.parametrize("stamp", ["", "Ü", "a\nb", "x" * 1001])
def test_stamps_are_short_printable_ascii(rich_book: Path, tmp_path: Path, stamp: str) -> None:
    with pytest.raises(InputError, match="stamp"):
        WorkbookPackage.open(rich_book).save(tmp_path / "out.xlsx", {}, stamp=stamp)


@pytest.mark.parametrize("end", [(1, 13), (7, 11)])
def test_an_array_over_a_constant_or_a_formula_is_refused_with_its_place(
    tmp_path: Path, end: tuple[int, int]
) -> None:
    path = tmp_path / "blocked.xlsx"
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet("Data")
    sheet.write_dynamic_array_formula("K1:K3", "=_xlfn.SEQUENCE(3)", None, 1)
    sheet.write_number("M1", 3)
    sheet.write_formula("K6", "=1+1")
    book.close()
    area = CellRange(1, 11, *end)
    values = {(row, col): 3.0 for row in range(1, end[0] + 1) for col in range(11, end[1] + 1)}
    with pytest.raises(InputError, match=r"M1|K6"):
        WorkbookPackage.open(path).save(
            tmp_path / "out.xlsx", {"Data": SheetPatch(values, {(1, 11): area})}, stamp=STAMP
        )


def test_an_unknown_sheet_is_named(rich_book: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="Drive data"):
        WorkbookPackage.open(rich_book).save(tmp_path / "o.xlsx", {"Nope": SheetPatch({})}, stamp=STAMP)


def test_the_pivot_table_of_the_corpus_is_one_and_stays_one(tmp_path: Path, make_corpus: Callable) -> None:
    """openpyxl, which keeps pivot tables, reads the table and its records before and after."""
    source, target = make_corpus("pivot.xlsx"), tmp_path / "out.xlsx"
    package = WorkbookPackage.open(source)
    package.save(target, {"Readings": SheetPatch({(1, 5): 140.0, (2, 3): 20.0})}, stamp="s")
    for path in (source, target):
        (pivot,) = openpyxl.load_workbook(path)["Summary"]._pivots
        assert pivot.name == "By bus"
        assert pivot.cache.cacheSource.worksheetSource.sheet == "Readings"
        assert len(pivot.cache.records.r) == 3
    assert openpyxl.load_workbook(target, data_only=True)["Readings"]["E1"].value == 140
