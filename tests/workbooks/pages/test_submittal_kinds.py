"""A submittal of every kind of workbook: plant study, choice, comparison of front ends."""

from __future__ import annotations

import subprocess
import sys
from datetime import datetime
from pathlib import Path

import pytest
from openpyxl import load_workbook

from xlcalc.core import resources
from xlcalc.files.books.names import bounds
from xlcalc.files.books.plant_names import VIEW_CASE
from xlcalc.recalc.recalc import recalculate
from xlcalc.workbooks.build import build_plant_demo
from xlcalc.workbooks.kit.editing.book_parts import BookParts
from xlcalc.workbooks.pages.submittal import write_submittal
from xlcalc.workbooks.pages.submittal_pages import COVER
from xlcalc.workbooks.plant import case_outcomes
from xlcalc.workbooks.plant.case_outcomes import outcome_of_all_cases
from xlcalc.worksheet.catalogue import FUNCTIONS


def cover(path: Path) -> dict[str, str]:
    sheet = load_workbook(path)[COVER]
    return {str(row[0].value): str(row[1].value) for row in sheet.iter_rows(max_col=2) if row[0].value}


def test_plant_study(tmp_path: Path) -> None:
    book, pages = tmp_path / "plant.xlsx", tmp_path / "pages.xlsx"
    build_plant_demo(book)
    assert not recalculate(book, None, FUNCTIONS).issues
    write_submittal(book, pages, proof=False)
    shown = cover(pages)
    assert shown["In one line"].startswith(("FAIL: ", "NO VERDICT: "))
    assert "Transformers" in shown["Equipment checks"]
    assert "Network" in shown["Inputs"]
    assert "not calculated again" in shown["Results"]


def test_the_case_in_view_does_not_change_the_outcome(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(case_outcomes, "CASES", 2)
    outcomes = []
    for number in (1, 2):
        book = tmp_path / f"view {number}.xlsx"
        build_plant_demo(book)
        parts = BookParts.open(book)
        ((sheet, cell),) = load_workbook(book).defined_names[VIEW_CASE].destinations
        column, row, _, _ = bounds(cell)
        parts.sheet(sheet).set_value(row, column, float(number))
        parts.write(book)
        recalculate(book, None, FUNCTIONS)
        moment = datetime(2026, 1, 1)
        outcomes.append(outcome_of_all_cases(book, load_workbook(book, data_only=True), moment))
    first, second = ({(i.what, i.case): i.verdict for i in outcome.items} for outcome in outcomes)
    assert first == second
    assert outcomes[0].word == outcomes[1].word
    assert len({case for what, case in first if not what.startswith("PCC")}) == 2


def test_choice(tmp_path: Path) -> None:
    demo, book, pages = resources.folder("demo"), tmp_path / "choice.xlsx", tmp_path / "pages.xlsx"
    command = [sys.executable, "-m", "xlcalc", "choose", str(demo / "site.toml"), "-o", str(book)]
    command += ["--drives", str(demo / "drives.csv"), "--terms", str(demo / "choice.toml")]
    done = subprocess.run([*command, "--front", "2", "--runners", "1"], capture_output=True, check=False)
    assert done.returncode in (0, 1)
    source = write_submittal(book, pages)
    assert source.proven == 0
    shown = cover(pages)
    assert shown["Chosen mix"].startswith("Choice, Mix")
    assert shown["In one line"] == source.summary


def test_comparison_keeps_what_its_charts_show(tmp_path: Path) -> None:
    book, pages = tmp_path / "comparison.xlsx", tmp_path / "pages.xlsx"
    recalculate(resources.template("front_end_comparison"), book, FUNCTIONS)
    source = write_submittal(book, pages)
    assert source.proven is not None
    assert source.proven > 10_000
    made = load_workbook(pages)
    assert made["Workings"].sheet_state == "hidden"
    assert len(made["Comparison"]._charts) == 2
    assert made["Workings"]["B10"].value == pytest.approx(
        load_workbook(book, data_only=True)["Workings"]["B10"].value
    )
