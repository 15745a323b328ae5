"""Structure of the shipped template: what an estimator and an engineer rely on."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.cell.cell import MergedCell
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.files.books import names
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.inputs.settings import PLANT_SETTINGS
from xlcalc.schema.inputs.site import SITE
from xlcalc.schema.tables import normalised
from xlcalc.workbooks.drive import pcc_sheet
from xlcalc.workbooks.drive.schedule import shown
from xlcalc.worksheet.catalogue import FUNCTIONS

PCC_ROW = pcc_sheet.TABLE_ROW + 3  # of the 2nd harmonic

SHEETS = [
    *("Summary", "Site", "Drives", "PCC", "Phases", "Drive view"),
    *("Notes", "Function reference", "Checks", "Arrays"),
]
ERROR_TEXTS = ("#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!")


@pytest.fixture(scope="module")
def book(template: Path) -> Workbook:
    return load_workbook(template)


@pytest.fixture(scope="module")
def values(template: Path) -> Workbook:
    return load_workbook(template, data_only=True)


def grid(book: Workbook, name: str) -> list[list[object]]:
    """Values of a named range."""
    ((sheet, cells),) = book.defined_names[name].destinations
    return [[cell.value for cell in row] for row in book[sheet][cells.replace("$", "")]]


def formulas(sheet: Worksheet) -> dict[str, str]:
    found = {}
    for row in sheet.iter_rows():
        for cell in row:
            if isinstance(cell.value, ArrayFormula):
                found[cell.coordinate] = str(cell.value.text)
            elif cell.data_type == "f":
                found[cell.coordinate] = str(cell.value)
    return found


def test_sheets_and_their_order(book: Workbook) -> None:
    assert book.sheetnames == SHEETS


def test_named_ranges_are_understood_by_the_functions(values: Workbook) -> None:
    site = SITE.convert(grid(values, "site"), "site")
    assert site["utility kv"] == 12.47
    settings = PLANT_SETTINGS.convert(grid(values, "study_settings"), "settings")
    assert settings["edition"] == "2022"
    drives = grid_of_table(values)
    typed = [row[0] for row in drives[1:] if row[0]]
    assert [record["tag"] for record in DRIVES.convert(drives, "drives")] == typed
    assert len(typed) == 5


def grid_of_table(book: Workbook) -> list[list[object]]:
    return grid(book, names.DRIVE_INPUTS)


def test_every_site_name_is_offered(values: Workbook) -> None:
    offered = [normalised(str(row[0])) for row in grid(values, "site")]
    assert offered == [normalised(field.name) for field in SITE.fields]


def test_table_headings_equal_its_cells_and_hold_every_column(book: Workbook) -> None:
    sheet = book["Drives"]
    table = sheet.tables["Drives"]
    header = [cell.value for cell in sheet[table.ref][0]]
    assert [column.name for column in table.tableColumns] == header
    headings = {normalised(text) for text in header}
    assert {normalised(field.name) for field in shown(DRIVES.fields)} <= headings


def test_computed_columns_are_structured_and_the_same_in_every_row(book: Workbook) -> None:
    sheet = book["Drives"]
    table = sheet.tables["Drives"]
    rows = sheet[table.ref][1:]
    computed = 0
    for index, column in enumerate(table.tableColumns):
        written = {row[index].value for row in rows if row[index].data_type == "f"}
        if column.calculatedColumnFormula is None:
            assert not written
            continue
        computed += 1
        assert written == {"=" + column.calculatedColumnFormula.attr_text}
        assert "Drives[[#This Row],[" in column.calculatedColumnFormula.attr_text
        assert "[@" not in column.calculatedColumnFormula.attr_text
    assert computed == 10


def test_inputs_have_drop_downs_and_prompts_of_legal_length(book: Workbook) -> None:
    lists = []
    for sheet in book.worksheets:
        for rule in sheet.data_validations.dataValidation:
            assert rule.prompt
            assert len(rule.promptTitle) <= 32
            assert len(rule.prompt) <= 255
            assert len(rule.error) <= 255
            if rule.type == "list":
                lists.append(rule.formula1)
    assert '"6,12,18,24,30,36,42,48"' in lists
    assert '"kW,hp,A"' in lists
    assert '"1992,2014,2022"' in lists
    assert "drive_tags" in lists


def test_every_input_row_of_the_schedule_is_validated(book: Workbook) -> None:
    sheet = book["Drives"]
    ((_, cells),) = book.defined_names[names.DRIVE_INPUTS].destinations
    first, last = cells.split(":")
    rows = range(int(re.sub(r"\D", "", first)) + 1, int(re.sub(r"\D", "", last)) + 1)
    assert len(rows) == 500
    for letter in "ACDEFGHIJK":
        cells = {c for rule in sheet.data_validations.dataValidation for c in rule.sqref if letter in c.coord}
        assert any(f"{letter}{rows[0]}:{letter}{rows[-1]}" == c.coord for c in cells), letter


def test_only_inputs_are_unlocked_and_only_the_schedule_is_unprotected(book: Workbook) -> None:
    assert [sheet.title for sheet in book.worksheets if not sheet.protection.sheet] == ["Drives"]
    assert all(sheet.protection.password is None for sheet in book.worksheets)
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if not cell.protection.locked and not isinstance(cell, MergedCell):
                    assert cell.style.startswith("hd input"), f"{sheet.title}!{cell.coordinate}"


def test_values_of_inputs_can_be_entered(book: Workbook) -> None:
    for name in ("site", "study_settings"):
        ((sheet, cells),) = book.defined_names[name].destinations
        for _, value in book[sheet][cells.replace("$", "")]:
            assert not value.protection.locked


def test_the_summary_opens_with_the_verdict_of_the_pcc_sheet(values: Workbook) -> None:
    """Word, binding value and limit of the summary against the cells of the sheet PCC."""

    def named(name: str) -> object:
        ((title, cell),) = values.defined_names[name].destinations
        return values[title][cell.replace("$", "")].value

    sheet = values.worksheets[0]
    assert sheet.title == "Summary"
    assert sheet["A5"].value == named("study_verdict") == named("pcc_verdict")
    sentence = str(sheet["C5"].value)
    table = [
        row
        for row in values["PCC"].iter_rows(min_row=PCC_ROW, values_only=True)
        if row[0] == named("pcc_worst_order")
    ]
    assert f"{table[0][2]:.2f} % of the demand current, limit {table[0][3]:g} %" in sentence
    shares = [row[5] for row in grid(values, "contribution_ranking") if isinstance(row[5], float)]
    assert len(shares) == 5
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) == pytest.approx(100.0)


def test_what_is_not_for_paper_is_hidden_and_has_no_print_area(book: Workbook) -> None:
    hidden = {sheet.title for sheet in book.worksheets if sheet.sheet_state == "hidden"}
    assert hidden == {"Function reference", "Checks", "Arrays"}
    assert all(not book[title].print_area for title in hidden)


@pytest.mark.parametrize(
    ("sheet", "kinds", "ranges"),
    [
        (
            "PCC",
            ["BarChart", "BarChart"],
            {f"'PCC'!${column}${PCC_ROW}:${column}${PCC_ROW + 48}" for column in "CDFG"},
        ),
        (
            "Drive view",
            ["BarChart", "ScatterChart"],
            {"'Drive view'!$B$50:$B$98", "'Drive view'!$F$49:$F$408", "'Drive view'!$G$49:$G$408"},
        ),
    ],
)
def test_charts_show_the_tables(
    book: Workbook, values: Workbook, sheet: str, kinds: list[str], ranges: set[str]
) -> None:
    charts = book[sheet]._charts
    assert [type(chart).__name__ for chart in charts] == kinds
    shown = set()
    for chart in charts:
        for part in (chart, *getattr(chart, "_charts", ())):
            for series in part.series:
                reference = series.yVal if hasattr(series, "yVal") and series.yVal else series.val
                shown.add(reference.numRef.f)
        assert chart.x_axis.delete is False
        assert chart.y_axis.delete is False
    assert shown == ranges
    for reference in shown:
        title, cells = reference.split("!")
        column = [row[0].value for row in values[title.strip("'")][cells.replace("$", "")]]
        assert all(isinstance(value, int | float) for value in column)
        assert any(value != 0 for value in column)


def test_orders_of_the_charts_are_2_to_50(values: Workbook) -> None:
    for title, first in (("PCC", PCC_ROW), ("Drive view", 50)):
        orders = [values[title].cell(row, 1).value for row in range(first, first + 49)]
        assert orders == list(range(2, 51))


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
    assert count > 1700


def test_no_error_anywhere_but_the_padding_of_the_drive_block(values: Workbook) -> None:
    block = set()
    for name in ("drive_results", "contributions"):
        ((_, padded),) = values.defined_names[name].destinations
        block |= {cell.coordinate for row in values["Arrays"][padded.replace("$", "")] for cell in row}
    for sheet in values.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value in ERROR_TEXTS:
                    assert (sheet.title, cell.coordinate in block, cell.value) == ("Arrays", True, "#N/A")


def test_array_formulas_stand_on_one_sheet_only(book: Workbook) -> None:
    """Programs without the functions compute arrays anew; cells that refer to them keep their values."""
    for sheet in book.worksheets:
        arrays = [c for row in sheet.iter_rows() for c in row if isinstance(c.value, ArrayFormula)]
        assert len(arrays) == (7 if sheet.title == "Arrays" else 0)


def test_formulas_call_declared_functions_only(book: Workbook) -> None:
    called = set()
    for sheet in book.worksheets:
        for formula in formulas(sheet).values():
            called |= set(re.findall(r"HD_[A-Z_]+", formula))
    assert called <= set(FUNCTIONS)
    assert {"HD_PCC", "HD_PCC_VALUE", "HD_DRIVES", "HD_SPECTRUM", "HD_WAVEFORM", "HD_VERSION"} <= called


def test_function_reference_names_every_function_and_its_arguments(book: Workbook) -> None:
    sheet = book["Function reference"]
    texts = [cell.value for column in sheet.iter_cols(min_col=1, max_col=2) for cell in column]
    for function in FUNCTIONS.values():
        assert function.signature in texts
        assert all(argument.help in texts for argument in function.arguments)
        assert all(example.formula in texts for example in function.examples)
    assert not formulas(sheet)


def test_notes_state_cautions_sources_and_version(values: Workbook) -> None:
    texts = " ".join(str(c.value) for row in values["Notes"].iter_rows() for c in row if c.value)
    for wanted in (
        "preliminary study",
        "qualified persons",
        "local codes",
        "measurement",
        "dangerous",
        "xlcalc recalc",
        "ieee 519, edition 2022",
        "from memory",
        str(FUNCTIONS["HD_VERSION"]([])),
    ):
        assert wanted in texts.casefold()


def test_pages_are_set_up_for_print(book: Workbook) -> None:
    for sheet in book.worksheets:
        assert sheet.print_area or sheet.title == "Drives" or sheet.sheet_state == "hidden"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        pages_high = {"Summary": 1, "Site": 1}.get(sheet.title, 0)
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, pages_high)
        assert "&P" in sheet.oddFooter.right.text
    assert book["Drives"].page_setup.orientation == "landscape"


def test_programs_do_not_calculate_on_opening(book: Workbook) -> None:
    assert book.calculation.fullCalcOnLoad is False


def test_no_merge_stands_on_an_array(book: Workbook) -> None:
    assert not book["Arrays"].merged_cells.ranges


@pytest.mark.parametrize("name", [names.pcc(q) for q in ("VERDICT", "TDD", "LIMIT_TDD", "ISC_IL")])
def test_key_figures_have_names(book: Workbook, name: str) -> None:
    assert name in book.defined_names
