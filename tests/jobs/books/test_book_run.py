"""Many workbooks: failures stay alone, an interrupted run goes on, files hold what a single run gives."""

from __future__ import annotations

import os
from pathlib import Path

import openpyxl
import pytest

from xlcalc.core.errors import InputError
from xlcalc.jobs.books.book_files import find_books
from xlcalc.jobs.books.book_run import CLEAN, FAILED, WITH_ERRORS, recalculate_many, recalculate_timed
from xlcalc.jobs.journal import NAME, Journal
from xlcalc.jobs.pools import HerePool, ProcessPool
from xlcalc.recalc.recalc import recalculate
from xlcalc.worksheet.catalogue import FUNCTIONS


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Six workbooks: four sound, one with an error value, one that is none."""
    books = tmp_path / "books"
    books.mkdir()
    for number in range(4):
        write(books / f"sound{number}.xlsx", f"=HD_TRANSFORMER_MVA(1000,{number + 2})")
    write(books / "wrong.xlsx", "=HD_TRANSFORMER_MVA(-1,5)")
    (books / "text.xlsx").write_text("no workbook")
    return books


def write(path: Path, formula: str) -> None:
    book = openpyxl.Workbook()
    book.active["A1"] = formula
    book.active["A2"] = "=A1*2"
    book.save(path)


def value(path: Path, cell: str = "A1") -> object:
    return openpyxl.load_workbook(path, data_only=True).active[cell].value


def outcomes(results):
    return {Path(r.file).name: r.outcome for r in results}


EXPECTED = {**{f"sound{n}.xlsx": CLEAN for n in range(4)}, "wrong.xlsx": WITH_ERRORS, "text.xlsx": FAILED}


@pytest.mark.parametrize("pool", [HerePool(), ProcessPool(2)], ids=["here", "processes"])
def test_a_failure_stays_alone(folder, tmp_path, pool):
    out = tmp_path / "out"
    seen = []
    results = recalculate_many(
        find_books([folder], out),
        pool,
        Journal(out / NAME, {}),
        finished=lambda result, done, total: seen.append((done, total)),
    )
    assert outcomes(results) == EXPECTED
    assert seen == [(n, 6) for n in range(1, 7)]
    assert sorted(p.name for p in out.iterdir()) == sorted(n for n in EXPECTED if n != "text.xlsx")
    for number in range(4):
        assert value(out / f"sound{number}.xlsx") == pytest.approx(100 / (number + 2))
        assert value(folder / f"sound{number}.xlsx") is None
    failed = next(r for r in results if r.outcome == FAILED)
    assert "text.xlsx" in failed.reason
    wrong = next(r for r in results if r.outcome == WITH_ERRORS)
    assert "kva is -1" in wrong.issues[0]


def test_an_interrupted_run_goes_on_where_it_was(folder, tmp_path):
    books = find_books([folder], None)
    journal = tmp_path / NAME

    class Stop(Exception):
        pass

    def stop_after_three(result, done, total):
        if done == 3:
            raise Stop

    with pytest.raises(Stop):
        recalculate_many(books, HerePool(), Journal(journal, {}), finished=stop_after_three)
    done = {
        p.name: p.stat().st_mtime_ns for p in folder.iterdir() if p.suffix == ".xlsx" and value_or_none(p)
    }
    assert len(done) == 3
    worked = []

    class Watched(HerePool):
        def run(self, function, tasks):
            worked.extend(task.book.source.name for task in tasks)
            return super().run(function, tasks)

    results = recalculate_many(books, Watched(), Journal(journal, {}), resume=True)
    assert outcomes(results) == EXPECTED
    assert not journal.exists()
    assert set(worked) == {book.source.name for book in books} - set(done)
    assert {name: (folder / name).stat().st_mtime_ns for name in done} == done


def value_or_none(path: Path) -> object:
    try:
        return value(path)
    except Exception:
        return None


def test_a_workbook_that_was_changed_or_failed_is_done_again(folder, tmp_path):
    books = find_books([folder], None)
    journal = tmp_path / NAME
    calls = []

    def stop_at_last(result, done, total):
        calls.append(result.file)
        if done == total:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        recalculate_many(books, HerePool(), Journal(journal, {}), finished=stop_at_last)
    write(folder / "sound1.xlsx", "=HD_TRANSFORMER_MVA(1000,20)")
    write(folder / "text.xlsx", "=1+1")
    os.utime(folder / "sound2.xlsx", ns=(1, 1))
    results = recalculate_many(books, HerePool(), Journal(journal, {}), resume=True)
    assert value(folder / "sound1.xlsx") == pytest.approx(5.0)
    assert outcomes(results) == {**EXPECTED, "text.xlsx": CLEAN}


def test_nothing_to_resume_is_said(folder, tmp_path):
    with pytest.raises(InputError, match="--resume"):
        recalculate_many(find_books([folder], None), HerePool(), Journal(tmp_path / NAME, {}), resume=True)


def test_values_and_stages_are_those_of_a_single_recalculation(folder, tmp_path):
    source = folder / "sound1.xlsx"
    report, seconds = recalculate_timed(source, tmp_path / "timed.xlsx")
    recalculate(source, tmp_path / "plain.xlsx", FUNCTIONS)
    assert value(tmp_path / "timed.xlsx") == value(tmp_path / "plain.xlsx")
    assert report.own_calls == 1
    assert set(seconds) == {*report.seconds, "solve"}
    assert seconds["evaluate"] + seconds["solve"] == pytest.approx(report.seconds["evaluate"], abs=1e-3)
