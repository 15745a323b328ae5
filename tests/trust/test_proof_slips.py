"""Slips in the sheets of a field proof: what is pasted or typed there and cannot be so has no verdict.

The formulas stand in a small workbook with few values, which is enough. What is expected follows from
the slip. Values are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.workbook.defined_name import DefinedName

from xlcalc.recalc.recalc import recalculate
from xlcalc.workbooks.proof import doubts, values_sheet
from xlcalc.workbooks.proof import proof_names as here
from xlcalc.worksheet.catalogue import FUNCTIONS

Change = Callable[[Any, Any], None]
KNOWN = 6


def column(number: int, value: Callable[[float], float | str], phases: tuple[int, ...] = (0, 1, 2)) -> Change:
    """Another value for every number of a column of the values."""

    def change(values: Any, days: Any) -> None:
        for phase in phases:
            first = values_sheet.rows_of(phase)[0]
            for row in range(first, first + KNOWN):
                values.cell(row, number, value(values.cell(row, number).value))

    return change


def day(row: int, number: int, value: object) -> Change:
    return lambda values, days: days.cell(row, number, value)


def dead(values: Any, days: Any) -> None:
    first = values_sheet.rows_of(1)[0]
    for row in range(first, first + KNOWN):
        for order in range(2, 51):
            values.cell(row, values_sheet.column_of(order), 0)


SLIPS: dict[str, tuple[Change, str]] = {
    "3 s values as those of 10 minutes": (column(1, lambda hours: hours / 200), "do not rise by 10 minutes"),
    "hours in days": (column(1, lambda hours: hours / 24), "do not rise by 10 minutes"),
    "hours in seconds": (column(1, lambda hours: hours * 3600), "more than a week"),
    "hours as text": (column(1, lambda hours: f"{hours} h"), "hours are missing"),
    "a phase twice": (column(2, lambda phase: "a"), "hold the same phase"),
    "rows of another phase": (lambda values, days: values.cell(8, 2, "b"), "rows of another"),
    "a channel that is not connected": (dead, "every order of a phase is 0"),
    "TDD as fractions": (column(3, lambda total: total / 100, (1,)), "typed as a fraction"),
    "a base of another level": (column(4, lambda first: first / 26), "below 5 % of IL"),
    "a day twice": (day(2, 1, "1, b"), "a day and phase stands twice"),
    "a day less": (lambda values, days: days.delete_rows(21), "3 s values of 20 of the 21 days and phases"),
    "a share as a fraction": (day(4, 3, 0.8), "is it typed as a fraction"),
    "a share below nought": (day(4, 3, -80), "is it typed as a fraction"),
    "a day without its verdict": (day(5, 4, "NO VERDICT"), "lacks some of its 28800 values"),
}


def told(folder: Path, change: Change) -> tuple[str, str]:
    """The two doubts of a workbook with the slip."""
    book = Workbook()
    values, days = book.create_sheet(here.VALUES), book.create_sheet("Days")
    for phase, name in enumerate("abc"):
        for k in range(KNOWN):
            row = values_sheet.rows_of(phase)[0] + k
            for number, value in enumerate((k / 6, name, 10.0, 60.0, 0.1, 0.1, 0.1, 10.0), start=1):
                values.cell(row, number, value)
    for row in range(1, 22):
        for number, value in enumerate(
            (f"{(row + 2) // 3}, {'abc'[row % 3]}", 28_800, 80.0, "PASS"), start=1
        ):
            days.cell(row, number, value)
    days["F1"], days["F2"] = 200, 200
    change(values, days)
    areas = {here.DAY_INPUTS: "$A$1:$C$21", here.DAY_WORDS: "$D$1:$D$21", here.IL: "$F$1", here.BASE: "$F$2"}
    for name, area in areas.items():
        book.defined_names[name] = DefinedName(name, attr_text=f"Days!{area}")
    days["G1"], days["G2"] = f"={doubts.of_values()}", f"={doubts.of_days()}"
    book.save(folder / "a.xlsx")
    recalculate(folder / "a.xlsx", folder / "b.xlsx", FUNCTIONS)
    found = load_workbook(folder / "b.xlsx", data_only=True)["Days"]
    return found["G1"].value or "", found["G2"].value or ""


def test_a_record_without_a_slip(tmp_path: Path) -> None:
    assert told(tmp_path, lambda values, days: None) == ("", "")


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_is_told(tmp_path: Path, name: str) -> None:
    change, said = SLIPS[name]
    assert said in " ".join(told(tmp_path, change))
