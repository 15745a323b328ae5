"""What the benchmarks of whole processes share: a book of drives, and a process that tells what it used."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import xlsxwriter

KINDS = 500

Kind = tuple[float, int, float, float, float]


def kinds() -> list[Kind]:
    """Rating, pulses, reactor, choke and load of distinct invented drives."""
    rng = np.random.default_rng(6)
    return [
        (
            round(float(rng.uniform(5, 300)), 1),
            int(rng.choice([6, 6, 6, 12, 18])),
            float(rng.choice([0, 3, 5])),
            float(rng.choice([0, 3, 4])),
            float(rng.integers(50, 101)),
        )
        for _ in range(KINDS)
    ]


def write_book(path: Path, rows: int) -> None:
    """A heading row, then eight ordinary formulas and two calls of our functions a row."""
    made = kinds()
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet("Drives")
        sheet.write_row(0, 0, ["Tag", "Qty", "kW", "Pulses", "Reactor", "Choke", "Load"])
        for i in range(rows):
            r = i + 2
            sheet.write_row(i + 1, 0, [f"D{i}", 1, *made[i % KINDS]])
            drive = f'D{r},0.02+C{r}/1000,E{r},F{r},G{r},{{"capacitor resistance pct",0.5}}'
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
    """Wall and processor seconds, peak MB, and the stages that a process printed."""

    seconds: float
    processor: float
    peak: float
    stages: str

    @property
    def work(self) -> float:
        """Seconds of the stages together, without the start of the program; NaN where none are printed."""
        return float(self.stages.split("together ")[1].split()[0]) if self.stages else float("nan")


_AT_END = """
import atexit, resource
def _tell():
    peak = next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM"))
    own, workers = (resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    used = sum(usage.ru_utime + usage.ru_stime for usage in (own, workers))
    print("Used:", used, max(int(peak), workers.ru_maxrss))
atexit.register(_tell)
"""
"""The peak of the process itself: what `wait4` tells is never below what its parent had."""


def measured(program: str) -> Measured:
    """Run Python text as a process of its own.

    XLCALC_BENCHMARK_PYTHON names the interpreter, such as that of an environment without the test extras.
    """
    python = os.environ.get("XLCALC_BENCHMARK_PYTHON", sys.executable)
    start = time.perf_counter()
    done = subprocess.run([python, "-c", _AT_END + program], capture_output=True, text=True, check=False)
    seconds = time.perf_counter() - start
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    _, processor, peak = next(line for line in lines if line.startswith("Used:")).split()
    stages = "".join(line for line in lines if line.startswith("Time:"))
    return Measured(seconds, float(processor), int(peak) / 1024, stages)


def command(*arguments: str) -> str:
    """Our command line as a program."""
    return f"import sys; sys.argv = {['xlcalc', *arguments]!r}\nfrom xlcalc.cli.app import main\nmain()"


def recalculation(book: Path, target: Path) -> str:
    return command("recalc", str(book), "-o", str(target), "--timings")


def load_and_save(book: Path, target: Path) -> str:
    """The rival: openpyxl alone."""
    return f"import openpyxl\nopenpyxl.load_workbook({str(book)!r}).save({str(target)!r})"
