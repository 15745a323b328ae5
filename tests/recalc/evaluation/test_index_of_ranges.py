"""INDEX of a range beside other formulas of the same pattern, and as an operand inside AND, OR and SUM.

Expected values as LibreOffice 7.4 shows them. INDEX of several rows and columns by one number is #REF! in
Excel (function description, from memory) and a row in LibreOffice: refused.
"""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from xlcalc.recalc.recalc import recalculate

ROWS = ("a", "b", None, "c")
SEVERAL = "INDEX of several rows and columns by one number"
SHOWN = {
    "C1": ("=INDEX(A1:A4,2)", "b"),
    "C2": ("=INDEX(A1:B1,2)", 10),
    "C3": ('=AND(INDEX(A1:A4,1)="a",TRUE)', True),
    "C4": ('=OR(INDEX(A1:A4,MATCH("c",A1:A4,0))="c",FALSE)', True),
    "C5": ("=SUM(INDEX(B1:B4,2)*2,1)", 41),
    "C6": ('=AND(INDEX(A1:B4,2,1)="b",TRUE)', True),
    "C7": ("=AND(LEN(INDEX(A1:A4,1))>0,INDEX(A1:A4,1)=INDEX(A1:A4,2))", False),
    "C8": ("=MAX(INDEX((B1:B4>10)*ROW(B1:B4),0))", 4),
    "C9": ("=SUM(B1:B1048576)", 100),
    "C10": ("=SUM(B1:B2)", 30),
}
REFUSED = {
    "D1": ("=INDEX(A1:B4,2)", SEVERAL),
    "D2": ('=AND(INDEX(A1:B4,1)="a",TRUE)', SEVERAL),
    "D3": ('=AND(INDEX(A1:A4,0)="a",TRUE)', "several values where the file's formula shows one"),
    "D4": ("=SUM(INDEX(B1:B4,Z9)*2,1)", "several values where the file's formula shows one"),
}


@pytest.mark.parametrize("reverse", [False, True])
def test_ranges_of_one_pattern_are_told_apart(tmp_path: Path, reverse: bool) -> None:
    """Whichever of the formulas comes first in the sheet."""
    book = openpyxl.Workbook()
    for row, text in enumerate(ROWS, start=1):
        book.active.cell(row, 1, text)
        book.active.cell(row, 2, 10 * row)
    where = {}
    for number, (cell, (formula, _)) in enumerate((*SHOWN.items(), *REFUSED.items())):
        row = 40 - number if reverse else 6 + number
        book.active.cell(row, 5, formula)
        where[cell] = f"E{row}"
    book.save(path := tmp_path / "book.xlsx")
    report = recalculate(path, None, {})
    sheet = openpyxl.load_workbook(path, data_only=True).active
    assert {cell: sheet[where[cell]].value for cell in SHOWN} == {cell: v for cell, (_, v) in SHOWN.items()}
    reasons = {issue.cell: issue.reason for issue in report.issues}
    assert {cell: reasons.get(where[cell]) for cell in REFUSED} == {c: why for c, (_, why) in REFUSED.items()}
