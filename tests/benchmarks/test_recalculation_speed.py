"""How long a recalculation takes against openpyxl's own load and save of the same file, in one run.

XLCALC_BENCHMARK_ROWS in the environment sets the size.
"""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from xlcalc.hosts.headless.recalc import recalculate
from xlcalc.worksheet.values import Value

ROWS = int(os.environ.get("XLCALC_BENCHMARK_ROWS", "2000"))


@dataclass(frozen=True)
class Total:
    """A cheap stand-in, so that the host is measured and not the function."""

    name: str = "X_TOTAL"
    min_args: int = 1
    max_args: int | None = None
    volatile: bool = False
    shape: object | None = None

    def __call__(self, raw: Sequence[Value]) -> Value:
        return sum(item for item in raw if isinstance(item, float))


def _write(path: Path, rows: int) -> int:
    """Eight formulas a row, a quarter of them calls of our function, one chain through all rows."""
    with xlsxwriter.Workbook(str(path), {"constant_memory": False}) as book:
        site, sheet = book.add_worksheet("Site"), book.add_worksheet("Data")
        site.write("A1", 480.0)
        book.define_name("Volts", "=Site!$A$1")
        for row in range(1, rows + 1):
            sheet.write_number(f"A{row}", row)
            sheet.write_number(f"B{row}", row % 500 + 0.5)
            sheet.write_string(f"C{row}", f"tag {row % 400}")
            formulas = [
                f"A{row}*B{row}",
                f"D{row}/Volts",
                f"X_TOTAL(B{row},$A$1)",
                f"X_TOTAL(B{row},D{row},Site!$A$1)",
                f"SUM(A{max(1, row - 9)}:A{row})",
                f'IF(A{row}>100,C{row},"small")',
                f"J{row - 1}+D{row}" if row > 1 else "D1",
                f"ROUND(E{row}*SQRT(3),2)",
            ]
            for column, formula in enumerate(formulas, 3):
                sheet.write_formula(row - 1, column, "=" + formula, None, 0)
    return rows * 8


def _timed(action: object) -> float:
    start = time.perf_counter()
    assert callable(action)
    action()
    return time.perf_counter() - start


def test_ratio_to_load_and_save(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "book.xlsx"
    formulas = _write(path, ROWS)
    reports = []
    ours = _timed(lambda: reports.append(recalculate(path, tmp_path / "ours.xlsx", {"X_TOTAL": Total()})))
    theirs = _timed(lambda: openpyxl.load_workbook(path).save(tmp_path / "theirs.xlsx"))
    report = reports[0]
    stages = ", ".join(f"{stage} {seconds:.2f}" for stage, seconds in report.seconds.items())
    with capsys.disabled():
        print(
            f"\n{formulas} formulas, {report.own_calls} calls of ours ({report.distinct_calls} distinct): "
            f"recalculated in {ours:.2f} s ({stages}); "
            f"openpyxl load and save {theirs:.2f} s; ratio {ours / theirs:.2f}"
        )
    assert report.evaluated == formulas
    assert not report.issues
    values = openpyxl.load_workbook(tmp_path / "ours.xlsx", data_only=True, read_only=True)["Data"]
    last = next(values.iter_rows(min_row=ROWS, max_row=ROWS, values_only=True))
    assert last[3] == pytest.approx(last[0] * last[1])
    assert last[6] == pytest.approx(last[1] + last[3] + 480)
