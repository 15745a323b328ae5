"""How long a recalculation takes against openpyxl's own load and save of the same file, in one run.

The first comparison is of the host alone, with a cheap function; the second of whole processes, start,
imports and solves included, with the peak of their memory, and with the formula engine alone on the same
cells; the last of the templates. XLCALC_BENCHMARK_ROWS in the environment sets the size,
XLCALC_BENCHMARK_GROWTH the sizes of the growth. Figures are printed, only results are asserted. Run with
``pytest -s``.
"""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import openpyxl
import pytest
import xlsxwriter

from xlcalc.core import resources
from xlcalc.recalc.recalc import recalculate
from xlcalc.schema.values import Value

ROWS = int(os.environ.get("XLCALC_BENCHMARK_ROWS", "2000"))
GROWTH = [int(size) for size in os.environ.get("XLCALC_BENCHMARK_GROWTH", "1000,5000").split(",")]


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


def _engine_alone(book: Path) -> str:
    return f"""
import formualizer
config = formualizer.EvaluationConfig()
config.enable_parallel = False
whole = formualizer.WorkbookConfig(mode=formualizer.WorkbookMode.Ephemeral, eval_config=config)
loaded = formualizer.Workbook.from_bytes(open({str(book)!r}, "rb").read(), config=whole)
for name in ("HD_THD", "HD_SPECTRUM", "HD_TRUE_PF"):
    loaded.register_function(name, lambda *a: 1.0, min_args=0, max_args=None)
loaded.evaluate_all()
"""


def test_whole_processes(tmp_path: Path, capsys: pytest.CaptureFixture[str], contenders: ModuleType) -> None:
    book, ours, theirs = (tmp_path / name for name in ("book.xlsx", "ours.xlsx", "theirs.xlsx"))
    contenders.write_book(book, ROWS)
    contenders.measured(contenders.recalculation(book, ours))
    runs = {
        "recalculation": contenders.recalculation(book, ours),
        "openpyxl load and save": contenders.load_and_save(book, theirs),
        "formula engine alone, functions stubbed": _engine_alone(book),
        "imports of openpyxl": "import openpyxl",
        "imports and one solve": "from xlcalc.recalc import evaluate\n"
        "from xlcalc.worksheet.catalogue import FUNCTIONS\n"
        "evaluate.evaluate_formula('HD_THD(HD_SPECTRUM(6,1))', FUNCTIONS)",
    }
    with capsys.disabled():
        print(f"\n{ROWS} rows, {ROWS * 10} formulas, {min(ROWS, contenders.KINDS)} drives:")
        base = None
        for name, program in runs.items():
            its = contenders.measured(program)
            base = base or its
            print(f"  {name}: {its.seconds:.2f} s, processor {its.processor:.2f} s, {its.peak:.0f} MB")
            print(
                f"    recalculation: {base.seconds / its.seconds:.2f} times as long, "
                f"{base.processor / its.processor:.2f} processor, {base.peak / its.peak:.2f} memory"
            )
            if its.stages:
                print(f"    {its.stages}")
    values = openpyxl.load_workbook(ours, data_only=True, read_only=True)["Drives"]
    last = next(values.iter_rows(min_row=ROWS + 1, max_row=ROWS + 1, values_only=True))
    assert last[10] > 0
    assert last[13] == pytest.approx(last[9] * last[10] / 100)


def test_growth(tmp_path: Path, capsys: pytest.CaptureFixture[str], contenders: ModuleType) -> None:
    with capsys.disabled():
        print()
        for rows in GROWTH:
            book, ours = tmp_path / f"book{rows}.xlsx", tmp_path / f"ours{rows}.xlsx"
            contenders.write_book(book, rows)
            its = contenders.measured(contenders.recalculation(book, ours))
            print(
                f"  {rows} rows: {its.seconds:.2f} s, processor {its.processor:.2f} s "
                f"({1e3 * its.processor / rows:.3f} ms a row), {its.peak:.0f} MB. {its.stages}"
            )
            assert ours.exists()


def test_templates(tmp_path: Path, capsys: pytest.CaptureFixture[str], contenders: ModuleType) -> None:
    """Every template as it comes, and the plant of the demo filled in."""
    filled, demo = tmp_path / "filled plant_study.xlsx", resources.folder("demo")
    lists = ["--drives", str(demo / "plant_drives.csv"), "--site", str(demo / "plant.toml")]
    contenders.measured(contenders.command("new", "plant_study", str(filled), *lists))
    names = resources.template_names()
    with capsys.disabled():
        print()
        for book in (*(resources.template(name) for name in names), filled):
            ours = contenders.measured(contenders.recalculation(book, tmp_path / f"ours {book.name}"))
            theirs = contenders.measured(contenders.load_and_save(book, tmp_path / "theirs.xlsx"))
            ratio = ours.processor / theirs.processor
            print(
                f"  {book.stem}: processor {ours.processor:.1f} s, {ratio:.1f} times openpyxl load and save"
            )
            assert (tmp_path / f"ours {book.name}").exists()
