"""The template of a plant study: structure, values, and the numbers of its functions."""

from __future__ import annotations

import re
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.formula import ArrayFormula

from xlcalc.core import resources
from xlcalc.files.books import plant_names
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.report import RecalculationReport
from xlcalc.schema.inputs.drive import PLANT_DRIVES
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.inputs.settings import NETWORK_SETTINGS
from xlcalc.schema.tables import normalised
from xlcalc.schema.values import CellError, Grid
from xlcalc.workbooks.build import demo_plant
from xlcalc.workbooks.plant.cases_sheet import BUS_ROW, PCC_HEIGHT, PCC_ROW, QUANTITIES
from xlcalc.workbooks.plant.equipment import spectra_sheet
from xlcalc.workbooks.plant.plant_data import read_plant
from xlcalc.worksheet.catalogue import FUNCTIONS

SHEETS = [
    "Summary",
    "Study",
    "Network",
    "Drives",
    "Cases",
    "Equipment data",
    "PCC",
    "Phases",
    "Verdicts",
    "Other limits",
    "Impedance",
    "Transformers",
    "Equipment",
    "Power and losses",
    "Notes",
    "Function reference",
    "Checks",
    "Case settings",
    "Arrays",
    "Element spectra",
]
TDD = f"B{PCC_ROW + 3 + QUANTITIES.index('TDD')}"
PADDED = re.compile(
    r"contributions|drive_results|drive_quick|view_resonances|view_notches|\w+_phases|buses_case_\d_\w+"
)
ELEMENTS = sum(kind.blocks for kind in spectra_sheet.KINDS)


@pytest.fixture(scope="module")
def template() -> Path:
    return resources.template("plant_study")


@pytest.fixture(scope="module")
def book(template: Path) -> Workbook:
    return load_workbook(template)


@pytest.fixture(scope="module")
def values(template: Path) -> Workbook:
    return load_workbook(template, data_only=True)


@pytest.fixture(scope="module")
def demo(recalculated: Callable[..., Any]) -> tuple[Path, RecalculationReport]:
    book = recalculated("plant demo")
    return book.path, book.report


def grid(book: Workbook, name: str) -> Grid:
    ((sheet, cells),) = book.defined_names[name].destinations
    area = book[sheet][cells.replace("$", "")]
    return [[cell.value for cell in row] for row in area]


def drives(book: Workbook) -> Grid:
    return grid(book, "drive_inputs")


def test_sheets_and_their_order(book: Workbook) -> None:
    assert book.sheetnames == SHEETS


def test_ranges_are_understood_by_the_functions(values: Workbook) -> None:
    tables = NETWORK.convert(grid(values, "network"), "network")
    assert [row["name"] for row in tables["transformers"]] == ["T1", "T2"]
    assert PLANT_DRIVES.convert(drives(values), "drives")
    for number in range(1, plant_names.CASES + 1):
        for quick in (False, True):
            name = plant_names.case_settings(number, quick)
            settings = NETWORK_SETTINGS.convert(grid(values, name), name)
            assert settings["solution"] == ("uncoupled" if quick else "coupled")


def test_network_offers_every_column_of_every_table(values: Workbook) -> None:
    rows = grid(values, "network")
    for section in NETWORK.sections:
        (title,) = [k for k, row in enumerate(rows) if row[0] == section.title.capitalize()]
        offered = [normalised(str(cell)) for cell in rows[title + 1] if cell]
        assert offered == [normalised(field.name) for field in section.records.fields]


def test_rows_of_the_network_are_rows_of_the_sheet(values: Workbook) -> None:
    """The range begins in row 1, so that an error names the row that the user sees."""
    rows = grid(values, "network")
    place = next(k for k, row in enumerate(rows) if row[0] == "T2")
    rows[place][3] = -5.0
    result = FUNCTIONS["HD_PLANT_BUSES"]([rows, drives(values)])
    assert isinstance(result, CellError)
    assert (
        f"kva in cell D{place + 1}, row {place + 1} of table transformers of network is -5" in result.reason
    )
    assert values["Network"].cell(place + 1, 1).value == "T2"


def test_every_formula_holds_a_value_and_none_an_error(template: Path) -> None:
    count = 0
    with zipfile.ZipFile(template) as archive:
        for name in archive.namelist():
            if name.startswith("xl/worksheets/sheet"):
                for cell in re.findall(
                    r"<c [^>]*>(?:(?!</c>).)*<f.*?</c>", archive.read(name).decode(), re.S
                ):
                    count += 1
                    assert "<v" in cell, cell
                    assert 't="e"' not in cell, cell
    assert count > 3000


def test_errors_are_only_the_padding_of_blocks(values: Workbook) -> None:
    padding = set()
    for name in values.defined_names:
        if PADDED.fullmatch(name):
            ((_, cells),) = values.defined_names[name].destinations
            padding |= {cell.coordinate for row in values["Arrays"][cells.replace("$", "")] for cell in row}
    for sheet in values.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str) and cell.value.startswith("#"):
                    assert (sheet.title, cell.value, cell.coordinate in padding) == ("Arrays", "#N/A", True)


def test_array_formulas_stand_on_two_sheets_only(book: Workbook) -> None:
    """LibreOffice without the functions computes arrays anew; what refers to them keeps its value."""
    for sheet in book.worksheets:
        arrays = [c for row in sheet.iter_rows() for c in row if isinstance(c.value, ArrayFormula)]
        assert len(arrays) == {"Arrays": 23, "Element spectra": ELEMENTS}.get(sheet.title, 0)


def test_cells_on_arrays_are_never_blank(book: Workbook, values: Workbook) -> None:
    """LibreOffice computes a formula with an empty text anew, and fails where it refers to arrays."""
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f" and re.search(r"Arrays!|'Element spectra'!", str(cell.value)):
                    shown = values[sheet.title][cell.coordinate].value
                    guarded = re.match(r'=IF\((\$A\d+="","",|ISNUMBER\(Arrays!)', str(cell.value))
                    assert shown not in (None, "") or guarded, f"{sheet.title}!{cell.coordinate}"


def test_cases_differ_and_coupled_stands_beside_uncoupled(values: Workbook) -> None:
    sheet = values["Cases"]
    figures = {
        (str(sheet.cell(PCC_ROW, 2 + 2 * (k // 2)).value), k % 2): [
            sheet.cell(PCC_ROW + 3 + QUANTITIES.index(name), 2 + k).value for name in ("TDD", "THDV")
        ]
        for k in range(6)
    }
    coupled = [figures[case, 0] for case in ("Maximum supply", "Minimum supply", "Capacitors off")]
    assert len({tuple(pair) for pair in coupled}) == 3
    for (case, way), pair in figures.items():
        if way == 0:
            quick = figures[case, 1]
            assert 0.7 * quick[0] < pair[0] < quick[0]


def test_key_figures_are_those_of_the_functions(values: Workbook) -> None:
    arguments = [grid(values, "network"), drives(values), "Intake"]
    settings = grid(values, "case_1_coupled")
    assert values["PCC"]["D14"].value == pytest.approx(
        FUNCTIONS["HD_PLANT_VALUE"]([*arguments, "TDD", settings]), rel=1e-6
    )


def test_inputs_have_prompts_of_legal_length(book: Workbook) -> None:
    lists = []
    for sheet in book.worksheets:
        for rule in sheet.data_validations.dataValidation:
            assert rule.prompt
            assert len(rule.promptTitle) <= 32
            assert len(rule.prompt) <= 255
            assert len(rule.error) <= 255
            if rule.type == "list":
                lists.append(rule.formula1)
    assert {"buses_name", '"bank,detuned,tuned,damped,c-type"', '"on,off,alone"', '"1,2,3,4"'} <= set(lists)


def test_charts_show_numbers(book: Workbook, values: Workbook) -> None:
    kinds = {}
    for title in SHEETS:
        for chart in book[title]._charts:
            kinds.setdefault(title, []).append(type(chart).__name__)
            for series in (s for part in (chart, *getattr(chart, "_charts", ())) for s in part.series):
                reference = (series.yVal if getattr(series, "yVal", None) else series.val).numRef.f
                sheet, cells = reference.split("!")
                shown = [row[0].value for row in values[sheet.strip("'")][cells.replace("$", "")]]
                assert any(isinstance(value, int | float) and value > 0 for value in shown), reference
    assert kinds == {
        "Summary": ["BarChart"],
        "Cases": ["BarChart", "ScatterChart", "ScatterChart"],
        "PCC": ["BarChart", "BarChart"],
        "Impedance": ["ScatterChart", "ScatterChart"],
    }


def test_only_the_sheets_that_grow_are_unprotected(book: Workbook) -> None:
    assert [s.title for s in book.worksheets if not s.protection.sheet] == ["Network", "Drives"]


def test_pages_are_set_up_for_print(book: Workbook) -> None:
    for sheet in book.worksheets:
        assert (
            sheet.print_area
            or sheet.title in ("Drives", "Function reference")
            or sheet.sheet_state == "hidden"
        )
        pages = (1, 1) if sheet.title == "Summary" else (1, 0)
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == pages
        assert "&P" in sheet.oddFooter.right.text


def test_demo_plant_computes_everywhere(demo: tuple[Path, RecalculationReport]) -> None:
    path, report = demo
    assert not report.issues
    book = load_workbook(path, data_only=True)
    rows = {
        row[0].value: [cell.value for cell in row]
        for row in book["Cases"].iter_rows(min_row=BUS_ROW + 2, max_row=BUS_ROW + 61)
    }
    assert rows["Finishing"][7:9] == ["off", "off"]
    assert all(isinstance(value, float) for value in rows["Mill"][1:9])
    first = book["Cases"].iter_rows(min_row=PCC_ROW, max_row=PCC_ROW + PCC_HEIGHT - 1, values_only=True)
    assert {row[0]: row[1] for row in first}["Converged?"] == "yes"


def test_demo_holds_no_more_than_the_sheets_show() -> None:
    data = demo_plant()
    assert all(case for case in data.cases)
    assert len(data.cases) <= plant_names.CASES


def test_a_changed_case_changes_the_book(template: Path, tmp_path: Path) -> None:
    path = tmp_path / "plant.xlsx"
    shutil.copy(template, path)
    book = load_workbook(path)
    book["Cases"]["B8"] = "off"
    book.save(path)
    assert not recalculate(path, None, FUNCTIONS).issues
    changed = load_workbook(path, data_only=True)
    assert changed["Cases"][TDD].value != load_workbook(template, data_only=True)["Cases"][TDD].value
    assert changed["Equipment"]["C8"].value in (None, "")


def test_unknown_table_of_a_plant_file_is_named(tmp_path: Path) -> None:
    folder = resources.folder("demo")
    path = tmp_path / "plant.toml"
    path.write_text('[[busses]]\nname = "A"\n', encoding="utf-8")
    with pytest.raises(ValueError, match="busses"):
        read_plant(path, folder / "plant_drives.csv")


@pytest.mark.parametrize(
    ("table", "name", "heading", "value", "words"),
    [
        ("Transformers", "T2", "kVA", 1e6, "is it in VA?"),
        ("Utility", "Intake", "Max (MVA)", 220e3, "is it in kVA?"),
        ("Buses", "MCC-B", "kV", 480.0, "is it in V?"),
    ],
)
def test_a_slip_is_named_by_its_cell(
    template: Path, tmp_path: Path, table: str, name: str, heading: str, value: object, words: str
) -> None:
    """Every formula that needs the network gives the reason; the cell is that of the sheet Network."""
    book = load_workbook(template)
    sheet = book["Network"]
    title = next(row for row in range(1, sheet.max_row) if sheet.cell(row, 1).value == table)
    column = next(c for c in range(1, 20) if sheet.cell(title + 1, c).value == heading)
    row = next(row for row in range(title + 2, sheet.max_row) if sheet.cell(row, 1).value == name)
    sheet.cell(row, column).value = value
    path = tmp_path / "slip.xlsx"
    book.save(path)
    reasons = [i.reason for i in recalculate(path, None, FUNCTIONS).issues if i.sheet == "Arrays"]
    cell = sheet.cell(row, column).coordinate
    assert any(words in reason for reason in reasons), reasons[:3]
    assert all(reason.startswith(f"Network!{cell} is ") for reason in reasons if words in reason), reasons[:3]
