"""The commands for schedules, sweeps and many workbooks, as a user types them."""

from __future__ import annotations

import contextlib
import io
import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from unittest import mock

import openpyxl
import pandas as pd
import pytest
import xlsxwriter

from xlcalc.cli import terminal as channels
from xlcalc.cli.app import main
from xlcalc.jobs.journal import NAME

DEMO = Path(__file__).parents[2] / "demo"
SITE = str(DEMO / "site.toml")
DRIVES = str(DEMO / "drives.csv")


@dataclass(frozen=True)
class Finished:
    returncode: int
    stdout: str
    stderr: str


class Terminal(io.StringIO):
    """Where a terminal would be."""

    def isatty(self) -> bool:
        return True


def run(*arguments: str, cwd: Path, terminal: bool = False) -> Finished:
    """Run the command in this process, as the console script does."""
    out, err = io.StringIO(), Terminal() if terminal else io.StringIO()
    with contextlib.ExitStack() as stack:
        stack.enter_context(contextlib.redirect_stdout(out))
        stack.enter_context(contextlib.redirect_stderr(err))
        stack.enter_context(mock.patch.object(sys, "argv", ["xlcalc", *arguments]))
        stack.enter_context(contextlib.chdir(cwd))
        vars(channels.err).pop("console", None)  # one of its own, as a process has
        with pytest.raises(SystemExit) as ended:
            main()
    return Finished(int(ended.value.code or 0), out.getvalue(), err.getvalue())


@pytest.mark.parametrize("suffix", ["xlsx", "csv", "parquet"])
def test_schedule_of_the_demo(tmp_path, suffix):
    result = run("schedule", DRIVES, "--site", SITE, "-o", f"out.{suffix}", "--timings", cwd=tmp_path)
    assert result.returncode == 0
    for words in (
        "15 rows, 15 solved",
        "TDD",
        "Verdict: PASS",
        "it alone would be: FAIL",
        f"out.{suffix}",
        "Time: read",
    ):
        assert words in result.stdout
    reader = {
        "xlsx": partial(pd.read_excel, sheet_name="drives"),
        "csv": pd.read_csv,
        "parquet": pd.read_parquet,
    }[suffix]
    table = reader(tmp_path / f"out.{suffix}")
    assert len(table) == 15
    assert table["thd pct"].between(1, 150).all()


def test_schedule_with_bad_rows_lists_them_all_and_exits_with_1(tmp_path):
    text = Path(DRIVES).read_text(encoding="utf-8").replace("M-111,", "M-101,").replace(",18,", ",17,")
    (tmp_path / "bad.csv").write_text(text, encoding="utf-8")
    result = run("schedule", "bad.csv", "--site", SITE, "-o", "out.csv", cwd=tmp_path)
    assert result.returncode == 1
    assert result.stderr.count("row ") == 3
    assert "row 4, Pulses: '17'; valid: a multiple of 6" in result.stderr
    assert "3 of 15 rows rejected" in result.stdout
    assert "NO VERDICT" in result.stdout
    assert len(pd.read_csv(tmp_path / "out_problems.csv")) == 3
    assert len(pd.read_csv(tmp_path / "out.csv")) == 15


@pytest.mark.parametrize("terminal", [True, False])
def test_a_plant_that_is_coupled_shows_a_bar_on_a_terminal_only(tmp_path, terminal):
    plant, drives = str(DEMO / "starter_plant.toml"), str(DEMO / "starter_plant_drives.csv")
    result = run("schedule", drives, "--site", plant, "-o", "out.csv", cwd=tmp_path, terminal=terminal)
    assert result.returncode == 0
    assert ("Coupling Minimum supply: drives solved" in result.stderr) == terminal
    assert ("Solving kinds of drives" in result.stderr) == terminal
    assert "Coupling" not in result.stdout


def test_an_interrupted_schedule_says_so_and_writes_nothing(tmp_path):
    with mock.patch("xlcalc.jobs.schedule.schedule_run.run_schedule", side_effect=KeyboardInterrupt):
        result = run("schedule", DRIVES, "--site", SITE, "-o", "out.xlsx", cwd=tmp_path)
    assert result.returncode == 130
    assert result.stderr.strip() == "Interrupted."
    assert not list(tmp_path.iterdir())


def test_sweep_of_the_demo(tmp_path):
    spec = str(DEMO / "sweep.toml")
    command = ("sweep", DRIVES, "--site", SITE, "--spec", spec, "--samples", "10")
    result = run(*command, "-o", "out.xlsx", "--timings", cwd=tmp_path)
    assert result.returncode == 0
    for words in ("P50", "P95", "worst", "rank correlation", "out.xlsx", "Time: read"):
        assert words in result.stdout
    assert run(*command, "-o", "a.csv", cwd=tmp_path).returncode == 0
    assert run(*command, "-o", "b.csv", "--seed", "1", cwd=tmp_path).returncode == 0
    assert run(*command, "-o", "c.csv", "--seed", "2", cwd=tmp_path).returncode == 0
    a, b, c = ((tmp_path / f"{name}_combinations.csv").read_bytes() for name in "abc")
    assert a == b != c


def test_sweep_of_a_plant_workbook_with_its_own_drives(tmp_path):
    assert run("demo", "plant", cwd=tmp_path).returncode == 0
    (book,) = (path.name for path in tmp_path.glob("*.xlsx"))
    spec = str(DEMO / "plant_sweep.toml")
    result = run(
        "sweep", book, "--site", book, "--spec", spec, "--samples", "2", "-o", "out.xlsx", cwd=tmp_path
    )
    assert result.returncode == 0
    assert "Weak supply: uncoupled" in result.stdout
    assert "Grid, Strong supply: verdict FAIL in" in result.stdout
    again = run("schedule", book, "--site", book, "-o", "drives.csv", cwd=tmp_path)
    assert again.returncode == 0
    assert "plant_study_demo, Weak supply, PCC Grid: 9 rows, 9 solved" in again.stdout


def test_headings_lists_every_column_with_its_units(tmp_path):
    result = run("headings", cwd=tmp_path)
    assert result.returncode == 0
    for words in ("tag: ", "motor hp", "units: kw", "dc link choke", "volts: ", "from 6 to 48"):
        assert words in result.stdout


@pytest.fixture
def books(tmp_path: Path) -> Path:
    folder = tmp_path / "books" / "deep"
    folder.mkdir(parents=True)
    for number in range(3):
        book = openpyxl.Workbook()
        book.active["A1"] = f"=HD_TRANSFORMER_MVA(1000,{number + 2})"
        book.save(folder.parent / f"b{number}.xlsx" if number else folder / "b0.xlsx")
    return tmp_path


def test_recalc_of_a_folder(books):
    result = run("recalc", "books", "-o", "out", "--summary", "table.csv", "--timings", cwd=books)
    assert result.returncode == 0
    assert "3 workbooks: 3 clean" in result.stdout
    assert "solve" in result.stdout
    assert sorted(p.relative_to(books / "out").as_posix() for p in (books / "out").rglob("*.xlsx")) == [
        "b1.xlsx",
        "b2.xlsx",
        "deep/b0.xlsx",
    ]
    assert pd.read_csv(books / "table.csv")["outcome"].tolist() == ["clean"] * 3
    assert not (books / "out" / NAME).exists()


def test_recalc_goes_on_after_a_failure_and_exits_with_1(books):
    (books / "books" / "bad.xlsx").write_text("no workbook")
    result = run("recalc", "books/bad.xlsx", "books/b1.xlsx", "books/b2.xlsx", cwd=books)
    assert result.returncode == 1
    assert "bad.xlsx" in result.stderr
    assert "2 clean, 0 with errors, 1 failed" in result.stdout
    value = openpyxl.load_workbook(books / "books" / "b2.xlsx", data_only=True).active["A1"].value
    assert value == pytest.approx(25.0)


def counting_book(path: Path, rows: int) -> None:
    """Counts every cell of a column in the whole column."""
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet()
        sheet.write_column(0, 0, range(rows))
        for row in range(rows):
            sheet.write_formula(row, 1, f"=COUNTIF($A$1:$A${rows},A{row + 1}+0.5)", None, 0)


@pytest.mark.skipif(sys.platform == "win32", reason="signals of a POSIX terminal")
def test_a_workbook_without_end_is_given_up_and_the_rest_done(tmp_path):
    """Counting every one of 200,000 cells in 200,000 cells takes minutes; the limit is seconds."""
    rows = 200_000
    folder = tmp_path / "books"
    folder.mkdir()
    for name in ("a", "z"):
        book = openpyxl.Workbook()
        book.active["A1"] = "=1+1"
        book.save(folder / f"{name}.xlsx")
    counting_book(folder / "m.xlsx", rows)
    before = (folder / "m.xlsx").read_bytes()
    result = run("recalc", "books", "--workers", "2", "--limit", "8", cwd=tmp_path)
    assert result.returncode == 1
    assert "2 clean, 0 with errors, 1 failed" in result.stdout
    assert "m.xlsx: stopped, because it took longer than the limit of 8 s" in result.stderr
    assert (folder / "m.xlsx").read_bytes() == before
    assert sorted(path.name for path in folder.iterdir()) == ["a.xlsx", "m.xlsx", "z.xlsx"]
    assert openpyxl.load_workbook(folder / "z.xlsx", data_only=True).active["A1"].value == 2


def test_ctrl_c_then_resume(tmp_path):
    """A real interrupt of all processes, as a terminal sends it, in the middle of the workbooks."""
    folder = tmp_path / "books"
    folder.mkdir()
    counting_book(folder / "d00.xlsx", 10_000)
    for number in range(1, 7):
        (folder / f"d{number:02}.xlsx").write_bytes((folder / "d00.xlsx").read_bytes())
    command = [sys.executable, "-m", "xlcalc", "recalc", "books", "-o", "out", "--workers", "2"]
    journal = tmp_path / "out" / NAME
    with subprocess.Popen(
        command, cwd=tmp_path, stderr=subprocess.PIPE, text=True, start_new_session=True
    ) as process:
        deadline = time.monotonic() + 240
        while time.monotonic() < deadline and _lines(journal) < 2:
            time.sleep(0.02)
        os.killpg(process.pid, signal.SIGINT)
        _, errors = process.communicate(timeout=60)
    assert process.returncode == 130, errors
    assert "--resume" in errors
    assert "Traceback" not in errors
    done = [json.loads(line)["file"] for line in journal.read_text().splitlines()[1:]]
    assert 1 <= len(done) < 7
    before = {name: (tmp_path / "out" / Path(name).name).stat().st_mtime_ns for name in done}
    result = run("recalc", "books", "-o", "out", "--workers", "2", "--resume", cwd=tmp_path)
    assert result.returncode == 0
    assert "7 workbooks: 7 clean" in result.stdout
    after = {name: (tmp_path / "out" / Path(name).name).stat().st_mtime_ns for name in done}
    assert after == before
    assert len(list((tmp_path / "out").glob("*.xlsx"))) == 7
    assert not journal.exists()


def _lines(path: Path) -> int:
    return path.read_text().count("\n") if path.exists() else 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("schedule", "none.csv", "--site", SITE, "-o", "o.csv"), "none.csv"),
        (("schedule", DRIVES, "--site", "none.toml", "-o", "o.csv"), "none.toml"),
        (("schedule", DRIVES, "--site", SITE, "-o", "o.pdf"), "o.pdf"),
        (("schedule", DRIVES, "--site", SITE, "--site", SITE, "-o", "o.csv"), "twice"),
        (("schedule", DRIVES, "-o", "o.csv"), "--site"),
        (("sweep", DRIVES, "--site", SITE, "--spec", "none.toml", "-o", "o.csv"), "none.toml"),
        (("sweep", DRIVES, "--site", SITE, "--spec", SITE, "-o", "o.csv"), "study"),
        (("schedule", "books/b1.xlsx", "--site", SITE, "-o", "books/b1.xlsx"), "another file"),
        (("recalc", "books", "--summary", "books/b1.xlsx"), "another file"),
        (("recalc", "books", "--resume"), "--resume"),
        (("recalc", "books", "--workers", "0"), "--workers"),
        (("recalc", "books", "--summary", "s.pdf"), "s.pdf"),
        (("recalc", "books", "-o", "books/b1.xlsx"), "folder"),
        (("recalc", "books", "nowhere"), "nowhere"),
    ],
)
def test_unusable_arguments_exit_with_2_and_one_reason(books, arguments, words):
    before = {path: path.read_bytes() for path in books.rglob("*") if path.is_file()}
    result = run(*arguments, cwd=books)
    assert result.returncode == 2
    assert words in result.stderr
    assert {path: path.read_bytes() for path in books.rglob("*") if path.is_file()} == before
