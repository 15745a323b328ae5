"""A whole schedule through the workbook, through `xlcalc schedule`, and against openpyxl's load and save.

Every contender is a process of its own, so that start, imports and memory count. XLCALC_BENCHMARK_ROWS sets
the rows of the first comparison, XLCALC_BENCHMARK_GROWTH the sizes of the second; figures are printed, only
results are asserted.
"""

from __future__ import annotations

import os
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
import xlsxwriter

ROWS = int(os.environ.get("XLCALC_BENCHMARK_ROWS", "1000"))
GROWTH = [int(n) for n in os.environ.get("XLCALC_BENCHMARK_GROWTH", "1000,10000").split(",")]
KINDS = 500

SITE = """
[site]
"utility kv" = 20
"utility mva" = 250
"transformer kva" = 2500
"transformer z pct" = 6
"main bus volts" = 690
"""
Kind = tuple[float, int, float, float, float]


def kinds(count: int) -> list[Kind]:
    rng = np.random.default_rng(6)
    return [
        (
            round(float(rng.uniform(5, 300)), 1),
            int(rng.choice([6, 6, 6, 12, 18])),
            float(rng.choice([0, 3, 5])),
            float(rng.choice([0, 3, 4])),
            float(rng.integers(50, 101)),
        )
        for _ in range(count)
    ]


def write_csv(path: Path, rows: int) -> None:
    made = kinds(KINDS)
    with path.open("w", encoding="utf-8") as stream:
        stream.write("Tag,Qty,Rating (kW),Pulses,Line reactor (%),DC choke (%),Load (%)\n")
        for i in range(rows):
            stream.write(",".join(map(str, (f"D{i}", 1, *made[i % KINDS]))) + "\n")


def write_book(path: Path, rows: int) -> None:
    """Eight ordinary formulas and two calls of our functions a row."""
    made = kinds(KINDS)
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet("Drives")
        sheet.write_row(0, 0, ["Tag", "Qty", "kW", "Pulses", "Reactor", "Choke", "Load"])
        for i in range(rows):
            r = i + 2
            sheet.write_row(i + 1, 0, [f"D{i}", 1, *made[i % KINDS]])
            drive = f"D{r},0.02+C{r}/1000,E{r},F{r},G{r}" + ',{"capacitor resistance pct",0.5}'
            formulas = [
                f"C{r}*B{r}",
                f"H{r}*G{r}/100",
                f"I{r}/(SQRT(3)*0.69)",
                f"HD_THD(HD_SPECTRUM({drive}))",
                f"HD_TRUE_PF({drive})",
                f"I{r}/L{r}",
                f"J{r}*K{r}/100",
                f'IF(K{r}>40,"high","low")',
                f"ROUND(M{r},1)",
                f"N{r}^2",
            ]
            for column, formula in enumerate(formulas, 7):
                sheet.write_formula(i + 1, column, "=" + formula, None, 0)


@dataclass(frozen=True)
class Measured:
    """Seconds of wall and of processor, peak MB, and the stages that a process printed."""

    seconds: float
    cpu: float
    peak: float
    stages: str

    @property
    def work(self) -> float:
        """Seconds of the stages together, without the start of the program; NaN where none are printed."""
        return float(self.stages.split("together ")[1].split()[0]) if self.stages else float("nan")


def measured(*command: str, cwd: Path) -> Measured:
    log = cwd / "log.txt"
    to_log = [(os.POSIX_SPAWN_OPEN, 1, str(log), os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)]
    start = time.perf_counter()
    pid = os.posix_spawn(sys.executable, [sys.executable, *command], os.environ, file_actions=to_log)
    _, status, usage = os.wait4(pid, 0)
    assert os.waitstatus_to_exitcode(status) == 0
    seconds = time.perf_counter() - start
    stages = [line for line in log.read_text(encoding="utf-8").splitlines() if line.startswith("Time:")]
    return Measured(seconds, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, "".join(stages))


@pytest.mark.skipif(not hasattr(os, "wait4"), reason="needs wait4 to measure memory")
def test_workbook_schedule_and_openpyxl(tmp_path, capsys):
    book, drives, site = tmp_path / "book.xlsx", tmp_path / "drives.csv", tmp_path / "site.toml"
    write_book(book, ROWS)
    write_csv(drives, ROWS)
    site.write_text(SITE, encoding="utf-8")
    ours, out = str(tmp_path / "ours.xlsx"), str(tmp_path / "out")
    plain = f"import openpyxl; openpyxl.load_workbook({str(book)!r}).save({str(tmp_path / 'theirs.xlsx')!r})"
    schedule = ("-m", "xlcalc", "schedule", str(drives), "--site", str(site), "--timings", "-o")
    with capsys.disabled():
        print()
        measured("-m", "xlcalc", "eval", "=HD_THD(HD_SPECTRUM(6,1))", cwd=tmp_path)
        recalculation = ("-m", "xlcalc", "recalc", str(book), "-o", ours, "--timings")
        times = {
            "recalculation": measured(*recalculation, cwd=tmp_path),
            "openpyxl load and save": measured("-c", plain, cwd=tmp_path),
            "schedule to csv": measured(*schedule, out + ".csv", cwd=tmp_path),
            "schedule to xlsx": measured(*schedule, out + ".xlsx", cwd=tmp_path),
        }
        base = times["recalculation"]
        print(f"{ROWS} rows, {min(ROWS, KINDS)} kinds of drives:")
        for name, its in times.items():
            print(
                f"  {name}: {its.seconds:.2f} s, processor {its.cpu:.2f} s, {its.peak:.0f} MB. {its.stages}"
            )
            print(
                f"    recalculation takes {base.seconds / its.seconds:.2f} times as long, "
                f"{base.cpu / its.cpu:.2f} times the processor, {base.work / its.work:.2f} times in its "
                f"stages, {base.peak / its.peak:.2f} times the memory"
            )
    values = openpyxl.load_workbook(ours, data_only=True, read_only=True)["Drives"]
    last = next(values.iter_rows(min_row=ROWS + 1, max_row=ROWS + 1, values_only=True))
    assert last[10] > 0
    assert len(pd.read_csv(out + ".csv")) == ROWS


@pytest.mark.skipif(not hasattr(os, "wait4"), reason="needs wait4 to measure memory")
def test_growth(tmp_path, capsys):
    site = tmp_path / "site.toml"
    site.write_text(SITE, encoding="utf-8")
    with capsys.disabled():
        print()
        for rows in GROWTH:
            drives = tmp_path / f"drives{rows}.csv"
            write_csv(drives, rows)
            out = tmp_path / f"out{rows}.csv"
            command = ("-m", "xlcalc", "schedule", str(drives), "--site", str(site), "-o", str(out))
            its = measured(*command, "--timings", cwd=tmp_path)
            print(f"  {rows} rows: {its.seconds:.2f} s, {1e3 * its.seconds / rows:.3f} ms a row")
            print(f"    {its.peak:.0f} MB. {its.stages}")
            assert len(pd.read_csv(out, usecols=["tag", "status"])) == rows
