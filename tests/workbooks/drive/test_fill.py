"""Filling templates: the table and everything on it follows, bad input is refused, nothing else changes."""

from __future__ import annotations

import shutil
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from xlcalc.core.errors import InputError
from xlcalc.files.errors import WorkbookFileError
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.report import RecalculationReport
from xlcalc.workbooks.build import demo_study
from xlcalc.workbooks.drive.drives_sheet import PREPARED, ROOM, SPARE
from xlcalc.workbooks.drive.fill import fill_template
from xlcalc.workbooks.drive.study_data import StudyData
from xlcalc.workbooks.drive.summary import read_summary
from xlcalc.worksheet.catalogue import FUNCTIONS

Schedule = Callable[[int], tuple[dict[str, object], ...]]
OfRows = Callable[[int], tuple[Path, RecalculationReport]]
HEADER = 10
ROWS = (1, 40, 260)


def small(drives: tuple[dict[str, object], ...]) -> tuple[dict[str, object], ...]:
    """So many drives as the transformer of the demo feeds."""
    return tuple({**drive, "Rating": 3.0} for drive in drives)


@pytest.fixture
def of_rows(template: Path, schedule: Schedule, shared: Any) -> OfRows:
    """The template filled with so many drives, recalculated once in a run."""

    def make(rows: int) -> tuple[Path, RecalculationReport]:
        def fill(folder: Path) -> RecalculationReport:
            data = replace(demo_study(), drives=small(schedule(rows)))
            fill_template(template, data, folder / "filled.xlsx")
            return recalculate(folder / "filled.xlsx", None, FUNCTIONS)

        folder, report = shared.made(f"drive study of {rows} small drives", fill)
        return folder / "filled.xlsx", report

    return make


@pytest.mark.parametrize("rows", ROWS)
def test_table_validations_formats_and_last_row_follow_the_rows(of_rows: OfRows, rows: int) -> None:
    path, report = of_rows(rows)
    assert report.issues == ()
    book = load_workbook(path)
    sheet = book["Drives"]
    table, last = HEADER + max(rows, min(rows + SPARE, PREPARED)), HEADER + ROOM
    assert sheet.tables["Drives"].ref == f"A{HEADER}:Y{table}"
    assert sheet.tables["Drives"].autoFilter.ref == f"A{HEADER}:Y{table}"
    first = HEADER + 1
    validated = {str(rule.sqref) for rule in sheet.data_validations.dataValidation}
    assert validated == {f"{letter}{first}:{letter}{last}" for letter in "ACDEFGHIJKLMNO"}
    formats = {str(key.sqref) for key in sheet.conditional_formatting}
    assert f"P{first}:Y{last}" in formats
    rules = [rule.formula[0] for key in sheet.conditional_formatting for rule in key.rules]
    assert f"COUNTIF($A${first}:$A${last},$A{first})>1" in rules
    values = load_workbook(path, data_only=True)
    ((title, cell),) = values.defined_names["last_drive_row"].destinations
    assert values[title][cell.replace("$", "")].value == HEADER + rows


def test_more_rows_than_there_is_room_for_are_refused(
    template: Path, schedule: Schedule, tmp_path: Path
) -> None:
    data = replace(demo_study(), drives=schedule(ROOM + 1))
    with pytest.raises(InputError, match="at most 500, the room of the sheet Drives"):
        fill_template(template, data, tmp_path / "out.xlsx")


@pytest.mark.parametrize("rows", ROWS)
def test_every_computed_cell_of_a_filled_table_has_a_number(of_rows: OfRows, rows: int) -> None:
    path, _ = of_rows(rows)
    summary = read_summary(path)
    assert [drive["Tag"] for drive in summary.drives] == [f"T{i + 1}" for i in range(rows)]
    for drive in summary.drives:
        for heading in ("Link power (kW)", "Source (%)", "THD (%)", "5th (%)", "True PF", "RMS (A)"):
            assert isinstance(drive[heading], float), (drive["Tag"], heading)
    assert summary.pcc["VERDICT"] in ("PASS", "FAIL")


def test_new_rows_look_like_the_old_ones(of_rows: OfRows) -> None:
    path, _ = of_rows(40)
    sheet = load_workbook(path)["Drives"]
    for column in range(1, 22):
        first, last = sheet.cell(HEADER + 1, column), sheet.cell(HEADER + 40, column)
        assert (last.style, last.number_format) == (first.style, first.number_format)


def test_nothing_of_the_template_is_left(demo_book: tuple[Path, RecalculationReport]) -> None:
    sheet = load_workbook(demo_book[0])["Site"]
    texts = {str(sheet.cell(row, 2).value) for row in range(1, 50)}
    assert "13.8" in texts
    assert not any("example values" in text for text in texts)


def test_values_of_formulas_are_dropped_until_the_recalculation(template: Path, tmp_path: Path) -> None:
    target = tmp_path / "filled.xlsx"
    fill_template(template, demo_study(), target)
    values = load_workbook(target, data_only=True)
    assert values["PCC"]["C5"].value is None
    assert values["Arrays"]["C10"].value is None
    assert values["Drives"]["N11"].value is None


def test_parts_without_inputs_keep_every_byte(template: Path, tmp_path: Path) -> None:
    target = tmp_path / "filled.xlsx"
    fill_template(template, demo_study(), target)
    with zipfile.ZipFile(template) as old, zipfile.ZipFile(target) as new:
        assert new.namelist() == old.namelist()
        kept = [
            n for n in old.namelist() if "charts/" in n or "drawings/" in n or "theme" in n or "styles" in n
        ]
        assert len(kept) >= 8
        for name in kept:
            assert new.read(name) == old.read(name)


def test_settings_that_are_not_given_stay(template: Path, tmp_path: Path) -> None:
    adapted = tmp_path / "adapted.xlsx"
    book = load_workbook(template)
    ((sheet, cells),) = book.defined_names["study_settings"].destinations
    for name, value in book[sheet][cells.replace("$", "")]:
        if name.value == "Edition":
            value.value = 2014
    book.save(adapted)
    data = replace(demo_study(), settings={"dc capacitance pu": 9})
    fill_template(adapted, data, tmp_path / "out.xlsx")
    filled = load_workbook(tmp_path / "out.xlsx")
    pairs = {name.value: value.value for name, value in filled[sheet][cells.replace("$", "")]}
    assert (pairs["Edition"], pairs["DC capacitance (pu)"]) == (2014, 9)


def test_a_chosen_drive_that_is_gone_gives_way_to_the_first(template: Path, tmp_path: Path) -> None:
    adapted = tmp_path / "adapted.xlsx"
    book = load_workbook(template)
    book["Drive view"]["C4"].value = "D4"
    book.save(adapted)
    fill_template(adapted, demo_study(), tmp_path / "out.xlsx")
    assert load_workbook(tmp_path / "out.xlsx")["Drive view"]["C4"].value == "M-101"


def test_an_order_of_calculation_that_no_longer_holds_is_left_out(
    template: Path, tmp_path: Path, schedule: Schedule
) -> None:
    adapted = tmp_path / "adapted.xlsx"
    with zipfile.ZipFile(template) as old, zipfile.ZipFile(adapted, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "[Content_Types].xml":
                part = (
                    b'<Override PartName="/xl/calcChain.xml" ContentType="application/vnd.openxmlformats-'
                    b'officedocument.spreadsheetml.calcChain+xml"/>'
                )
                content = content.replace(b"</Types>", part + b"</Types>")
            if name == "xl/_rels/workbook.xml.rels":
                relation = (
                    b'<Relationship Id="rId99" Type="http://schemas.openxmlformats.org/officeDocument/2006/'
                    b'relationships/calcChain" Target="calcChain.xml"/>'
                )
                content = content.replace(b"</Relationships>", relation + b"</Relationships>")
            new.writestr(name, content)
        new.writestr(
            "xl/calcChain.xml",
            '<calcChain xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
            '<c r="N15" i="2"/></calcChain>',
        )
    fill_template(adapted, replace(demo_study(), drives=schedule(3)), tmp_path / "out.xlsx")
    with zipfile.ZipFile(tmp_path / "out.xlsx") as archive:
        assert not [name for name in archive.namelist() if "calcChain" in name]
        assert b"calcChain" not in archive.read("[Content_Types].xml")
        assert b"calcChain" not in archive.read("xl/_rels/workbook.xml.rels")


BAD = [
    (lambda d: replace(d, site={**d.site, "utility mva": -5}), "utility mva"),
    (lambda d: replace(d, site={**d.site, "utility mvaa": 5}), "utility mvaa"),
    (lambda d: replace(d, site={k: v for k, v in d.site.items() if k != "utility kv"}), "utility kv"),
    (lambda d: replace(d, settings={"edition": "2031"}), "edition"),
    (lambda d: replace(d, settings={"background 11th pct": 1}), "background 11th pct"),
    (lambda d: replace(d, drives=({**d.drives[0], "Pulses": 7.0},)), "pulses"),
    (lambda d: replace(d, drives=(d.drives[0], d.drives[0])), "tag"),
    (lambda d: replace(d, drives=({**d.drives[0], "Colour": "red"},)), "Colour"),
    (lambda d: replace(d, drives=({k: v for k, v in d.drives[0].items() if k != "Rating"},)), "rating"),
    (lambda d: replace(d, drives=()), "drives"),
    (lambda d: replace(d, site={**d.site, "utility kv": [1, 2]}), "utility kv"),
]


@pytest.mark.parametrize(("spoil", "named"), BAD)
def test_bad_input_is_refused_by_name_and_nothing_is_written(
    template: Path, tmp_path: Path, spoil: Callable[[StudyData], StudyData], named: str
) -> None:
    target = tmp_path / "out.xlsx"
    target.write_bytes(b"as it was")
    with pytest.raises(InputError, match=named) as refusal:
        fill_template(template, spoil(demo_study()), target)
    assert refusal.value.valid
    assert target.read_bytes() == b"as it was"
    assert [path.name for path in tmp_path.iterdir()] == ["out.xlsx"]


def test_content_in_a_computed_column_below_the_table_is_not_overwritten(
    template: Path, schedule: Schedule, tmp_path: Path
) -> None:
    adapted = tmp_path / "adapted.xlsx"
    book = load_workbook(template)
    book["Drives"].cell(HEADER + PREPARED + 5, 17).value = "a remark of the user"
    book.save(adapted)
    data = replace(demo_study(), drives=schedule(PREPARED + 10))
    with pytest.raises(InputError, match=f"row {HEADER + PREPARED + 5} below table Drives"):
        fill_template(adapted, data, tmp_path / "out.xlsx")


def test_a_workbook_without_the_names_is_refused(template: Path, tmp_path: Path) -> None:
    adapted = tmp_path / "adapted.xlsx"
    book = load_workbook(template)
    del book.defined_names["site"]
    book.save(adapted)
    with pytest.raises(InputError, match="without the name site"):
        fill_template(adapted, demo_study(), tmp_path / "out.xlsx")


def test_what_is_no_workbook_is_refused(tmp_path: Path, template: Path) -> None:
    broken = tmp_path / "broken.xlsx"
    broken.write_bytes(template.read_bytes()[:5000])
    with pytest.raises(WorkbookFileError):
        fill_template(broken, demo_study(), tmp_path / "out.xlsx")


def test_a_template_can_be_filled_in_place(template: Path, tmp_path: Path) -> None:
    book = tmp_path / "book.xlsx"
    shutil.copy(template, book)
    fill_template(book, demo_study(), book)
    assert (
        load_workbook(book)["Drives"].tables["Drives"].ref
        == f"A10:Y{HEADER + len(demo_study().drives) + SPARE}"
    )
