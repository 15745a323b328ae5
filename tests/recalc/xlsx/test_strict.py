"""Workbooks in the strict variant of ISO/IEC 29500 stay strict; LibreOffice opens the result."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
import xlsxwriter

from xlcalc.recalc.reader import stored_values
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.xlsx.package import WorkbookPackage

STRICT = {
    b"http://schemas.openxmlformats.org/spreadsheetml/2006/main": (
        b"http://purl.oclc.org/ooxml/spreadsheetml/main"
    ),
    b"http://schemas.openxmlformats.org/officeDocument/2006/relationships": (
        b"http://purl.oclc.org/ooxml/officeDocument/relationships"
    ),
}
"""Names of namespaces: ISO/IEC 29500-4 and 29500-1, annex A."""

DAY = b'<c r="C1" t="d"><v>2024-03-15T12:00:00</v></c></row>'


@pytest.fixture
def strict_book(tmp_path: Path) -> Path:
    plain, made = tmp_path / "plain.xlsx", tmp_path / "strict.xlsx"
    with xlsxwriter.Workbook(str(plain)) as book:
        sheet = book.add_worksheet("Data")
        sheet.write_row("A1", [2, "http://purl.oclc.org/ooxml/spreadsheetml/main"])
        sheet.write_formula("A2", "=A1*3", None, 0)
        sheet.write_formula("B2", "=UPPER(B1)", None, "")
        sheet.write_formula("C2", "=YEAR(C1)+HOUR(C1)", None, 0)
        sheet.write_array_formula("A4:A5", "{=A1:A2+1}", None, 0)
        sheet.add_table("E1:F3", {"name": "T", "columns": [{"header": "x"}, {"header": "y"}]})
        sheet.write_formula("A3", "=COUNT(T[x])", None, 9)
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name)
            for other, strict in STRICT.items():
                data = data.replace(other, strict)
            if name.endswith("sheet1.xml"):
                data = data.replace(b"</row>", DAY, 1)
            new.writestr(name, data)
    return made


def test_a_strict_workbook_is_recalculated_and_stays_strict(strict_book, tmp_path, calculator) -> None:
    out, shown = tmp_path / "out.xlsx", tmp_path / "shown.xlsx"
    report = recalculate(strict_book, out, {}, reasons_sheet=True)
    assert report.clean
    with zipfile.ZipFile(strict_book) as old, zipfile.ZipFile(out) as new:
        untouched = {"xl/styles.xml", "xl/sharedStrings.xml", "xl/tables/table1.xml"}
        assert all(old.read(name) == new.read(name) for name in untouched)
        for name in new.namelist():
            if name.startswith(("xl/", "_rels")):
                assert not any(other in new.read(name) for other in STRICT), name
    calculator.compute(out, shown)
    ours = dict(stored_values(WorkbookPackage.open(out)))["Data"]
    theirs = dict(stored_values(WorkbookPackage.open(shown)))["Data"]
    assert ours == theirs
    assert [ours[cell] for cell in ((2, 1), (2, 3), (3, 1), (4, 1), (5, 1))] == [6.0, 2036.0, 0.0, 3.0, 7.0]
    assert ours[2, 2] == "HTTP://PURL.OCLC.ORG/OOXML/SPREADSHEETML/MAIN"


def test_a_strict_workbook_is_verified(strict_book, tmp_path, calculator) -> None:
    report = recalculate(strict_book, tmp_path / "out.xlsx", {}, witness=calculator)
    assert (report.verification.agreeing, report.verification.differing) == (5, ())
