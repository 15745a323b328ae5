"""Every shipped template, opened and edited in Calc: each cell shows what the headless path computes.

No list of templates is kept here: the first rating of a drive, or the demand current, is an input of all.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.cell import Cell
from openpyxl.workbook import Workbook

from xlcalc.core import resources
from xlcalc.recalc.recalc import recalculate
from xlcalc.worksheet.catalogue import FUNCTIONS

INPUTS = ("Rating", "Demand (amps)")


def rating(book: Workbook) -> Cell:
    """The first rating of a drive, or demand current: right of its label or below its heading."""
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for label in row:
                if label.value in INPUTS:
                    for near in (
                        sheet.cell(label.row, label.column + 1),
                        sheet.cell(label.row + 1, label.column),
                    ):
                        if not near.protection.locked and isinstance(near.value, int | float):
                            return near
    raise AssertionError(f"no input {INPUTS} to change")


def differences(book: Workbook, calc: Any) -> Iterator[tuple[str, Any, Any]]:
    for sheet in book.worksheets:
        for mine, theirs in zip(sheet, calc.read(sheet.title, sheet.dimensions), strict=True):
            for cell, shown in zip(mine, theirs, strict=True):
                if not same(cell.value, shown["error"] if isinstance(shown, dict) else shown):
                    yield f"{sheet.title}!{cell.coordinate}", cell.value, shown


def same(ours: object, theirs: object) -> bool:
    if isinstance(ours, bool | int | float) and isinstance(theirs, int | float):
        return theirs == pytest.approx(float(ours), rel=1e-6, abs=1e-9)
    return (ours or "") == (theirs or "") or not isinstance(ours, str | int | float)


def values(book: Workbook) -> list[object]:
    return [cell.value for sheet in book.worksheets for row in sheet for cell in row]


@pytest.mark.parametrize("name", resources.template_names())
def test_edited_template_shows_in_calc_what_headless_computes(name: str, calc: Any, tmp_path: Path) -> None:
    path, edited = tmp_path / "study.xlsx", tmp_path / "edited.xlsx"
    shutil.copy(resources.template(name), path)
    book = openpyxl.load_workbook(path)
    cell = rating(book)
    cell.value *= 0.8
    book.save(edited)
    report = recalculate(edited, None, FUNCTIONS)
    assert report.own_calls > 0
    ours = openpyxl.load_workbook(edited, data_only=True)
    before = values(openpyxl.load_workbook(path, data_only=True))
    assert sum(a != b for a, b in zip(values(ours), before, strict=True)) > 2
    calc.open(str(path))
    assert not calc.modified()
    calc.write(cell.parent.title, cell.coordinate, float(cell.value))
    different = list(differences(ours, calc))
    calc.close()
    assert not different, f"{len(different)} cells differ, first {different[:8]}"
