"""An engineer's own workbook: own layout, ordinary formulas, our functions, a name, two sheets, a table."""

from __future__ import annotations

import openpyxl
import pytest
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.table import Table, TableColumn, TableFormula

DRIVES = [("P-101", 75.0, 0.82), ("P-102", 30.0, 0.75), ("K-201", 250.0, 0.9), ("E-301", 15.0, 0.6)]


@pytest.fixture
def workbook() -> openpyxl.Workbook:
    book = openpyxl.Workbook()
    site = book.worksheets[0]
    site.title = "Site data"
    site["B2"], site["C2"] = "Line voltage, V", 480.0
    site["B3"], site["C3"] = "Spare", 0.15
    book.defined_names["Volts"] = DefinedName("Volts", attr_text="'Site data'!$C$2")
    book.defined_names["Spare"] = DefinedName("Spare", attr_text="'Site data'!$C$3")
    book.defined_names["Loads"] = DefinedName("Loads", attr_text="Drives[kW running]")
    sheet = book.create_sheet("Schedule")
    sheet["A1"] = "Drive list"
    for column, title in enumerate(["Tag", "kW", "Load factor", "kW running", "Amps"], 2):
        sheet.cell(3, column, title)
    for row, drive in enumerate(DRIVES, 4):
        for column, value in enumerate(drive, 2):
            sheet.cell(row, column, value)
        sheet.cell(row, 5, "=Drives[[#This Row],[kW]]*Drives[[#This Row],[Load factor]]")
        sheet.cell(row, 6, f"=E{row}*1000/(SQRT(3)*Volts*0.95)")
    table = Table(displayName="Drives", ref="B3:F7")
    table._initialise_columns()
    for column, title in zip(
        table.tableColumns, ["Tag", "kW", "Load factor", "kW running", "Amps"], strict=True
    ):
        assert isinstance(column, TableColumn)
        column.name = title
    table.tableColumns[3].calculatedColumnFormula = TableFormula(attr_text="Drives[[#This Row],[kW]]")
    sheet.add_table(table)
    result = book.create_sheet("Result")
    result["A1"] = "=SUM(Drives[kW running])"
    result["A2"] = "=A1*(1+Spare)"
    result["A3"] = "=X_TOTAL(Drives[[kW]:[Load factor]])"
    result["A4"] = "=INDEX(Drives[Tag],MATCH(MAX(Drives[kW]),Drives[kW],0))"
    result["A5"] = '=IF(A2>300,"larger transformer","ok")'
    result["A6"] = "=Schedule!F4"
    result["A7"] = "=AVERAGE(Loads)"
    result["A8"] = '=COUNTIF(Drives[Load factor],">0.7")&" of "&ROWS(Drives)'
    result["A9"] = "=X_TOTAL(Volts,Spare,Loads)"
    return book


def test_values(workbook: openpyxl.Workbook, recalculated) -> None:
    result = recalculated(workbook)
    running = [kw * factor for _, kw, factor in DRIVES]
    assert not result.report.issues
    assert result["Schedule!E4:E7"] == [[pytest.approx(value)] for value in running]
    amps = [value * 1000 / (3**0.5 * 480 * 0.95) for value in running]
    assert result["Schedule!F4:F7"] == [[pytest.approx(value)] for value in amps]
    assert result["Result!A1"] == pytest.approx(sum(running))
    assert result["Result!A2"] == pytest.approx(sum(running) * 1.15)
    assert result["Result!A3"] == pytest.approx(sum(kw + factor for _, kw, factor in DRIVES))
    assert result["Result!A4"] == "K-201"
    assert result["Result!A5"] == "larger transformer"
    assert result["Result!A6"] == pytest.approx(amps[0])
    assert result["Result!A7"] == pytest.approx(sum(running) / 4)
    assert result["Result!A8"] == "3 of 4"
    assert result["Result!A9"] == pytest.approx(480.15 + sum(running))


def test_report_counts(workbook: openpyxl.Workbook, recalculated) -> None:
    report = recalculated(workbook).report
    assert (report.formulas, report.evaluated, report.changed) == (17, 17, 17)
    assert (report.own_calls, report.distinct_calls) == (2, 2)
    assert list(report.seconds) == ["read", "prepare", "evaluate", "collect", "write"]


def test_second_run_changes_nothing(workbook: openpyxl.Workbook, recalculated) -> None:
    first = recalculated(workbook)
    second = recalculated(first.path)
    assert second.report.changed == 0
