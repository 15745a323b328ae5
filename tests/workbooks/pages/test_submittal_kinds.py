"""A submittal of every kind of workbook: plant study, choice, comparison of front ends."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from xlcalc.core import resources
from xlcalc.files.books.plant_names import VIEW_CASE
from xlcalc.workbooks.pages.submittal import write_submittal
from xlcalc.workbooks.pages.submittal_pages import COVER
from xlcalc.workbooks.plant import case_outcomes
from xlcalc.workbooks.plant.case_outcomes import outcome_of_all_cases


def cover(path: Path) -> dict[str, str]:
    sheet = load_workbook(path)[COVER]
    return {str(row[0].value): str(row[1].value) for row in sheet.iter_rows(max_col=2) if row[0].value}


def test_plant_study(tmp_path: Path, recalculated: Callable[..., Any]) -> None:
    pages, made = tmp_path / "pages.xlsx", recalculated("plant demo")
    assert not made.report.issues
    write_submittal(made.path, pages, proof=False)
    shown = cover(pages)
    assert shown["In one line"].startswith(("FAIL: ", "NO VERDICT: "))
    assert "Transformers" in shown["Equipment checks"]
    assert "Network" in shown["Inputs"]
    assert "not calculated again" in shown["Results"]


def test_the_case_in_view_does_not_change_the_outcome(
    recalculated: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(case_outcomes, "CASES", 2)
    outcomes = []
    shown = recalculated("plant demo").path
    names = load_workbook(shown, data_only=True)
    ((sheet, cell),) = names.defined_names[VIEW_CASE].destinations
    assert names[sheet][cell.replace("$", "")].value == 1
    for book in (shown, recalculated("plant demo", (sheet, cell.replace("$", ""), 2)).path):
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


def test_comparison_keeps_what_its_charts_show(tmp_path: Path, recalculated: Callable[..., Any]) -> None:
    book, pages = recalculated("front_end_comparison").path, tmp_path / "pages.xlsx"
    source = write_submittal(book, pages)
    assert source.proven is not None
    assert source.proven > 10_000
    made = load_workbook(pages)
    assert made["Workings"].sheet_state == "hidden"
    assert len(made["Comparison"]._charts) == 2
    assert made["Workings"]["B10"].value == pytest.approx(
        load_workbook(book, data_only=True)["Workings"]["B10"].value
    )
