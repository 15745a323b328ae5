"""A drive in a row that was inserted between a table and what is watched around it is named.

Spreadsheet programs push both sides apart, so that neither holds the row. The template is built here.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from openpyxl import Workbook

from tests.trust.test_left_out_elsewhere import content
from xlcalc.files.books import outside
from xlcalc.recalc.leftout import left_out


def framed() -> Workbook:
    book = Workbook()
    outside.frame(book, book.worksheets[0], "drives", bottom=510, width=25, above="D1:Y9")
    return book


def test_every_frame_names_its_seams() -> None:
    book = framed()
    seams = {name: book.defined_names[name].attr_text for name in book.defined_names if "seam" in name}
    assert seams == {
        "seam_drives_below": "Sheet!$A$510:$Y$511",
        "seam_drives_above": "Sheet!$D$9:$Y$10",
    }


@pytest.mark.parametrize("row", [511, 514])
def test_a_row_below_the_room_is_named(row: int) -> None:
    book = replace(content("drive_study"))
    own = {name: text for (sheet, name), text in book.names.items() if not sheet}
    moved = {**own, "seam_drives_below": "Drives!$A$510:$Y$516"}
    drives = next(sheet for sheet in book.sheets if sheet.name == "Drives")
    cells = {(r, c): value for r, c, value in drives.constants} | {(row, 4): 500.0}
    read = {sheet.name: (dict) for sheet in book.sheets} | {"Drives": lambda: cells}
    found = [fault.sentence for fault in left_out(read, moved)]
    assert any(told.startswith(f"Drives!D{row}: data in a row inserted") for told in found), found
    assert not [told for told in (f.sentence for f in left_out(read, own)) if "inserted" in told]
