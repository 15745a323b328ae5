"""A1#: all cells of the array that a cell fills, in both ways of writing it."""

from __future__ import annotations

from pathlib import Path

import pytest
import xlsxwriter


def _book(path: Path, formulas: list[str]) -> Path:
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet("S")
    for row, value in enumerate([3, 1, 2]):
        sheet.write(row, 0, value)
    for row, formula in enumerate(formulas):
        sheet.write_formula(row, 6, formula)
    sheet.write_dynamic_array_formula("C1", "=_xlfn._xlws.SORT(A1:A3)")
    sheet.write_dynamic_array_formula("D1", "=_xlfn._xlws.SORT(A1:A1)")
    book.close()
    return path


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("=SUM(_xlfn.ANCHORARRAY(C1))", 6),
        ("=SUM(C1#)", 6),
        ("=ROWS(_xlfn.ANCHORARRAY($C$1))", 3),
        ("=COUNTIF(_xlfn.ANCHORARRAY(C1),2)", 1),
        ("=INDEX(_xlfn.ANCHORARRAY(C1),2)", 2),
        ("=SUMPRODUCT(_xlfn.ANCHORARRAY(C1)*10)", 60),
        ("=MATCH(3,_xlfn.ANCHORARRAY(C1),0)", 3),
        ("=_xlfn.XLOOKUP(2,_xlfn.ANCHORARRAY(C1),_xlfn.ANCHORARRAY(C1))", 2),
    ],
)
def test_the_cells_of_an_array(formula: str, expected: float, tmp_path: Path, recalculated) -> None:
    result = recalculated(_book(tmp_path / "spill.xlsx", [formula]))
    assert result.refused == set()
    assert result["G1"] == expected


def test_a_cell_without_an_array_of_several_values_is_refused(tmp_path: Path, recalculated) -> None:
    cells = ["A1", "D1", "B9"]
    formulas = [f"=IFERROR(SUM(_xlfn.ANCHORARRAY({cell})),0)" for cell in cells]
    assert recalculated(_book(tmp_path / "spill.xlsx", formulas)).refused == {"S!G1", "S!G2", "S!G3"}


def test_what_follows_from_a_refused_array_is_refused(tmp_path: Path, recalculated) -> None:
    book = xlsxwriter.Workbook(tmp_path / "spill.xlsx")
    sheet = book.add_worksheet("S")
    sheet.write_dynamic_array_formula("C1", "=NOSUCH(A1:A3)")
    sheet.write_formula("G1", "=SUM(_xlfn.ANCHORARRAY(C1))")
    book.close()
    assert recalculated(tmp_path / "spill.xlsx").refused == {"S!C1", "S!G1"}
