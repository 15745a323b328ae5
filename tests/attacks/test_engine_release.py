"""A calculation leaves nothing behind: no engine outlives the recalculation that made it."""

from __future__ import annotations

import gc
import weakref
from pathlib import Path

from openpyxl import Workbook

from xlcalc.recalc.evaluation import calculation
from xlcalc.recalc.evaluation.calling import elementwise
from xlcalc.recalc.evaluation.engine import Engine
from xlcalc.recalc.recalc import recalculate
from xlcalc.worksheet.catalogue import FUNCTIONS


def test_no_engine_outlives_its_recalculation(tmp_path: Path, monkeypatch) -> None:
    made: list[weakref.ref[Engine]] = []

    def engine(**given: bool) -> Engine:
        new = Engine(**given)
        made.append(weakref.ref(new))
        return new

    for module in (calculation, elementwise):
        monkeypatch.setattr(module, "Engine", engine)
    book = Workbook()
    sheet = book.active
    for row in range(1, 5):
        sheet.cell(row, 1, row)
    sheet["B1"] = "=HD_SC_AMPS(A1,0.48)"
    sheet["B2"] = "=SUMPRODUCT(ATAN(A1:A4))"
    sheet["B3"] = '=SUMIF(A1:A4,">1",A1:A4)'
    sheet["B4"] = "=NA()"
    sheet["B5"] = '=SUMIF(A1:A4,">1",B1:B4)'
    book.save(tmp_path / "b.xlsx")
    recalculate(tmp_path / "b.xlsx", None, FUNCTIONS)
    gc.collect()
    assert len(made) >= 2
    assert all(reference() is None for reference in made)
