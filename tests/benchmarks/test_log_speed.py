"""Logs as people keep them, recalculated here and by LibreOffice (load, calculate, save) in one run.

XLCALC_BENCHMARK_LOG_ROWS in the environment sets the rows; 5000 is the size that is aimed at, with at most
twice the time of LibreOffice for each. Figures are printed, only results are asserted. Run with -s.
"""

from __future__ import annotations

import os
import random
import time
from pathlib import Path

import pytest
import xlsxwriter

from xlcalc.core.errors import InputError
from xlcalc.hosts.libreoffice.programs.calculator import Calculator
from xlcalc.recalc.recalc import recalculate

ROWS = int(os.environ.get("XLCALC_BENCHMARK_LOG_ROWS", "500"))
COLUMNS = {
    "counts and sums": (
        "COUNTIFS($A$2:$A${n},A{r},$B$2:$B${n},B{r})",
        "SUMIFS($C$2:$C${n},$A$2:$A${n},A{r})",
        'SUMIFS($C$2:$C${n},$D$2:$D${n},">="&D{r}-7,$D$2:$D${n},"<="&D{r})',
    ),
    "running": ("COUNTIF($A$2:A{r},A{r})", "SUMIF($A$2:A{r},A{r},$C$2:C{r})", "SUM($C$2:C{r})"),
    "keys": ('A{r}&"|"&B{r}', "COUNTIF($E$2:E{r},E{r})"),
    "look-ups": ("MATCH(A{r},Tags!$A$1:$A$200,0)", "VLOOKUP(A{r},Tags!$A$1:$C$200,3,FALSE)"),
    "found before": ("IFERROR(MATCH(A{r},$A$1:A{p},0),0)", "IF(A{r}=A{p},1,2)"),
    "ranks": ("RANK(C{r},$C$2:$C${n})", "LARGE($C$2:$C${n},{p})", "QUARTILE($C$2:$C${n},1)"),
    "whole columns": ("SUMIFS(C:C,A:A,A{r},B:B,B{r})", "COUNTIF(A:A,A{r})"),
    "products": ("SUMPRODUCT(($A$2:$A${n}=A{r})*($B$2:$B${n}=B{r})*$C$2:$C${n})",),
    "wildcards": ('COUNTIF($A$2:$A${n},LEFT(A{r},5)&"*")', 'COUNTIFS($C$2:$C${n},">="&C{r})'),
}

ARRAYS = {
    "smallest of some": "IFERROR(SMALL(IF($A$2:$A${n}=A{r},ROW($A$2:$A${n})),2),0)",
    "largest of some": "MAX(IF($A$2:$A${n}=A{r},$C$2:$C${n}))",
    "mean of some": "AVERAGE(IF(($B$2:$B${n}=B{r})*($C$2:$C${n}>20),$C$2:$C${n}))",
    "texts found": "SUM(--ISNUMBER(SEARCH(A{r},$A$2:$A${n})))",
    "texts cut": "SUM((LEFT($A$2:$A${n},5)=LEFT(A{r},5))*$C$2:$C${n})",
    "two keys": "MATCH(A{r}&B{r},$A$2:$A${n}&$B$2:$B${n},0)",
    "rounded": "SUM(ROUND($C$2:$C${n}*1.07,0))",
    "months": "SUM((MONTH($D$2:$D${n})=MONTH(D{r}))*$C$2:$C${n})",
    "visible": "SUM(SUBTOTAL(103,OFFSET($C$2,ROW($C$2:$C${n})-2,0))*($A$2:$A${n}=A{r}))",
}
"""Array formulas, each in as many cells as the environment variable XLCALC_BENCHMARK_ARRAYS says."""
ARRAY_CELLS = int(os.environ.get("XLCALC_BENCHMARK_ARRAYS", "50"))


def _write(path: Path, formulas: tuple[str, ...], array: str = "") -> None:
    numbers = random.Random(1)
    with xlsxwriter.Workbook(str(path)) as book:
        log, tags = book.add_worksheet("Log"), book.add_worksheet("Tags")
        for row in range(200):
            tags.write_row(row, 0, [f"TAG{row:03d}", row * 1.5, f"Area {row % 7}"])
        log.write_row(0, 0, ["Tag", "Area", "Value", "Day"])
        for row in range(2, ROWS + 2):
            tag, area = f"TAG{numbers.randrange(200):03d}", f"Area {numbers.randrange(7)}"
            log.write_row(row - 1, 0, [tag, area, round(numbers.random() * 100, 2), 45000 + row % 365])
            for column, formula in enumerate(formulas, 4):
                log.write_formula(
                    row - 1, column, "=" + formula.format(r=row, p=row - 1, n=ROWS + 1), None, 0
                )
            if array and row < ARRAY_CELLS + 2:
                text = "{=" + array.format(r=row, n=ROWS + 1) + "}"
                log.write_array_formula(row - 1, 4, row - 1, 4, text, None, 0)


def _agreeing(what: str, book: Path, out: Path, office: Calculator) -> int:
    """Print the times of both; how many cells LibreOffice computes alike, of which none is refused."""
    start = time.perf_counter()
    recalculate(book, out, {})
    ours = time.perf_counter() - start
    start = time.perf_counter()
    office.compute(book, out.with_name("theirs.xlsx"))
    theirs = time.perf_counter() - start
    print(f"  {what}: {ours:.2f} s, LibreOffice {theirs:.2f} s, ratio {ours / theirs:.2f}")
    report = recalculate(book, out, {}, witness=office)
    assert report.issues == ()
    assert report.verification is not None
    return report.verification.agreeing


def test_ratio_to_libreoffice(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    try:
        office = Calculator()
    except InputError as problem:
        pytest.skip(str(problem))
    with office, capsys.disabled():
        print(f"\n{ROWS} rows, {office.name}:")
        for what, formulas in COLUMNS.items():
            book, out = tmp_path / f"{what}.xlsx", tmp_path / "out.xlsx"
            _write(book, formulas)
            assert _agreeing(what, book, out, office) == ROWS * len(formulas)


def test_arrays_beside_libreoffice(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    try:
        office = Calculator()
    except InputError as problem:
        pytest.skip(str(problem))
    with office, capsys.disabled():
        print(f"\n{ARRAY_CELLS} array formulas over {ROWS} rows, {office.name}:")
        for what, formula in ARRAYS.items():
            book, out = tmp_path / f"{what}.xlsx", tmp_path / "out.xlsx"
            _write(book, (), formula)
            office.compute(book, tmp_path / "theirs.xlsx")
            assert _agreeing(what, book, out, office) == min(ARRAY_CELLS, ROWS)
