"""A whole schedule through the workbook, through `xlcalc schedule`, and against openpyxl's load and save.

Every contender is a process of its own, so that start, imports and memory count. XLCALC_BENCHMARK_ROWS sets
the rows of the first comparison, XLCALC_BENCHMARK_GROWTH the sizes of the second; figures are printed, only
results are asserted.
"""

from __future__ import annotations

import os
from pathlib import Path

import openpyxl
import pandas as pd

ROWS = int(os.environ.get("XLCALC_BENCHMARK_ROWS", "1000"))
GROWTH = [int(n) for n in os.environ.get("XLCALC_BENCHMARK_GROWTH", "1000,10000").split(",")]

SITE = """
[site]
"utility kv" = 20
"utility mva" = 250
"transformer kva" = 2500
"transformer z pct" = 6
"main bus volts" = 690
"""


SCHEDULE_KW = 2000.0


def write_csv(path: Path, made: list[tuple[float, ...]], rows: int) -> None:
    """As many drives as the transformer can feed: the more, the smaller.

    All have a line reactor, because the bus of a very small one has no impedance to speak of. The unit stands
    beside the number, because a bare number below 0.2 may be megawatts.
    """
    share = SCHEDULE_KW / sum(made[i % len(made)][0] for i in range(rows))
    with path.open("w", encoding="utf-8") as stream:
        stream.write("Tag,Qty,Rating (kW),Pulses,Line reactor (%),DC choke (%),Load (%)\n")
        for i in range(rows):
            kw, pulses, reactor, *rest = made[i % len(made)]
            cells = (f"D{i}", 1, f"{share * kw} kW", pulses, max(reactor, 1.0), *rest)
            stream.write(",".join(map(str, cells)) + "\n")


def test_workbook_schedule_and_openpyxl(tmp_path, capsys, contenders):
    book, drives, site = tmp_path / "book.xlsx", tmp_path / "drives.csv", tmp_path / "site.toml"
    contenders.write_book(book, ROWS)
    write_csv(drives, contenders.kinds(), ROWS)
    site.write_text(SITE, encoding="utf-8")
    ours, out = tmp_path / "ours.xlsx", str(tmp_path / "out")
    schedule = ("schedule", str(drives), "--site", str(site), "--timings", "-o")
    with capsys.disabled():
        print()
        contenders.measured(contenders.command("eval", "=HD_THD(HD_SPECTRUM(6,1))"))
        programs = {
            "recalculation": contenders.recalculation(book, ours),
            "openpyxl load and save": contenders.load_and_save(book, tmp_path / "theirs.xlsx"),
            "schedule to csv": contenders.command(*schedule, out + ".csv"),
            "schedule to xlsx": contenders.command(*schedule, out + ".xlsx"),
        }
        times = {name: contenders.measured(program) for name, program in programs.items()}
        base = times["recalculation"]
        print(f"{ROWS} rows, {min(ROWS, contenders.KINDS)} kinds of drives:")
        for name, its in times.items():
            print(
                f"  {name}: {its.seconds:.2f} s, processor {its.processor:.2f} s, {its.peak:.0f} MB. "
                f"{its.stages}"
            )
            print(
                f"    recalculation takes {base.seconds / its.seconds:.2f} times as long, "
                f"{base.processor / its.processor:.2f} times the processor, {base.work / its.work:.2f} times "
                f"in its stages, {base.peak / its.peak:.2f} times the memory"
            )
    values = openpyxl.load_workbook(ours, data_only=True, read_only=True)["Drives"]
    last = next(values.iter_rows(min_row=ROWS + 1, max_row=ROWS + 1, values_only=True))
    assert last[10] > 0
    assert len(pd.read_csv(out + ".csv")) == ROWS


def test_growth(tmp_path, capsys, contenders):
    site = tmp_path / "site.toml"
    site.write_text(SITE, encoding="utf-8")
    with capsys.disabled():
        print()
        for rows in GROWTH:
            drives = tmp_path / f"drives{rows}.csv"
            write_csv(drives, contenders.kinds(), rows)
            out = tmp_path / f"out{rows}.csv"
            arguments = ("schedule", str(drives), "--site", str(site), "-o", str(out), "--timings")
            its = contenders.measured(contenders.command(*arguments))
            print(f"  {rows} rows: {its.seconds:.2f} s, {1e3 * its.seconds / rows:.3f} ms a row")
            print(f"    {its.peak:.0f} MB. {its.stages}")
            assert len(pd.read_csv(out, usecols=["tag", "status"])) == rows
