"""References of every kind, hidden and filtered rows, against LibreOffice."""

from __future__ import annotations

from pathlib import Path

import grid
import openpyxl
import pytest
from openpyxl.workbook.defined_name import DefinedName

FORMULAS = [
    line
    for line in Path(__file__).with_name("places.txt").read_text(encoding="utf-8").splitlines()
    if not line.startswith("#")
]
_FIRST = 21
_NAMES = {"Two": "Calc!$A$2:$A$4,Calc!$C$2:$C$4", "Band": "Calc!$A$4:$C$4", "Column": "Calc!$C$2:$C$9"}


def _book(path: Path) -> None:
    book = openpyxl.Workbook()
    for number, name in enumerate(("First", "Second", "Third"), 1):
        sheet = book.worksheets[0] if number == 1 else book.create_sheet(name)
        sheet.title = name
        for row in range(1, 6):
            sheet.append([row * number, f"t{row}", row * 10 + number])
    calc = book.create_sheet("Calc")
    calc.append(["Number", "Kind", "Value"])
    for row in range(2, 12):
        calc.append([row, "x" if row == 7 else row % 3, row * 1.5])
    calc["A12"], calc["C12"] = "=SUBTOTAL(9,A2:A6)", "=SUBTOTAL(1,C2:C6)"
    for row in (3, 5):
        calc.row_dimensions[row].hidden = True
    for row, formula in enumerate(FORMULAS, _FIRST):
        calc.cell(row, 6, grid.written(formula))
    filtered = book.create_sheet("Filtered")
    filtered.append(["Kind", "Value"])
    filtered.auto_filter.ref = "A1:B11"
    filtered.auto_filter.add_filter_column(0, ["0"])
    for row in range(2, 12):
        filtered.append([row % 2, row])
        filtered.row_dimensions[row].hidden = row % 2 == 1
    for name, text in _NAMES.items():
        book.defined_names[name] = DefinedName(name, attr_text=text)
    book.save(path)


@pytest.fixture(scope="module")
def compared(tmp_path_factory: pytest.TempPathFactory, office: str):
    source = tmp_path_factory.mktemp("places") / "book.xlsx"
    _book(source)
    cells = {formula: f"F{row}" for row, formula in enumerate(FORMULAS, _FIRST)}
    return grid.beside(source, office, "Calc", cells)


@pytest.mark.parametrize("formula", FORMULAS)
def test_agrees(formula: str, compared) -> None:
    refused, ours, theirs = compared[formula]
    assert refused is None
    assert grid.same(ours, theirs), (ours, theirs)
