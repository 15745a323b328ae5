"""The cells of a calculated workbook against the functions themselves and against each other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from xlcalc.recalc.report import RecalculationReport
from xlcalc.schema.values import Grid
from xlcalc.workbooks.build import demo_study
from xlcalc.workbooks.drive import pcc_sheet
from xlcalc.workbooks.drive.study_data import StudyData
from xlcalc.workbooks.drive.summary import read_summary
from xlcalc.worksheet.catalogue import FUNCTIONS

FIRST = pcc_sheet.TABLE_ROW + 2  # of the fundamental

Filler = Callable[[StudyData], tuple[Path, RecalculationReport]]


def named(book: Workbook, name: str) -> Grid:
    ((sheet, cells),) = book.defined_names[name].destinations
    rows = book[sheet][cells.replace("$", "")]
    return [[cell.value for cell in row] for row in rows] if isinstance(rows, tuple) else [[rows.value]]


def inputs(book: Workbook) -> Grid:
    sheet = book["Drives"]
    return [[cell.value for cell in row[:11]] for row in sheet[sheet.tables["Drives"].ref]]


def test_demo_has_no_issue(demo_book: tuple[Path, RecalculationReport]) -> None:
    _, report = demo_book
    assert report.issues == ()
    assert report.evaluated == report.formulas > 1700


def test_demo_covers_the_front_ends_and_is_close_to_its_limit() -> None:
    drives = demo_study().drives
    assert 10 <= len(drives) <= 20
    kinds = {(row["Pulses"], "Line reactor (%)" in row, "DC choke (%)" in row) for row in drives}
    assert kinds >= {
        (6.0, False, False),
        (6.0, True, False),
        (6.0, False, True),
        (6.0, True, True),
        (12.0, False, False),
        (18.0, False, False),
    }
    assert {row["Bus"] for row in drives} == {"main", "second"}
    assert any(row["Quantity"] != 1 for row in drives)
    assert any(row["Load (%)"] != 100 for row in drives)


def test_cells_of_the_pcc_sheet_are_what_the_function_gives(
    demo_book: tuple[Path, RecalculationReport],
) -> None:
    book = load_workbook(demo_book[0], data_only=True)
    arguments = [inputs(book), named(book, "site"), named(book, "study_settings")]
    expected = FUNCTIONS["HD_PCC"](arguments)
    assert isinstance(expected, list)
    sheet = book["PCC"]
    for offset, row in enumerate(expected):
        for column, value in enumerate(row, start=1):
            cell = sheet.cell(FIRST + offset, column).value
            assert cell == (pytest.approx(value) if isinstance(value, float) else value or None)
    drives, site, settings = arguments
    for quantity in ("TDD", "THDV", "ISC_IL", "VERDICT", "WORST"):
        value = FUNCTIONS["HD_PCC_VALUE"]([drives, site, quantity, settings])
        assert read_summary(demo_book[0]).pcc[quantity] == (
            pytest.approx(value) if isinstance(value, float) else value
        )


def test_totals_of_the_table_agree_with_its_rows(demo_book: tuple[Path, RecalculationReport]) -> None:
    """Root of the sum of squares of orders 2 to 50, done here from the cells."""
    sheet = load_workbook(demo_book[0], data_only=True)["PCC"]
    rows = [[cell.value for cell in row] for row in sheet[f"A{FIRST + 1}:H{FIRST + 49}"]]
    for column in (2, 3, 6):
        rss = sum(row[column - 1] ** 2 for row in rows) ** 0.5
        assert sheet.cell(FIRST + 50, column).value == pytest.approx(rss, rel=1e-9)


def test_margins_and_limits_are_consistent(demo_book: tuple[Path, RecalculationReport]) -> None:
    sheet = load_workbook(demo_book[0], data_only=True)["PCC"]
    for _, _, current, limit, margin, voltage, v_limit, v_margin in sheet[f"A{FIRST + 1}:H{FIRST + 50}"]:
        assert margin.value == pytest.approx(limit.value - current.value)
        assert v_margin.value == pytest.approx(v_limit.value - voltage.value)


def test_row_formulas_agree_with_the_twin_of_the_whole_column(
    demo_book: tuple[Path, RecalculationReport],
) -> None:
    book = load_workbook(demo_book[0], data_only=True)
    twin = {row[0]: row for row in named(book, "drive_results")}
    for drive in read_summary(demo_book[0]).drives:
        row = twin[drive["Tag"]]
        assert drive["Source (%)"] == pytest.approx(row[1], rel=1e-9)
        assert drive["THD (%)"] == pytest.approx(row[7], rel=1e-6)
        assert drive["5th (%)"] == pytest.approx(row[8], rel=1e-6, abs=1e-6)
        assert row[2] < row[7] or drive["Pulses"] != 6


def test_reactors_in_millihenry_give_back_their_percent(demo_book: tuple[Path, RecalculationReport]) -> None:
    """Percent-reactor rule X = 100 w L P / V^2, written out here."""
    checked = 0
    for drive in read_summary(demo_book[0]).drives:
        for percent, millihenry in (("Line reactor (%)", "Reactor (mH)"), ("DC choke (%)", "Choke (mH)")):
            if drive[percent]:
                omega = 2 * 3.141592653589793 * 60
                base = 480.0**2 / (1000 * float(drive["Link power (kW)"] or 0))
                back = 100 * omega * float(drive[millihenry] or 0) / 1000 / base
                assert back == pytest.approx(drive[percent], rel=1e-9)
                checked += 1
    assert checked > 8


@pytest.mark.parametrize("tag", ["M-101", "M-203"])
def test_unbalance_and_background_reach_a_drive_behind_a_shifting_transformer(
    filled: Filler, tag: str
) -> None:
    """The drive settings per bus give the drive view the same supply as the study solves.

    Linear load would divide the background distortion at the bus, which a drive by itself does not know.
    One of the three phases of HD_SPECTRUM with the settings of the bus is the phase that HD_DRIVES reports.
    """
    study = demo_study()
    data = replace(
        study,
        site={**study.site, "second transformer shift deg": 10, "linear load model": "none"},
        settings={
            **study.settings,
            "unbalance pct": 1.5,
            "unbalance deg": 40,
            "background 5th pct": 2,
            "background 5th deg": 25,
            "background 7th pct": 1,
            "background 7th deg": -50,
        },
        drives=tuple(row for row in study.drives if row["Tag"] in ("M-101", "M-203")),
    )
    path, report = filled(data)
    assert report.issues == ()
    book = load_workbook(path, data_only=True)
    bus = {"M-101": "main", "M-203": "second"}[tag]
    settings = named(book, f"drive_settings_{bus}")
    (drive,) = (d for d in read_summary(path).drives if d["Tag"] == tag)
    thds = []
    for phase in (1.0, 2.0, 3.0):
        spectrum = FUNCTIONS["HD_SPECTRUM"](
            [
                drive["Pulses"],
                drive["Source (%)"],
                drive["Line reactor (%)"],
                drive["DC choke (%)"],
                drive["Load (%)"],
                settings,
                phase,
            ]
        )
        thds.append(FUNCTIONS["HD_THD"]([spectrum]))
    (reported,) = (row[7] for row in named(book, "drive_results") if row[0] == tag)
    assert max(thds) > min(thds) + 1
    assert min(abs(thd / reported - 1) for thd in thds) < 1e-6


def test_a_site_without_a_second_transformer_leaves_its_bus_blank(template: Path) -> None:
    sheet = load_workbook(template, data_only=True)
    values = [named(sheet, f"second_bus_{q}") for q in ("kv", "sc_mva", "x_ohm")]
    assert all(cell in (None, "") for ((cell,),) in values)


def test_resonance_order_appears_with_capacitors(filled: Filler) -> None:
    study = demo_study()
    path, _ = filled(replace(study, drives=study.drives[:2], site={**study.site, "capacitor mvar": 0.4}))
    book = load_workbook(path, data_only=True)
    (level,) = (row[0] for row in named(book, "main_bus_sc_mva"))
    cells = [[c.value for c in row] for row in book["Site"]["A40:B80"]]
    (order,) = (value for name, value in cells if name == "Resonance order with capacitors")
    assert order == pytest.approx((level / 0.4) ** 0.5)
