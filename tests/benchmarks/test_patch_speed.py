"""Opening a workbook and writing every cached value, against openpyxl's load and save of the same file.

Run alone with ``pytest -s tests/benchmarks/test_patch_speed.py``; XLCALC_BENCHMARK_ROWS sets the size.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import openpyxl
import xlsxwriter

from xlcalc.recalc.xlsx.package import SheetPatch, WorkbookPackage

ROWS = int(os.environ.get("XLCALC_BENCHMARK_ROWS", "2000"))


def _best_of(work: Callable[[], None], times: int = 3) -> float:
    seconds = []
    for _ in range(times):
        start = time.process_time()
        work()
        seconds.append(time.process_time() - start)
    return min(seconds)


def test_ratio_of_patching_to_loading_and_saving(tmp_path: Path) -> None:
    source, ours, theirs = (tmp_path / name for name in ("source.xlsx", "ours.xlsx", "theirs.xlsx"))
    with xlsxwriter.Workbook(str(source)) as book:
        sheet = book.add_worksheet("Data")
        for row in range(ROWS):
            sheet.write_number(row, 0, row * 1.37)
            for col in range(1, 9):
                sheet.write_formula(row, col, f"=A{row + 1}*{col}+SIN(A{row + 1})", None, 0)

    def patch() -> None:
        package = WorkbookPackage.open(source)
        values = {cell.position: cell.row * 0.1 + cell.col / 3 for cell in package.sheet("Data").formulas}
        assert len(values) == ROWS * 8
        package.save(ours, {"Data": SheetPatch(values)}, stamp="benchmark")

    def load_and_save() -> None:
        openpyxl.load_workbook(source).save(theirs)

    patching, loading = _best_of(patch), _best_of(load_and_save)
    ratio = patching / loading
    print(f"\n{ROWS * 8} formulas: patch {patching:.2f} s, openpyxl {loading:.2f} s, ratio {ratio:.2f}")
    assert theirs.exists()
    assert ours.exists()
