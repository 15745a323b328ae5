"""Names of sheets that differ from others only in their case, or that mean something to programs.

The engine keeps a sheet called Sheet1 of its own; a sheet1 of the workbook was read as that empty one.
"""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from xlcalc.recalc.recalc import recalculate


@pytest.mark.parametrize(
    "name", ["sheet1", "SHEET1", "Sheet1", "sheet2", "_XLC", "true", "A1", "1e5", "r1c1", "ﬁ"]
)
@pytest.mark.parametrize("first", [True, False])
def test_cells_of_a_sheet_are_read_whatever_its_name(name: str, first: bool, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = name
    other = book.create_sheet("Other", 0 if not first else 1)
    sheet["B1"], sheet["B2"] = 5, "five"
    sheet["A1"] = '=B1&"!"'
    sheet["A2"] = f"=SUM('{name}'!B1:B1)*2"
    sheet["A3"] = "=VLOOKUP(5,$B$1:$C$2,1,FALSE)+COUNTIF($B$1:B1,5)"
    other["A1"] = f"='{name}'!B1+1"
    other["A2"] = f"=INDIRECT(\"'{name}'!B2\")&COUNTIF('{name}'!$B$1:$B$2,5)"
    book.save(tmp_path / "book.xlsx")
    report = recalculate(tmp_path / "book.xlsx", tmp_path / "out.xlsx", {})
    assert [issue.reason for issue in report.issues] == []
    shown = openpyxl.load_workbook(tmp_path / "out.xlsx", data_only=True)
    assert [shown[name][cell].value for cell in ("A1", "A2", "A3")] == ["5!", 10, 6]
    assert [shown["Other"][cell].value for cell in ("A1", "A2")] == [6, "five1"]
