"""Ranges that grow from row to row give what LibreOffice gives, whatever the column holds and depends on."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from xlcalc.recalc.recalc import recalculate

TAGS = ["P-1", "F-2", "p-1", "x", "P-1", 7, 3, 2.5, "F-2", -1, "P-*", "y", 4, 3, "F-2"]
"""No blank, logical or number as text, which LibreOffice finds in other ways (known_differences.txt)."""
GROWING = {
    "counted": "COUNTIF($A$2:A{r},A{r})",
    "counted by text": 'COUNTIFS($A$2:A{r},"p*",$B$2:B{r},">2")',
    "summed": "SUMIF($A$2:A{r},A{r},$B$2:B{r})",
    "found before": "IFERROR(MATCH(A{r},$A$1:A{p},0),0)",
    "looked up": "IFERROR(VLOOKUP(B{r},$B$2:B{r},1,FALSE),-1)",
    "largest": "LARGE($B$2:B{r},1)",
    "key": 'A{r}&"|"&B{r}',
    "keys": "COUNTIF($I$2:I{r},I{r})",
    "own column": "COUNTIF(K$1:K{p},K{p})+1",
    "two columns": "COUNTIF($L$1:L{p},M{p})+B{r}",
    "and back": "SUMIF($M$1:M{p},L{r})+B{r}",
    "by name": "COUNTIF($O$2:O{r},O{r})",
    "named": "IF(A{r}=first,1,2)",
    "ranked": "RANK(B{r},$B$2:B{r})",
}


def _book(path: Path, rows: int) -> Path:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.append(["tag", "value", *GROWING])
    for row in range(2, rows + 2):
        sheet.cell(row, 1, TAGS[(row * 7) % len(TAGS)])
        sheet.cell(row, 2, (row * 13) % 5 + 0.5)
        for column, formula in enumerate(GROWING.values(), 3):
            sheet.cell(row, column, "=" + formula.format(r=row, p=row - 1))
    book.defined_names["first"] = openpyxl.workbook.defined_name.DefinedName("first", attr_text="Sheet!$A$2")
    book.save(path)
    return path


def test_they_give_what_libreoffice_gives(tmp_path: Path, calculator) -> None:
    report = recalculate(_book(tmp_path / "book.xlsx", 30), tmp_path / "out.xlsx", {}, witness=calculator)
    assert report.issues == ()
    assert report.verification.differing == ()
    assert report.verification.agreeing == 30 * len(GROWING)


@pytest.mark.parametrize("formula", ["COUNTIF($C$1:C{p},1)", "SUMIF($D$1:D{p},1)"])
def test_a_column_that_depends_on_itself_is_no_circle(formula: str, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    for row in range(2, 9):
        sheet.cell(row, 3, "=" + formula.format(p=row - 1) + "+1")
        sheet.cell(row, 4, f"=C{row}")
    book.save(tmp_path / "book.xlsx")
    report = recalculate(tmp_path / "book.xlsx", tmp_path / "out.xlsx", {})
    assert report.issues == ()
    shown = openpyxl.load_workbook(tmp_path / "out.xlsx", data_only=True).worksheets[0]
    values, ones = [], 0
    for row in range(2, 9):
        values.append(shown.cell(row, 3).value)
        assert values[-1] == ones + 1
        ones += values[-1] == 1
