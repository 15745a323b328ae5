"""Rows typed in Calc, live: in the study, or the sheet itself takes the verdict away and names them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from xlcalc.core import resources
from xlcalc.recalc.recalc import recalculate
from xlcalc.workbooks.drive import drive_study
from xlcalc.workbooks.drive.drives_sheet import HEADER_ROW, PREPARED, ROOM
from xlcalc.workbooks.drive.study_data import read_study
from xlcalc.workbooks.kit import package
from xlcalc.worksheet.catalogue import FUNCTIONS

LETTERS = "ABCDEFGHIJK"
ROW = ["N1", "typed", 1.0, 300.0, "kW", 95.0, "main", 6.0, 3.0, 0.0, 100.0]


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    demo = resources.folder("demo")
    path = tmp_path_factory.mktemp("typed") / "study.xlsx"
    package.save(drive_study.build(read_study(demo / "starter_site.toml", demo / "starter_drives.csv")), path)
    recalculate(path, None, FUNCTIONS)
    return path


def shown(calc: Any, cell: str) -> object:
    return calc.read("PCC", cell)[0][0]


def test_rows_typed_in_calc_count_or_take_the_verdict_away(calc: Any, book: Path) -> None:
    calc.open(str(book))
    assert shown(calc, "C5") == "PASS"
    for row in (HEADER_ROW + 9, HEADER_ROW + PREPARED + 3):
        for letter, value in zip(LETTERS, ROW, strict=True):
            calc.write("Drives", f"{letter}{row}", value if letter != "A" else f"N{row}")
    assert shown(calc, "C10") == "7 typed, 7 in the study"
    assert shown(calc, "C5") == "FAIL"
    below = HEADER_ROW + ROOM + 4
    calc.write("Drives", f"D{below}", 500.0)
    assert shown(calc, "C5") == "NO VERDICT"
    assert shown(calc, "C6") == f"Drives!D{below}: data below the room of the drives is not in the study"
    calc.write("Drives", f"D{below}", "")
    calc.write("Drives", "AA30", 18.0)
    assert str(shown(calc, "C6")).startswith("Drives!AA30: data right of the drives")
    calc.write("Drives", "AA30", "")
    assert shown(calc, "C5") == "FAIL"
    edge = HEADER_ROW + ROOM + 1
    calc.insert_rows("Drives", f"A{edge}:A{edge + 4}")
    calc.write("Drives", f"D{edge + 2}", 500.0)
    assert shown(calc, "C5") == "NO VERDICT"
    assert "data below the room of the drives is not in the study" in str(shown(calc, "C6"))
    calc.close()
