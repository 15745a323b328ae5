"""Names that stand for no range or for a whole sheet, and texts that no workbook can hold: no fault."""

from __future__ import annotations

import os
import re
import shutil
import sys
import time
import zipfile
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from openpyxl import load_workbook

from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.files.errors import WorkbookFileError
from xlcalc.io.lists.xlsx_table import read_drives
from xlcalc.recalc.reader import read_book
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.workbooks.drive.summary import read_summary
from xlcalc.workbooks.pages.submittal_source import CalculationStamp, read_source

CONTENTS = ("#REF!", "Nowhere!$A$1", "PCC!$A$1,PCC!$B$2", "PCC!$A$1:$XFD$1048576")
TERMS = """
money = { currency = "USD", "price per kwh" = 0.11, years = 8, "hours per year" = 5500 }
choice = { "margin pct" = 10 }
"""


def edited(target: Path, pattern: str, new: str) -> Path:
    """The drive study, stamped as calculated, with one change in its workbook part."""
    with zipfile.ZipFile(resources.template("drive_study")) as old, zipfile.ZipFile(target, "w") as book:
        book.comment = b"xlcalc 0.1.0 2026-01-01T00:00:00Z"
        for name in old.namelist():
            content = old.read(name)
            if name == "xl/workbook.xml":
                content, count = re.subn(pattern.encode(), new.encode(), content, count=1)
                assert count == 1
            book.writestr(name, content)
    return target


@pytest.mark.parametrize("content", CONTENTS)
def test_a_name_for_anything_else_than_a_range_is_refused_or_read_at_once(tmp_path, content):
    begun = time.process_time()
    for name, read in (
        ("study_verdict", lambda path: read_source(path, proof=False)),
        ("pcc_tdd", read_summary),
        ("drive_inputs", read_drives),
    ):
        path = edited(tmp_path / "b.xlsx", f'name="{name}">[^<]*<', f'name="{name}">{content}<')
        try:
            read(path)
        except (InputError, WorkbookFileError) as refused:
            text = str(refused)
            if "\n" in text:
                pytest.fail(text)
    assert time.process_time() - begun < 30


@pytest.mark.parametrize("scope", ["²", "-1", "9" * 5000])
def test_a_name_of_no_sheet_is_left_out(tmp_path, scope):
    path = edited(tmp_path / "b.xlsx", 'localSheetId="0"', f'localSheetId="{scope}"')
    assert read_book(WorkbookPackage.open(path), plain=True).names


@pytest.mark.skipif(sys.platform == "win32", reason="needs names of files with any byte")
def test_files_whose_names_are_no_text(start, site):
    """A control character, a byte that is no text, and one that begins a formula."""
    (site / "terms.toml").write_text(TERMS, encoding="utf-8")
    choose = ("choose", "site.toml", "--drives", "drives.csv", "--terms", "terms.toml", "-o", "o.xlsx")
    assert start(*choose, "--front", "0", "--runners", "0", "--seconds", "1").code == 0
    for number, (name, shown) in enumerate(
        ((b"a\x01b.xlsx", "a\ufffdb.xlsx"), (b"a\xff.xlsx", "a\ufffd.xlsx"), (b"=1+1.xlsx", "=1+1.xlsx"))
    ):
        book = os.fsdecode(name)
        shutil.copy(site / "o.xlsx", site / book)
        done = start("submittal", book, "-o", f"p{number}.xlsx")
        assert done.code == 0, done.err
        cover = load_workbook(site / f"p{number}.xlsx")["Submittal"]
        cell = next(row[1] for row in cover.iter_rows() if row[0].value == "Workbook")
        assert (cell.value, cell.data_type) == (shown, "s")


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="needs time zones by environment")
def test_a_time_zone_that_is_none(monkeypatch):
    with monkeypatch.context() as patch:
        patch.setenv("TZ", "XXX99")
        time.tzset()
        moment = CalculationStamp("0.1.0", "2026-01-05", "12:00:00").moment
    time.tzset()
    assert abs(moment - datetime(2026, 1, 5, 12)) < timedelta(days=6)
