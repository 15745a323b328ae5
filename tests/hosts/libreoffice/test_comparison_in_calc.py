"""The comparison of front ends in Calc with the functions: an edited drive changes it as headless does."""

from __future__ import annotations

import shutil

import openpyxl
import pytest

from xlcalc.core import resources
from xlcalc.recalc.recalc import recalculate
from xlcalc.worksheet.catalogue import FUNCTIONS

COMPARED = (("Comparison", "A4:J19"), ("Workings", "B6:J26"))


@pytest.mark.parametrize("limit", ["IEEE 519", "own limits"])
def test_editing_the_drive_recalculates_the_comparison_as_headless_does(calc, tmp_path, limit):
    path = tmp_path / "comparison.xlsx"
    shutil.copy(resources.template("front_end_comparison"), path)
    book = openpyxl.load_workbook(path)
    calc.open(str(path))
    assert not calc.modified()
    for name, value in (("in_rating", 120.0), ("in_limit", limit)):
        ((sheet, cell),) = book.defined_names[name].destinations
        book[sheet][cell.replace("$", "")].value = value
        calc.write(sheet, cell.replace("$", ""), value)
    edited = tmp_path / "edited.xlsx"
    book.save(edited)
    recalculate(edited, None, FUNCTIONS)
    ours = openpyxl.load_workbook(edited, data_only=True)
    numbers = texts = 0
    for name, cells in COMPARED:
        for mine, theirs in zip(ours[name][cells], calc.read(name, cells), strict=True):
            for cell, shown in zip(mine, theirs, strict=True):
                if isinstance(cell.value, int | float):
                    assert shown == pytest.approx(cell.value, rel=1e-6, abs=1e-9), f"{name}!{cell.coordinate}"
                    numbers += 1
                elif cell.value:
                    assert shown == cell.value, f"{name}!{cell.coordinate}"
                    texts += 1
    assert numbers > 200
    assert texts > 50
    calc.close()
