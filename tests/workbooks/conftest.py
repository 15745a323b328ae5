"""Workbooks made from the shipped template, each computed once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from xlcalc.core import resources
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.report import RecalculationReport
from xlcalc.workbooks.build import demo_study
from xlcalc.workbooks.drive.fill import fill_template
from xlcalc.workbooks.drive.study_data import StudyData
from xlcalc.worksheet.catalogue import FUNCTIONS


@pytest.fixture(scope="session")
def template() -> Path:
    return resources.template("drive_study")


@pytest.fixture(scope="session")
def demo_book(recalculated: Callable[..., Any]) -> tuple[Path, RecalculationReport]:
    book = recalculated("demo")
    return book.path, book.report


@pytest.fixture
def filled(template: Path, tmp_path: Path) -> Callable[[StudyData], tuple[Path, RecalculationReport]]:
    def make(data: StudyData) -> tuple[Path, RecalculationReport]:
        path = tmp_path / "filled.xlsx"
        fill_template(template, data, path)
        return path, recalculate(path, None, FUNCTIONS)

    return make


@pytest.fixture(scope="session")
def schedule() -> Callable[[int], tuple[dict[str, object], ...]]:
    """Schedules of any length from the front ends of the demo, with tags of their own."""
    source = demo_study().drives

    def make(rows: int) -> tuple[dict[str, object], ...]:
        return tuple({**source[i % len(source)], "Tag": f"T{i + 1}", "Quantity": 1} for i in range(rows))

    return make
