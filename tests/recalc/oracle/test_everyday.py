"""Everyday formulas over a motor list, a cable table and an estimate, against LibreOffice."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import grid
import openpyxl
import pytest
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.table import Table

_LINES = Path(__file__).with_name("everyday_formulas.txt").read_text(encoding="utf-8").splitlines()
FORMULAS = [line for line in _LINES if not line.startswith("#")]

_HEADINGS = ["Tag", "Area", "kW", "Volts", "Amps", "Length", "Qty", "Price", "Installed", "Note"]
_DRIVES = [
    ["P-101", "Pump house", 75, 400, 140.5, 35, 2, 8250.5, date(2023, 3, 15), "duty"],
    ["P-102", "Pump house", 75, 400, 140.5, 42.5, 1, 8250.5, date(2023, 4, 1), "standby"],
    ["F-201", "Boiler", 110, 400, 205, 80, 1, 11900, date(2022, 12, 31), None],
    ["F-202", "Boiler", 132, 690, 139, 95, 1, 14350.25, date(2024, 2, 29), "duty"],
    ["C-301", "Conveyor", 22, 400, 43, 120, 4, 2890, date(2021, 7, 20), "350 mm"],
    ["C-302", "Conveyor", 7.5, 400, 15.2, 15, 6, 1210.1, date(2021, 7, 21), "spare"],
    ["M-401", "Mill", 250, 690, 262, 60, 1, 31000, None, "24 pulse"],
    ["M-402", "mill", 315, 690, 330, 60, 1, 38500, date(2024, 1, 10), "TBC"],
    ["X-501", "Yard", "TBC", 400, None, 25, 1, None, None, "on hold"],
    ["X-502", "Yard", 0, 400, 0, 0, 0, 0, date(2020, 1, 1), " "],
]
_CABLES = [
    (2.5, 24, 1.1), (4, 32, 1.8), (6, 41, 2.6), (10, 57, 4.2), (16, 76, 6.6),
    (25, 96, 10.1), (35, 119, 14), (50, 144, 19.5), (70, 184, 27), (95, 223, 37),
]  # fmt: skip
_LOADS = [12.5, 14, 13.25, 30, 55.5, 80, 76, 81.5, 60, 33, 21, 15]
_ITEMS = [
    ["Cable tray", "m", 35.5, 120],
    ["Gland", "ea", 12.25, 64],
    ["Junction box", "ea", 88, 9],
    ["Cable tray", "m", 35.5, 30],
    ["Label", "ea", 1.75, 300],
]
_ITEM_HEADINGS = ["Item", "Unit", "Rate", "Count", "Amount"]
_VALUES = [
    0.1, 0.2, 0.3, "12.5 kW", "3x25 mm2", "  P-101  ", "2024-03-15", date(2024, 3, 15), "15", None, '=""',
    "M-401", "boiler", 1e-17, 100.00000000000001, 1 / 3, True, "x", -2.5, 0,
]  # fmt: skip
_NAMES = {
    "Diversity": "0.8",
    "Amps": "Drives!$E$2:$E$11",
    "kW": "Drives!$C$2:$C$11",
    "Tags": "Drives!$A$2:$A$11",
    "Areas": "Drives!$B$2:$B$11",
    "SizeList": "Tables!$A$2:$A$11",
    "AmpList": "Tables!$B$2:$B$11",
    "Title": '"Motor list"',
    "LastRow": "COUNTA(Drives!$A:$A)",
    "DynAmps": "OFFSET(Drives!$E$2,0,0,COUNTA(Drives!$A:$A)-1,1)",
}
_NEWER = re.compile(rf"(?<![\w.])({'|'.join(map(re.escape, grid.NEWER))})\(")
_COLUMN = 4


def _book(path: Path) -> None:
    book = openpyxl.Workbook()
    drives = book.worksheets[0]
    drives.title = "Drives"
    drives.append([*_HEADINGS, "Total kW"])
    for row, values in enumerate(_DRIVES, 2):
        drives.append([*values, f"=C{row}*G{row}"])
    tables = book.create_sheet("Tables")
    tables.append(["Size", "Amps", "Price/m", "mm", "From", "Rate", None, "Hour", "Load", None, "Area"])
    for row, (size, amps, price) in enumerate(_CABLES):
        tables.append([size, amps, price, size * 1.1, row * 1000, 0.05 + 0.01 * row])
    for row, load in enumerate(_LOADS, 2):
        tables.cell(row, 8, (row - 2) * 2)
        tables.cell(row, 9, load)
    tables["K2"] = "Boiler"
    estimate = book.create_sheet("Estimate")
    estimate.append(_ITEM_HEADINGS)
    for values in _ITEMS:
        estimate.append([*values, "=Items[[#This Row],[Rate]]*Items[[#This Row],[Count]]"])
    table = Table(displayName="Items", ref="A1:E6")
    estimate.add_table(table)
    table._initialise_columns()
    for column, heading in zip(table.tableColumns, _ITEM_HEADINGS, strict=True):
        column.name = heading
    for name, text in _NAMES.items():
        book.defined_names[name] = DefinedName(name, attr_text=text)
    calc = book.create_sheet("Calc")
    for row, value in enumerate(_VALUES, 1):
        calc.cell(row, 1, value)
    for row, formula in enumerate(FORMULAS, 1):
        text = "=" + _NEWER.sub(r"_xlfn.\1(", formula.strip("{}") if formula[0] == "{" else formula)
        place = calc.cell(row, _COLUMN)
        calc[place.coordinate] = ArrayFormula(place.coordinate, text) if formula[0] == "{" else text
    book.save(path)


@pytest.fixture(scope="module")
def compared(tmp_path_factory: pytest.TempPathFactory, office: str):
    source = tmp_path_factory.mktemp("everyday") / "book.xlsx"
    _book(source)
    cells = {formula: f"D{row}" for row, formula in enumerate(FORMULAS, 1)}
    return grid.beside(source, office, "Calc", cells)


@pytest.mark.parametrize("formula", FORMULAS)
def test_agrees(formula: str, compared) -> None:
    refused, ours, theirs = compared[formula]
    assert refused is None
    assert grid.same(ours, theirs), (ours, theirs)
