"""Recalculating the demo workbook, solves included, against openpyxl's load and save of the same file.

Run alone with ``pytest -s tests/benchmarks/test_demo_speed.py``.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import openpyxl

from xlcalc.recalc.recalc import recalculate
from xlcalc.workbooks.build import build_demo
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.functions.drive import spectra
from xlcalc.worksheet.functions.plant import assessments


def _best_of(work: Callable[[], object], times: int = 2) -> float:
    seconds = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def test_ratio_of_recalculating_the_demo_to_loading_and_saving_it(tmp_path: Path) -> None:
    book, ours, theirs = (tmp_path / name for name in ("demo.xlsx", "ours.xlsx", "theirs.xlsx"))
    build_demo(book)

    def recalculated() -> None:
        assessments.clear_cache()
        spectra.clear_cache()
        report = recalculate(book, ours, FUNCTIONS)
        assert report.clean

    def loaded_and_saved() -> None:
        openpyxl.load_workbook(book).save(theirs)

    recalculated()
    recalculating, loading = _best_of(recalculated), _best_of(loaded_and_saved)
    ratio = recalculating / loading
    print(f"\ndemo: recalculated in {recalculating:.2f} s, openpyxl {loading:.2f} s, ratio {ratio:.2f}")
