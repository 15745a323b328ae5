"""No output destroys an input or a file of somebody else, and its own results may be made again."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import openpyxl
import pytest

from xlcalc.core.errors import InputError
from xlcalc.files.outputs import check_outputs
from xlcalc.files.ownership import is_ours

QUICK = ("--solution", "quick")


@pytest.mark.parametrize("name", ["s_buses.csv", "s_sites.csv", "s_orders.csv", "s_problems.csv", "s.csv"])
def test_no_side_table_of_a_schedule_replaces_an_input(run, site, name):
    schedule = site / name
    shutil.move(site / "drives.csv", schedule)
    before = schedule.read_bytes()
    result = run("schedule", name, "--site", "site.toml", *QUICK, "-o", "s.csv", "--overwrite")
    assert result.refused_in_one_line
    assert "would replace the input" in result.err
    assert schedule.read_bytes() == before


@pytest.mark.parametrize(
    "name", ["o_how.csv", "o_curve.csv", "o_combinations.csv", "o_inputs_that_matter.csv"]
)
def test_no_side_table_of_a_sweep_replaces_an_input(run, site, name):
    shutil.move(site / "drives.csv", site / name)
    arguments = ("--site", "site.toml", "--spec", "sweep.toml", "--samples", "4", "-o", "o.csv")
    result = run("sweep", name, *arguments, "--overwrite")
    assert result.refused_in_one_line, result.err
    assert "would replace the input" in result.err


@pytest.mark.parametrize("name", ["s.csv", "s_buses.csv", "s_problems.csv", "s.csv.sha256"])
def test_a_strangers_file_stops_a_schedule_unless_told(run, site, name):
    (site / name).write_text("mine")
    command = ("schedule", "drives.csv", "--site", "site.toml", *QUICK, "-o", "s.csv")
    result = run(*command)
    assert result.refused_in_one_line
    assert name in result.err
    assert "--overwrite" in result.err
    assert (site / name).read_text() == "mine"
    assert run(*command, "--overwrite").code in (0, 1)
    assert (site / name).read_text(encoding="utf-8-sig") != "mine"


@pytest.mark.parametrize("ending", [".csv", ".xlsx", ".parquet"])
def test_own_results_are_made_again_until_somebody_edits_them(run, site, ending):
    if ending == ".parquet":
        pytest.importorskip("pyarrow")
    command = ("schedule", "drives.csv", "--site", "site.toml", *QUICK, "-o", "s" + ending)
    assert run(*command).code in (0, 1)
    assert run(*command).code in (0, 1)
    edited = site / ("s.xlsx" if ending == ".xlsx" else f"s_buses{ending}")
    with edited.open("ab") as stream:
        stream.write(b"\n")
    result = run(*command)
    assert result.refused_in_one_line
    assert edited.name in result.err


def test_a_result_saved_by_another_program_is_not_ours(run, site):
    command = ("schedule", "drives.csv", "--site", "site.toml", *QUICK, "-o", "s.xlsx")
    assert run(*command).code in (0, 1)
    assert is_ours(site / "s.xlsx")
    openpyxl.load_workbook(site / "s.xlsx").save(site / "s.xlsx")
    assert not is_ours(site / "s.xlsx")
    assert run(*command).refused_in_one_line


def test_a_sweep_leaves_the_journal_of_somebody_else(run, site):
    (site / "o.xlsx.journal").write_text("my diary")
    arguments = ("--site", "site.toml", "--spec", "sweep.toml", "--samples", "4", "-o", "o.xlsx")
    assert run("sweep", "drives.csv", *arguments).refused_in_one_line
    assert (site / "o.xlsx.journal").read_text() == "my diary"


@pytest.mark.parametrize("name", ["x.pdf", "x.csv", "x.xlsm", "x", "x.xlsx.txt"])
def test_recalc_writes_a_workbook_under_its_own_ending_only(run, site, name):
    result = run("recalc", "book.xlsx", "-o", name)
    assert result.refused_in_one_line
    assert not (site / name).exists()


def test_recalc_replaces_its_own_copy_but_no_filled_workbook(run, site):
    shutil.copy(site / "book.xlsx", site / "mine.xlsx")
    assert run("recalc", "mine.xlsx").code == 0
    before = (site / "mine.xlsx").read_bytes()
    assert run("recalc", "book.xlsx", "-o", "mine.xlsx").refused_in_one_line
    assert (site / "mine.xlsx").read_bytes() == before
    for _ in range(2):
        assert run("recalc", "book.xlsx", "-o", "copy.xlsx").code == 0
    assert run("recalc", "copy.xlsx").code == 0, "in place a copy becomes a workbook of the user"
    assert run("recalc", "book.xlsx", "-o", "copy.xlsx").refused_in_one_line
    assert run("recalc", "book.xlsx", "-o", "copy.xlsx", "--overwrite").code == 0


def test_recalc_of_a_folder_replaces_no_workbook_of_the_output_folder(run, site):
    (site / "in").mkdir()
    (site / "out").mkdir()
    shutil.move(site / "book.xlsx", site / "in" / "a.xlsx")
    shutil.copy(site / "in" / "a.xlsx", site / "in" / "b.xlsx")
    shutil.copy(site / "in" / "a.xlsx", site / "out" / "b.xlsx")
    before = (site / "out" / "b.xlsx").read_bytes()
    result = run("recalc", "in", "-o", "out", "--workers", "1")
    assert result.refused_in_one_line
    assert (site / "out" / "b.xlsx").read_bytes() == before
    assert not (site / "out" / "a.xlsx").exists()


def test_a_summary_replaces_neither_a_workbook_nor_a_note(run, site):
    (site / "sum.csv").write_text("mine")
    for name in ("sum.csv", "book.xlsx"):
        result = run("recalc", "book.xlsx", "--summary", name)
        assert result.refused_in_one_line
        assert "--summary" in result.err


@pytest.mark.parametrize("subject", ["drives", "plant"])
def test_the_demo_replaces_no_filled_workbook(run, site, subject):
    before = (site / "book.xlsx").read_bytes()
    assert run("demo", subject, "-o", "book.xlsx").refused_in_one_line
    assert (site / "book.xlsx").read_bytes() == before


def test_choose_and_submittal_replace_nothing(run, site):
    before = (site / "book.xlsx").read_bytes()
    choose = ("choose", "site.toml", "--drives", "drives.csv", "--terms", "site.toml")
    assert run(*choose, "-o", "book.xlsx").refused_in_one_line
    assert run("submittal", "book.xlsx", "-o", "book.xlsx", "--overwrite").refused_in_one_line
    (site / "p.xlsx").write_text("mine")
    assert run("submittal", "book.xlsx", "-o", "p.xlsx").refused_in_one_line
    assert (site / "book.xlsx").read_bytes() == before
    assert (site / "p.xlsx").read_text() == "mine"


def test_new_writes_through_a_part_and_leaves_the_old_file_on_failure(run, site, monkeypatch):
    (site / "n.xlsx").write_text("mine")
    assert run("new", "drive_study", "n.xlsx").refused_in_one_line

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        assert run("new", "drive_study", "n.xlsx", "--overwrite").refused_in_one_line
        assert run("new", "drive_study", "fresh.xlsx").refused_in_one_line
    assert (site / "n.xlsx").read_text() == "mine"
    assert not (site / "fresh.xlsx").exists()
    assert not list(site.glob(".*xlcalc-part"))
    assert run("new", "drive_study", "n.xlsx", "--overwrite").code == 0


def test_links_and_twins(tmp_path):
    data = tmp_path / "data.csv"
    data.write_text("x")
    (tmp_path / "soft.csv").symlink_to(data)
    (tmp_path / "hard.csv").hardlink_to(data)
    for name in ("data.csv", "soft.csv", "hard.csv", "./data.csv"):
        with pytest.raises(InputError, match="would replace the input"):
            check_outputs([tmp_path / name], [data], overwrite=True)
    with pytest.raises(InputError, match="written twice"):
        check_outputs([tmp_path / "a.csv", Path(f"{tmp_path}/./a.csv")])
