"""The plant template in Calc with the functions: an edited element changes every sheet as headless does."""

from __future__ import annotations

import shutil

import openpyxl
import pytest

from xlcalc import resources
from xlcalc.hosts.headless.recalc import recalculate
from xlcalc.workbooks import equipment_sheet, power_sheet, transformer_sheet
from xlcalc.worksheet.catalogue import FUNCTIONS

COMPARED = (
    ("Cases", "B14:J53"),
    ("PCC", "D10:F16"),
    ("Impedance", "A34:F43"),
    ("Transformers", f"B{transformer_sheet.FIRST_ROW + 2}:S{transformer_sheet.FIRST_ROW + 5}"),
    *(
        ("Equipment", f"B{row + 2}:N{row + 5}")
        for row in (
            equipment_sheet.CAPACITOR_ROW,
            equipment_sheet.GENERATOR_ROW,
            equipment_sheet.CABLE_ROW,
            equipment_sheet.NOTCH_ROW,
        )
    ),
    ("Power and losses", f"C{power_sheet.FIRST_ROW}:F{power_sheet.LOSS_ROW + 5}"),
)


def test_editing_a_bank_recalculates_the_plant_as_headless_does(calc, tmp_path):
    path = tmp_path / "plant.xlsx"
    shutil.copy(resources.template("plant_study"), path)
    book = openpyxl.load_workbook(path)
    network = book["Network"]
    row = next(row for row in range(1, network.max_row + 1) if network.cell(row, 1).value == "C1")
    calc.open(str(path))
    assert not calc.modified()
    before = calc.read("Cases", "B16")
    calc.write("Network", f"D{row}", 320.0)
    network.cell(row, 4).value = 320.0
    edited = tmp_path / "edited.xlsx"
    book.save(edited)
    recalculate(edited, None, FUNCTIONS)
    ours = openpyxl.load_workbook(edited, data_only=True)
    assert calc.read("Cases", "B16") != before
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
    assert numbers > 300
    assert texts > 50
    calc.close()
