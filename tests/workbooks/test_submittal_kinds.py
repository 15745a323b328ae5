"""A submittal of every kind of workbook: plant study, choice, comparison of front ends."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from openpyxl import load_workbook

from xlcalc import resources
from xlcalc.hosts.headless.recalc import recalculate
from xlcalc.workbooks.plant_demo import build_plant_demo
from xlcalc.workbooks.submittal import write_submittal
from xlcalc.workbooks.submittal_pages import COVER
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
    assert shown["In one line"].startswith(("PASS: TDD", "FAIL: TDD"))
    assert "Transformers" in shown["Equipment checks"]
    assert "Network" in shown["Inputs"]
    assert "not calculated again" in shown["Results"]


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
