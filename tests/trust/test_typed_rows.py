"""Nothing typed is left out: it is in the study, or there is no verdict and the cells are named.

What is expected follows from the workbook alone: the test typed the rows into those cells. The templates are
built here, so that the tests judge the sheets of this source.
"""

from __future__ import annotations

import json
import os
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.cli.app import app
from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.io.lists.schedule import read_schedule
from xlcalc.io.plants.site_file import read_drive_site
from xlcalc.jobs.choice.plant_files import read_choice_book
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.report import RecalculationReport
from xlcalc.schema.inputs.settings import STUDY
from xlcalc.workbooks.choice import choice_study
from xlcalc.workbooks.choice.choice_data import ChoiceData, option_rows, read_terms_rows
from xlcalc.workbooks.comparison import comparison_study
from xlcalc.workbooks.comparison.comparison_data import read_comparison
from xlcalc.workbooks.drive import drive_study
from xlcalc.workbooks.drive.drives_sheet import HEADER_ROW, PREPARED, ROOM
from xlcalc.workbooks.drive.study_data import read_study
from xlcalc.workbooks.kit import package
from xlcalc.workbooks.plant import plant_study
from xlcalc.workbooks.plant.plant_data import read_plant
from xlcalc.worksheet.catalogue import FUNCTIONS

Change = Callable[[Workbook], None]
EXAMPLES = 5
"""Drives of the template."""
pytestmark = pytest.mark.filterwarnings("ignore:Print area cannot be set")


@pytest.fixture(scope="session")
def templates(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """All templates, not calculated."""
    folder, demo = tmp_path_factory.mktemp("templates"), resources.folder("demo")
    plant = read_plant(demo / "starter_plant.toml", demo / "starter_plant_drives.csv")
    options = option_rows(demo / "mitigation_options.csv", demo / "mitigation_residuals.csv")
    books = {
        "drive": drive_study.build(read_study(demo / "starter_site.toml", demo / "starter_drives.csv")),
        "plant": plant_study.build(plant),
        "choice": choice_study.build(
            ChoiceData(plant, options, read_terms_rows(demo / "starter_choice.toml"))
        ),
        "comparison": comparison_study.build(read_comparison(demo / "starter_comparison.toml")),
    }
    for name, book in books.items():
        package.save(book, folder / f"{name}.xlsx")
    return {name: folder / f"{name}.xlsx" for name in books}


@pytest.fixture
def changed(templates: dict[str, Path], tmp_path: Path) -> Callable[[str, Change], Path]:
    """A template changed by openpyxl."""

    def make(name: str, change: Change) -> Path:
        path = tmp_path / "typed.xlsx"
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = load_workbook(templates[name])
        change(book)
        book.save(path)
        return path

    return make


def drive(number: int, bus: str = "main") -> list[object]:
    """Too much for the site: 300 kW behind a transformer of 1000 kVA."""
    return [f"N{number}", "typed", 1, 300, "kW", 95, bus, 6, 3, 0, 100]


def typed(sheet: Worksheet, row: int, column: int, rows: Sequence[Sequence[object]]) -> None:
    for down, values in enumerate(rows):
        for across, value in enumerate(values):
            sheet.cell(row + down, column + across).value = value


def drives_at(row: int, column: int = 1, count: int = 2) -> Change:
    return lambda book: typed(book["Drives"], row, column, [drive(k) for k in range(count)])


def short_list(row: int) -> Change:
    """Drives pasted over the figures that the sheet computes."""
    return lambda book: typed(book["Drives"], row, 15, [["N1", 500, "kW", 6], ["N2", 500, "kW", 6]])


def then(*changes: Change) -> Change:
    def change(book: Workbook) -> None:
        for each in changes:
            each(book)

    return change


def hidden(first: int, last: int) -> Change:
    def change(book: Workbook) -> None:
        for row in range(first, last + 1):
            book["Drives"].row_dimensions[row].hidden = True

    return change


def filtered(book: Workbook) -> None:
    """A filter on the pulses that shows other rows only, as a program saves it."""
    table = book["Drives"].tables["Drives"]
    table.autoFilter.add_filter_column(7, ["18"])
    hidden(HEADER_ROW + 1, HEADER_ROW + EXAMPLES + 2)(book)


def result(path: Path) -> tuple[RecalculationReport, str, str]:
    """Report, verdict and reason of a recalculated workbook."""
    report = recalculate(path, None, FUNCTIONS)
    (verdict,) = [v for v in report.verdicts if v.name == "study_verdict"]
    return report, verdict.verdict, verdict.reason


NEXT = HEADER_ROW + EXAMPLES + 1
COUNTED = {
    "directly below the last drive": drives_at(NEXT),
    "after blank rows": drives_at(NEXT + 7),
    "across the end of the Excel table": drives_at(HEADER_ROW + PREPARED),
    "below the Excel table": drives_at(HEADER_ROW + PREPARED + 3),
    "in the last rows of the room": drives_at(HEADER_ROW + ROOM - 1),
    "in hidden rows": then(drives_at(NEXT), hidden(NEXT, NEXT + 1)),
    "in filtered rows": then(drives_at(NEXT), filtered),
}


@pytest.mark.parametrize("change", COUNTED.values(), ids=list(COUNTED))
def test_drives_typed_in_the_room_are_in_the_study(
    changed: Callable[[str, Change], Path], change: Change
) -> None:
    path = changed("drive", change)
    with_value = read_schedule(path, [read_drive_site(path)]).accepted
    assert list(with_value["tag"])[-2:] == ["N0", "N1"]
    assert len(with_value) == EXAMPLES + 2
    report, verdict, _ = result(path)
    assert verdict == "FAIL"
    assert not report.issues
    values = load_workbook(path, data_only=True)["PCC"]
    assert values["C10"].value == f"{EXAMPLES + 2} typed, {EXAMPLES + 2} in the study"


def merge(sheet: str, cells: str) -> Change:
    return lambda book: book[sheet].merge_cells(cells)


def cell(sheet: str, place: str, value: object = 7) -> Change:
    return lambda book: book[sheet].__setitem__(place, value)


GAP = 5 + len(STUDY.fields)
BEYOND = HEADER_ROW + ROOM + 1
LEFT_OUT = {
    "drives directly below the room": ("drive", drives_at(BEYOND), f"Drives!A{BEYOND}:K{BEYOND + 1}"),
    "drives far below": ("drive", drives_at(900), "Drives!A900:K901"),
    "drives beside the table": ("drive", drives_at(12, 27), "Drives!AA12:AK13"),
    "a column without a heading": ("drive", cell("Drives", "Z12"), "Drives!Z12"),
    "a second list over the figures": ("drive", short_list(40), f"Drives!P11:Y{HEADER_ROW + ROOM}"),
    "a second list below the figures": ("drive", short_list(300), f"Drives!P11:Y{HEADER_ROW + ROOM}"),
    "a value above the headings": ("drive", cell("Drives", "F9"), "Drives!F9"),
    "rating and unit merged": ("drive", merge("Drives", "D12:E12"), "Drives!D12:E12"),
    "two tags merged": ("drive", merge("Drives", "A12:A13"), "Drives!A12:A13"),
    "two values of the site merged": ("drive", merge("Site", "B14:B15"), "Site!B14:B15"),
    "a value beside the site": ("drive", cell("Site", "F14"), "Site!F14"),
    "a name below the site": ("drive", cell("Site", "A120", "Demand (amps)"), "Site!A120"),
    "a setting in the gap of the site": ("drive", cell("Site", f"A{GAP}", "Edition"), f"Site!A{GAP}"),
    "network: a list beside": ("plant", cell("Network", "AA9", "T9"), "Network!AA9"),
    "network: below the last table": ("plant", cell("Network", "A490", "G9"), "Network!A490"),
    "network: above the tables": ("plant", cell("Network", "C2", "note"), "Network!C2"),
    "network: merged": ("plant", merge("Network", "B6:B7"), "Network!B6:B7"),
    "plant drives beside": ("plant", drives_at(12, 27), "Drives!AA12:AK13"),
    "plant drives below": ("plant", drives_at(507), "Drives!A507:K508"),
    "a fifth case": ("plant", cell("Cases", "K5", "night"), "Cases!K5"),
    "a case input below": ("plant", cell("Cases", "B14", "on"), "Cases!B14"),
    "equipment data beside a short table": (
        "plant",
        cell("Equipment data", "F58", 5),
        "'Equipment data'!F58",
    ),
    "equipment data beside all": ("plant", cell("Equipment data", "J12", 5), "'Equipment data'!J12"),
    "equipment data merged": ("plant", merge("Equipment data", "B12:C12"), "'Equipment data'!B12:C12"),
    "a second front end list": ("comparison", cell("Front ends", "A14", "tenth"), "'Front ends'!A14"),
    "a price beside": ("comparison", cell("Prices", "I6", 100), "Prices!I6"),
    "a residual order below": ("comparison", cell("Residual", "A36", 47), "Residual!A36"),
    "front ends merged": ("comparison", merge("Front ends", "C6:D6"), "'Front ends'!C6:D6"),
}
READERS = {"drive", "plant"}
ONE_OF_A_SHEET = ("network: a list beside", "plant drives below", "a fifth case", "equipment data merged")
"""Of the plant, whose recalculation takes longest; XLCALC_LONG=1 types the others too."""
RECALCULATED = [
    title
    for title, (name, _, _) in LEFT_OUT.items()
    if name != "plant" or title in ONE_OF_A_SHEET or "XLCALC_LONG" in os.environ
]


@pytest.mark.parametrize(("name", "change", "place"), map(LEFT_OUT.get, RECALCULATED), ids=RECALCULATED)
def test_what_no_table_holds_takes_the_verdict_away_and_is_named(
    changed: Callable[[str, Change], Path], name: str, change: Change, place: str
) -> None:
    path = changed(name, change)
    report = recalculate(path, None, FUNCTIONS)
    assert not report.clean
    assert any(wrong.sentence.startswith(place) for wrong in report.wrong_inputs), report.wrong_inputs
    assert all(verdict.verdict != "PASS" for verdict in report.verdicts if verdict.name)
    values = load_workbook(path, data_only=True)
    ((title, at),) = values.defined_names["input_fault"].destinations
    assert str(values[title][at.replace("$", "")].value).startswith(place)
    if name == "comparison":
        assert str(values["Comparison"]["A4"].value).startswith(f"No verdict: {place}")
        assert {values["Comparison"].cell(7, column).value for column in range(2, 11)} == {"NO VERDICT"}
    else:
        ((title, at),) = values.defined_names["study_verdict"].destinations
        assert values[title][at.replace("$", "")].value == "NO VERDICT"
        ((title, at),) = values.defined_names["study_reason"].destinations
        assert str(values[title][at.replace("$", "")].value).startswith(place)


@pytest.mark.parametrize(
    ("name", "change", "place"),
    [given for given in LEFT_OUT.values() if given[0] in READERS],
    ids=[title for title, given in LEFT_OUT.items() if given[0] in READERS],
)
def test_a_schedule_refuses_the_same_workbook(
    changed: Callable[[str, Change], Path], tmp_path: Path, name: str, change: Change, place: str
) -> None:
    path = changed(name, change)
    with pytest.raises(InputError) as refused:
        read_schedule(path, [read_drive_site(path)])
    assert f": {place}" in str(refused.value)
    out = tmp_path / "out.csv"
    done = CliRunner().invoke(app, ["schedule", str(path), "--site", str(path), "-o", str(out)])
    assert done.exit_code != 0
    assert not out.exists()


CHOICES = {
    "drives beside": (drives_at(12, 27), "Drives!AA12:AK13"),
    "drives below": (drives_at(506), "Drives!A506:K507"),
    "an option beside": (cell("Options", "AZ9", "x"), "Options!AZ9"),
    "an option below": (cell("Options", "A300", "x"), "Options!A300"),
    "a pin below": (cell("Terms", "A200", "x"), "Terms!A200"),
    "terms merged": (merge("Terms", "A7:A8"), "Terms!A7:A8"),
    "network merged": (merge("Network", "C7:C8"), "Network!C7:C8"),
}


@pytest.mark.parametrize(("change", "place"), CHOICES.values(), ids=list(CHOICES))
def test_a_choice_refuses_what_no_table_holds(
    changed: Callable[[str, Change], Path], change: Change, place: str
) -> None:
    path = changed("choice", change)
    with pytest.raises(InputError) as refused:
        read_choice_book(path)
    assert f": {place}" in str(refused.value)


def test_a_choice_reads_the_drives_of_the_whole_room(changed: Callable[[str, Change], Path]) -> None:
    path = changed("choice", lambda book: typed(book["Drives"], 400, 1, [drive(1, "MCC-A")]))
    assert str(read_choice_book(path).plant.drives[-1]["tag"]) == "N1"


def test_the_command_exits_with_an_error_and_prints_the_place(
    changed: Callable[[str, Change], Path],
) -> None:
    path = changed("drive", drives_at(12, 27))
    done = CliRunner().invoke(app, ["recalc", str(path), "--json"])
    assert done.exit_code == 1
    told = json.loads(done.stdout)
    assert "Drives!AA12:AK13" in json.dumps(told)
    assert told["verdicts"][0]["verdict"] == "NO VERDICT"


def test_the_settings_say_where_the_ranges_begin(changed: Callable[[str, Change], Path]) -> None:
    """So that reasons name the typed cell in hosts that do not know where an argument stands."""
    path = changed("drive", lambda book: None)
    recalculate(path, None, FUNCTIONS)
    book = load_workbook(path, data_only=True)
    ((title, cells),) = book.defined_names["call_settings"].destinations
    given = {row[0].value: row[1].value for row in book[title][cells.replace("$", "")]}
    for name, text in (("site", "site at"), ("drive_inputs", "drives at")):
        ((title, cells),) = book.defined_names[name].destinations
        assert given[text] == f"{title}!{cells.split(':')[0].replace('$', '')}"


def test_a_heading_that_was_erased_leaves_no_column_out(changed: Callable[[str, Change], Path]) -> None:
    """The load of the drives would silently become 100 %."""
    path = changed("drive", cell("Drives", "K10", None))
    _, verdict, reason = result(path)
    assert verdict == "NO VERDICT"
    assert "K11" in reason or "row 11" in reason
