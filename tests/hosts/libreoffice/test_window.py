"""What Calc tells its user beside values: progress, the reason of an error, sheets locked with a password."""

from __future__ import annotations

import openpyxl
import pytest
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.table import Table

SHEET = "Sheet1"


@pytest.fixture
def shown(calc):
    calc.open(None, False)
    yield calc
    calc.close()


def test_long_recalculation_uses_the_status_bar_and_leaves_it(shown):
    """The function counts as long because the first call of it in this Calc takes a second and more."""
    long = [f"=HD_CREST(18;{1 + n / 1000};3.2;0;90)" for n in range(1200)]
    count, visible = shown.progress(SHEET, "A1:A1200", long)
    assert count > 0
    assert not visible
    short = ["=HD_SC_AMPS(987;69)"]
    assert shown.progress(SHEET, "B1:B1", short) == [0, False]


def test_without_a_window_values_come_as_ever(calc):
    calc.open()
    calc.fill(SHEET, "A1:A2", ["=HD_REACTOR_FOR_THD(30;6;0.5)", "=HD_REACTOR_FOR_THD(31;6;0.5)"])
    first, second = (row[0] for row in calc.read(SHEET, "A1:A2"))
    assert first > second > 0
    calc.close()


def test_reason_of_an_error_and_of_what_depends_on_it(shown):
    shown.write(SHEET, "A1", 7.0)
    shown.write(SHEET, "A2", "=HD_CREST(A1;0.5)")
    shown.write(SHEET, "A3", "=SUM(A2;1)")
    shown.write(SHEET, "A4", "=A3*2")
    shown.write(SHEET, "A5", '=IF(TRUE();HD_CREST(18;"x"))')
    shown.write(SHEET, "A6", "=1/0")
    shown.array(SHEET, "C1:E50", "=HD_IDEAL_SPECTRUM(A1)")
    shown.write(SHEET, "A7", "=D9+1")
    refused = "Sheet1!A1 is 7; valid for pulses: a multiple of 6"
    assert shown.reason(SHEET, "A2").startswith(f"Sheet1.A2: {refused}")
    assert shown.reason(SHEET, "A4").startswith(f"Sheet1.A2: {refused}")
    assert shown.reason(SHEET, "A5").startswith("Sheet1.A5: HD_CREST: source_pct is 'x'")
    assert shown.reason(SHEET, "A7").startswith(f"Sheet1.D9: {refused}")
    assert "look at its own formula" in shown.reason(SHEET, "A6")
    assert shown.steps_to_undo() == 8
    assert shown.reason(SHEET, "A1") == "Sheet1.A1 shows no error."


def test_reason_names_the_typed_cell_behind_names_tables_and_formulas(calc, tmp_path):
    book = openpyxl.Workbook()
    site, drives, result = book.worksheets[0], book.create_sheet("Drive list"), book.create_sheet("Result")
    site.title = "Site"
    names = ("utility kv", "utility mva", "transformer kva", "transformer z pct", "main bus volts")
    for row, (name, value) in enumerate(zip(names, (13.8, 200, 1500, 5.75, 480), strict=True), start=3):
        site.cell(row, 1, name)
        site.cell(row, 2, value)
    site["D1"], site["D2"], site["E2"] = "2022 or so", "edition", '=IF(D1="",2022,D1)'
    rows = (("note", "tag", "rating", "unit", "pulses"), ("x", "P1", "15 HP", "kW", 6))
    for row, line in enumerate(rows, start=4):
        for column, value in enumerate(line, start=2):
            drives.cell(row, column, value)
    drives.add_table(Table(displayName="Motors", ref="B4:F5"))
    book.defined_names["supply"] = DefinedName("supply", attr_text="Site!$A$3:$B$7")
    given = ("'Drive list'!C4:F5,Site!A3:B7", "Motors[[#All],[tag]:[pulses]],supply")
    for row, arguments in enumerate(given, start=1):
        result.cell(row, 1, f'=HD_PCC_VALUE({arguments},"VERDICT")')
        result.cell(row, 2, f'=HD_PCC_VALUE({arguments},"TDD")')
    result["C1"] = '=HD_PCC_VALUE(Site!A3:B7,supply,"TDD",Site!D2:E2)'
    result["C2"] = "=HD_LIMIT_TDD(60,13.8,Site!E2)"
    path = tmp_path / "typed.xlsx"
    book.save(path)
    calc.open(str(path))
    typed = "'Drive list'!D5 is '15 HP', which is no number"
    for cell in ("A1", "A2", "B1", "B2"):
        assert calc.reason("Result", cell).startswith(f"Result.{cell}: {typed}"), calc.reason("Result", cell)
    assert "drives is given a range that looks like site" in calc.reason("Result", "C1")
    assert calc.reason("Result", "C2").startswith("Result.C2: Site!D1 is '2022 or so'")
    assert [row[0] for row in calc.read("Result", "A1:A2")] == ["NO VERDICT", "NO VERDICT"]
    calc.close()


def test_asking_for_a_reason_changes_nothing(calc, tmp_path):
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet["A1"] = "=HD_CREST(7,0.5)"
    sheet["A2"] = ArrayFormula("A2:C9", "=HD_IDEAL_SPECTRUM(7)")
    sheet["A12"] = "=A1+A2"
    sheet.protection.sheet = True
    path = tmp_path / "wrong.xlsx"
    book.save(path)
    calc.open(str(path))
    before = calc.formulas("Sheet", "A1:C12")
    assert calc.reason("Sheet", "A12").startswith("Sheet.A1: HD_CREST: pulses is 7")
    assert calc.reason("Sheet", "B3").startswith("Sheet.B3: HD_IDEAL_SPECTRUM: pulses is 7")
    assert calc.formulas("Sheet", "A1:C12") == before
    assert calc.protected("Sheet")
    assert not calc.modified()
    assert calc.steps_to_undo() == 0
    calc.close()


@pytest.fixture
def locked(tmp_path):
    book = openpyxl.Workbook()
    first, second = book.worksheets[0], book.create_sheet("After")
    first.title = "Locked"
    for sheet in (first, second):
        sheet["A1"] = "=HD_SC_AMPS(1000,69)"
        sheet["B1"] = ArrayFormula("B1:D9", "=HD_IDEAL_SPECTRUM(6)")
    first.protection.sheet = True
    first.protection.password = "invented"
    path = tmp_path / "locked.xlsx"
    book.save(path)
    return path


def test_password_keeps_array_formulas_of_one_sheet_and_the_user_is_told(calc, locked):
    calc.open(str(locked), False)
    assert calc.protected("Locked")
    assert calc.read("Locked", "A1") == calc.read("After", "A1") == [[pytest.approx(8367.4, rel=1e-4)]]
    assert calc.read("After", "C5") == [[pytest.approx(20.0)]]
    assert calc.read("Locked", "C5") == [[{"error": "#NAME?"}]]
    assert "take the protection off" in calc.reason("Locked", "C5")
    assert calc.warned()
    calc.close()
