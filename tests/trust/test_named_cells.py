"""A wrong input gives NO VERDICT and names the cell that was typed, whichever way it reaches the functions.

What must be shown follows from the workbook alone: the test typed the wrong value into that cell.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.table import Table
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.cli.app import app
from xlcalc.core import resources
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.report import RecalculationReport
from xlcalc.schema.kinds import Choice
from xlcalc.schema.values import CellError, ErrorCode, Grid, Refused, Value
from xlcalc.worksheet.catalogue import FUNCTIONS

NO_VERDICT = "NO VERDICT"
DRIVES: Grid = [
    ["tag", "rating", "unit", "pulses", "line reactor pct", "load pct", "efficiency pct", "bus"],
    ["P1", 200.0, "kW", 6.0, 3.0, 100.0, 96.0, "main"],
    ["P2", 300.0, "hp", 18.0, 3.0, 90.0, 96.0, "main"],
]
SITE: Grid = [
    ["utility kv", 13.8],
    ["utility mva", 200.0],
    ["transformer kva", 1500.0],
    ["transformer z pct", 5.75],
    ["main bus volts", 480.0],
    ["linear load kw", 300.0],
]
SETTINGS: Grid = [["edition", 2022.0], ["summation", "phasor"], ["unbalance pct", 0.5]]
NETWORK: Grid = [
    ["buses", None, None, None, None, None],
    ["name", "kv", "demand amps", None, None, None],
    ["U", 13.8, None, None, None, None],
    ["M", 0.48, None, None, None, None],
    ["utility", None, None, None, None, None],
    ["bus", "max mva", "x/r", None, None, None],
    ["U", 200.0, 10.0, None, None, None],
    ["transformers", None, None, None, None, None],
    ["name", "from bus", "to bus", "kva", "z pct", "vector group"],
    ["T1", "U", "M", 1000.0, 5.3, "Dyn1"],
]
PLANT_DRIVES: Grid = [[*row[:-1], "M" if number else "bus"] for number, row in enumerate(DRIVES)]
NOT_AVAILABLE = "#N/A"

PCC_SLIPS = {
    # range, row and column inside it, what is typed, how the sentence goes on after the cell
    "text in a number cell": ("drives", 2, 2, "two hundred", " is 'two hundred', which is no number"),
    "number with another unit": ("drives", 2, 2, "15 HP", " is '15 HP', which is no number"),
    "blank required cell": ("drives", 3, 2, None, " is blank; valid for rating"),
    "unknown heading": ("drives", 1, 2, "ratng", " is 'ratng', which is no known heading"),
    "heading twice": ("drives", 1, 6, "pulses", " is 'pulses' twice"),
    "duplicate tag": ("drives", 3, 1, "p1", " is 'p1', which stands above already"),
    "error value": ("drives", 2, 2, NOT_AVAILABLE, " holds the error value #N/A"),
    "wrong choice": ("drives", 2, 3, "kVA", " is 'kVA'"),
    "out of range": ("drives", 3, 2, -300.0, " is -300; valid for rating"),
    "wrong pulses": ("drives", 3, 4, 17.0, " is 17; valid for pulses"),
    "site: number with another unit": ("site", 3, 2, "1500 A", " is '1500 A', which is no number"),
    "site: blank required cell": ("site", 2, 2, None, " is blank; valid for utility mva"),
    "site: unknown name": ("site", 3, 1, "transfrmer kva", " is 'transfrmer kva', which is no known name"),
    "site: error value": ("site", 4, 2, NOT_AVAILABLE, " holds the error value #N/A"),
    "site: out of range": ("site", 4, 2, 575.0, " is 575; valid for transformer z pct"),
    "site: name twice": ("site", 4, 1, "transformer kva", " is transformer kva twice"),
    "settings: wrong choice": ("settings", 1, 2, 2021.0, " is 2021, which is none of the choices"),
    "settings: unknown name": ("settings", 2, 1, "sumation", " is 'sumation', which is no known name"),
    "settings: text": ("settings", 3, 2, "half", " is 'half', which is no number"),
}
PLANT_SLIPS = {
    "network: number with another unit": ("network", 3, 2, "13.8 A", " is '13.8 A', which is no number"),
    "network: blank required cell": ("network", 10, 5, None, " is blank; valid for z pct"),
    "network: unknown heading": ("network", 9, 4, "kvaa", " is 'kvaa', which is no known heading"),
    "network: duplicate name": ("network", 4, 1, "u", " is 'u', which stands above already"),
    "network: unknown bus": ("network", 10, 3, "X", " is X; valid for to bus"),
    "network: error value": ("network", 7, 2, NOT_AVAILABLE, " holds the error value #N/A"),
    "network: out of range": ("network", 10, 5, 120.0, " is 120; valid for z pct"),
    "network: no vector group": ("network", 10, 6, "Dyn12", " is Dyn12; valid for vector group"),
    "drives: unknown bus": ("drives", 2, 8, "attic", " is attic; valid for bus"),
    "drives: number with another unit": ("drives", 2, 2, "15 HP", " is '15 HP', which is no number"),
}
SHEETS = {"drives": "Drive list", "site": "Supply", "settings": "Choices", "network": "Plant"}
CORNERS = {"drives": (5, 2), "site": (3, 1), "settings": (1, 4), "network": (2, 3)}


def with_slip(grid: Grid, row: int, column: int, value: object) -> Grid:
    changed = [list(line) for line in grid]
    changed[row - 1][column - 1] = (
        CellError(ErrorCode.NA) if value == NOT_AVAILABLE else value  # type: ignore[call-overload]
    )
    return changed


def name_of(argument: str, row: int, column: int) -> str:
    """The cell as reasons write it."""
    top, left = CORNERS[argument]
    sheet = f"'{SHEETS[argument]}'" if " " in SHEETS[argument] else SHEETS[argument]
    return f"{sheet}!{openpyxl.utils.get_column_letter(left + column - 1)}{top + row - 1}"


def put(sheet: Worksheet, grid: Grid, top: int, left: int) -> str:
    for row, line in enumerate(grid, start=top):
        for column, value in enumerate(line, start=left):
            sheet.cell(row, column).value = str(value.code) if isinstance(value, CellError) else value
    letters = [openpyxl.utils.get_column_letter(left + n) for n in (0, len(grid[0]) - 1)]
    return f"${letters[0]}${top}:${letters[1]}${top + len(grid) - 1}"


def own_book(path: Path, ranges: dict[str, Grid], way: str, function: str, between: str = "") -> None:
    """A workbook as a user writes one, with ranges, names or tables as arguments."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    references = {}
    for argument, grid in ranges.items():
        sheet = book.create_sheet(SHEETS[argument])
        sheet["A1"] = None
        area = put(sheet, grid, *CORNERS[argument])
        reference = f"'{sheet.title}'!{area}"
        if way == "names":
            book.defined_names[f"my_{argument}"] = DefinedName(f"my_{argument}", attr_text=reference)
            reference = f"my_{argument}"
        if way == "tables" and argument == "drives" and all(isinstance(cell, str) for cell in grid[0]):
            sheet.add_table(Table(displayName="Motors", ref=area.replace("$", "")))
            reference = "Motors[#All]"
        references[argument] = reference
    given = list(references.values())
    result = book.create_sheet("Result")
    quantity = f'{between}"VERDICT"'
    result["B2"] = f"={function}({given[0]},{given[1]},{quantity},{given[2]})"
    result["B3"] = f'={function}({given[0]},{given[1]},{between}"TDD",{given[2]})'
    result["B4"] = "=B3*2"
    book.save(path)


def recalculated(path: Path) -> RecalculationReport:
    return recalculate(path, None, FUNCTIONS)


def check(report: RecalculationReport, cell: str, after: str, address: str) -> None:
    verdict = next(v for v in report.verdicts if v.address == address)
    assert verdict.verdict == NO_VERDICT
    assert verdict.typed == cell
    assert verdict.reason.startswith(cell + after), verdict.reason
    assert any(item.cell == cell and item.sentence.startswith(cell + after) for item in report.wrong_inputs)
    assert all(issue.outcome.startswith("#") for issue in report.issues)


@pytest.mark.parametrize(
    ("slip", "way"),
    [
        (slip, way)
        for slip in PCC_SLIPS
        for way in ("ranges", "names", "tables")
        if (slip, way) != ("heading twice", "tables")  # a spreadsheet program lets no table have one twice
    ],
)
def test_own_workbook_with_one_supply(tmp_path: Path, slip: str, way: str) -> None:
    argument, row, column, value, after = PCC_SLIPS[slip]
    ranges = {"drives": DRIVES, "site": SITE, "settings": SETTINGS}
    ranges[argument] = with_slip(ranges[argument], row, column, value)
    path = tmp_path / "own.xlsx"
    own_book(path, ranges, way, "HD_PCC_VALUE")
    check(recalculated(path), name_of(argument, row, column), after, "Result!B2")


@pytest.mark.parametrize("way", ["ranges", "names"])
@pytest.mark.parametrize("slip", PLANT_SLIPS)
def test_own_workbook_with_a_network(tmp_path: Path, slip: str, way: str) -> None:
    argument, row, column, value, after = PLANT_SLIPS[slip]
    ranges = {"network": NETWORK, "drives": PLANT_DRIVES, "settings": SETTINGS}
    ranges[argument] = with_slip(ranges[argument], row, column, value)
    path = tmp_path / "own.xlsx"
    own_book(path, ranges, way, "HD_PLANT_VALUE", '"U",')
    check(recalculated(path), name_of(argument, row, column), after, "Result!B2")


def raw_of(function: str, ranges: dict[str, Grid], quantity: str, settings: Grid) -> list[Value]:
    if function == "HD_PCC_VALUE":
        return [ranges["drives"], ranges["site"], quantity, settings]
    return [ranges["network"], ranges["drives"], "U", quantity, settings]


@pytest.mark.parametrize("slip", [*PCC_SLIPS, *PLANT_SLIPS])
def test_settings_that_say_where_the_ranges_stand(slip: str) -> None:
    """Without a workbook around it the function names the cell by itself, as in every host."""
    function, slips = ("HD_PCC_VALUE", PCC_SLIPS) if slip in PCC_SLIPS else ("HD_PLANT_VALUE", PLANT_SLIPS)
    argument, row, column, value, after = slips[slip]
    drives = DRIVES if function == "HD_PCC_VALUE" else PLANT_DRIVES
    ranges = {"drives": drives, "site": SITE, "settings": SETTINGS, "network": NETWORK}
    ranges[argument] = with_slip(ranges[argument], row, column, value)
    where: Grid = [
        [f"{name} at", f"'{SHEETS[name]}'!${openpyxl.utils.get_column_letter(left)}${top}"]
        for name, (top, left) in CORNERS.items()
        if name in {a.name for a in FUNCTIONS[function].arguments}
    ]
    settings = [*ranges["settings"], *where]
    cell = name_of(argument, row, column)
    call = FUNCTIONS[function]
    verdict = call(raw_of(function, ranges, "VERDICT", settings))
    assert isinstance(verdict, Refused)
    assert verdict == NO_VERDICT
    assert verdict.error.typed == cell
    assert verdict.error.reason.startswith(cell + after)
    quantities = next(a.kind for a in call.arguments if a.name == "quantity")
    assert isinstance(quantities, Choice)
    if "REASON" in quantities.options:
        assert call(raw_of(function, ranges, "REASON", settings)) == verdict.error.reason
    error = call(raw_of(function, ranges, "TDD", settings))
    assert isinstance(error, CellError)
    assert error.code is ErrorCode.NA or error.typed == cell


@pytest.mark.parametrize("slip", [*PCC_SLIPS, *PLANT_SLIPS])
def test_without_cells_row_and_argument_are_named(slip: str) -> None:
    function, slips = ("HD_PCC_VALUE", PCC_SLIPS) if slip in PCC_SLIPS else ("HD_PLANT_VALUE", PLANT_SLIPS)
    argument, row, column, value, _ = slips[slip]
    drives = DRIVES if function == "HD_PCC_VALUE" else PLANT_DRIVES
    ranges = {"drives": drives, "site": SITE, "settings": SETTINGS, "network": NETWORK}
    ranges[argument] = with_slip(ranges[argument], row, column, value)
    verdict = FUNCTIONS[function](raw_of(function, ranges, "VERDICT", ranges["settings"]))
    assert isinstance(verdict, Refused)
    assert verdict.error.typed == ""
    assert argument in verdict.error.reason or "table transformers" in verdict.error.reason


def heading_cell(sheet: Worksheet, words: str) -> tuple[int, int]:
    return next((cell.row, cell.column) for line in sheet.iter_rows() for cell in line if cell.value == words)


def drive_cell(heading: str, row: int) -> Callable[[openpyxl.Workbook], tuple[str, int, int]]:
    """Cell of a drive: row 0 is the heading."""

    def found(book: openpyxl.Workbook) -> tuple[str, int, int]:
        top, column = heading_cell(book["Drives"], heading)
        return "Drives", top + row, column

    return found


def named_cell(sheet: str, label: str) -> Callable[[openpyxl.Workbook], tuple[str, int, int]]:
    """Cell beside the name of an input."""

    def found(book: openpyxl.Workbook) -> tuple[str, int, int]:
        row, column = heading_cell(book[sheet], label)
        return sheet, row, column + 1

    return found


def network_cell(title: str, heading: str, row: int) -> Callable[[openpyxl.Workbook], tuple[str, int, int]]:
    """Cell of an element: row 0 is the heading."""

    def found(book: openpyxl.Workbook) -> tuple[str, int, int]:
        sheet = book["Network"]
        top = heading_cell(sheet, title)[0] + 1
        column = next(c for c in range(1, 30) if sheet.cell(top, c).value == heading)
        return "Network", top + row, column

    return found


TEMPLATE_SLIPS = {
    "number with another unit": (
        "drive_study",
        drive_cell("Rating", 1),
        "15 HP",
        " is '15 HP', which is no number",
    ),
    "blank required cell": ("drive_study", drive_cell("Rating", 2), None, " is blank; valid for rating"),
    "unknown heading": ("drive_study", drive_cell("Rating", 0), "Ratng", " is 'Ratng', which is no known"),
    "duplicate tag": ("drive_study", drive_cell("Tag", 2), "P-1", ""),
    "error value": ("drive_study", drive_cell("Rating", 1), NOT_AVAILABLE, " holds the error value #N/A"),
    "wrong choice": ("drive_study", drive_cell("Unit", 1), "kVA", " is 'kVA'"),
    "out of range": ("drive_study", drive_cell("Pulses", 1), 7, " is 7; valid for pulses"),
    "site: number with another unit": (
        "drive_study",
        named_cell("Site", "Transformer (kVA)"),
        "2000 A",
        " is '2000 A', which is no number",
    ),
    "site: blank": ("drive_study", named_cell("Site", "Utility (MVA)"), None, " is blank; valid for utility"),
    "settings: out of range": (
        "drive_study",
        named_cell("Site", "Edition"),
        2021,
        " is 2021, which is none of the choices",
    ),
    "settings of a drive: text": (
        "drive_study",
        named_cell("Site", "Reactor X/R"),
        "25 ohm",
        " is '25 ohm', which is no number",
    ),
    "network: number with another unit": (
        "plant_study",
        network_cell("Buses", "kV", 1),
        "12.47 A",
        " is '12.47 A', which is no number",
    ),
    "network: unknown bus": (
        "plant_study",
        network_cell("Transformers", "To bus", 1),
        "attic",
        " is attic; valid for to bus",
    ),
    "plant drives: text": (
        "plant_study",
        drive_cell("Rating", 1),
        "15 HP",
        " is '15 HP', which is no number",
    ),
}


@pytest.mark.parametrize("slip", TEMPLATE_SLIPS)
def test_template_filled_by_a_script(tmp_path: Path, slip: str) -> None:
    template, place, value, after = TEMPLATE_SLIPS[slip]
    path = tmp_path / "study.xlsx"
    book = openpyxl.load_workbook(resources.template(template))
    sheet, row, column = place(book)
    if slip == "duplicate tag":
        value = book[sheet].cell(row - 1, column).value
        after = f" is {value!r}, which stands above already"
    book[sheet].cell(row, column).value = value
    book.save(path)
    report = recalculated(path)
    cell = f"{sheet}!{openpyxl.utils.get_column_letter(column)}{row}"
    whole = report.verdicts[0]
    assert whole.name in ("study_verdict", "pcc_verdict")
    assert whole.verdict == NO_VERDICT
    assert whole.typed == cell
    assert whole.reason.startswith(cell + after), whole.reason
    first = report.wrong_inputs[0]
    assert first.cell == cell
    assert first.dependents > 100
    assert report.lines()[0].startswith(cell + after)
    assert "depend on it" in report.lines()[0]
    assert report.verdict_line().startswith(f"Verdict: NO VERDICT: {cell}")


def test_the_command_gives_states_and_cells_as_json(tmp_path: Path) -> None:
    path = tmp_path / "own.xlsx"
    ranges = {"drives": with_slip(DRIVES, 2, 2, "15 HP"), "site": SITE, "settings": SETTINGS}
    own_book(path, ranges, "ranges", "HD_PCC_VALUE")
    run = CliRunner().invoke(app, ["recalc", str(path), "--json"])
    assert run.exit_code == 1
    given = json.loads(run.stdout)
    cell = name_of("drives", 2, 2)
    assert given["evaluated"] == 3
    assert given["refused"] == []
    assert [(e["sheet"], e["cell"], e["error"], e["typed"]) for e in given["errors"]] == [
        ("Result", "B3", "#VALUE!", cell),
        ("Result", "B4", "#VALUE!", cell),
    ]
    (verdict,) = given["verdicts"]
    assert (verdict["sheet"], verdict["cell"], verdict["verdict"]) == ("Result", "B2", NO_VERDICT)
    assert verdict["typed"] == cell
    assert verdict["reason"].startswith(f"{cell} is '15 HP', which is no number")
    assert given["wrong_inputs"][0]["dependents"] == 2


def test_a_verdict_alone_shows_the_error_too(tmp_path: Path) -> None:
    """No cell shows an error value, and yet the run has not succeeded."""
    path = tmp_path / "own.xlsx"
    own_book(
        path,
        {"drives": with_slip(DRIVES, 2, 2, "15 HP"), "site": SITE, "settings": SETTINGS},
        "names",
        "HD_PCC_VALUE",
    )
    book = openpyxl.load_workbook(path)
    book["Result"]["B3"] = book["Result"]["B4"] = None
    book.save(path)
    run = CliRunner().invoke(app, ["recalc", str(path)])
    assert run.exit_code == 1
    assert f"{name_of('drives', 2, 2)} is '15 HP'" in run.output
    assert "1 input is wrong" in run.output


@pytest.mark.parametrize(
    "drives",
    [
        "OFFSET('Drive list'!$B$5,0,0,3,8)",
        "'Drive list'!$B$5:INDEX('Drive list'!$I:$I,7)",
        "CHOOSE(1,'Drive list'!$B$5:$I$7,'Drive list'!$B$5:$I$6)",
        "LET(x,'Drive list'!$B$5:$I$7,x)",
    ],
)
def test_computed_ranges_are_followed(tmp_path: Path, drives: str) -> None:
    path = tmp_path / "own.xlsx"
    own_book(
        path,
        {"drives": with_slip(DRIVES, 3, 2, "300 HP"), "site": SITE, "settings": SETTINGS},
        "ranges",
        "HD_PCC_VALUE",
    )
    book = openpyxl.load_workbook(path)
    for cell in ("B2", "B3"):
        book["Result"][cell] = book["Result"][cell].value.replace("'Drive list'!$B$5:$I$7", drives)
    book.save(path)
    check(recalculated(path), name_of("drives", 3, 2), " is '300 HP', which is no number", "Result!B2")


def test_a_refusal_whose_cell_is_not_known_is_an_error_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "own.xlsx"
    own_book(path, {"drives": DRIVES, "site": SITE, "settings": SETTINGS}, "ranges", "HD_PCC_VALUE")
    book = openpyxl.load_workbook(path)
    book["Result"]["B3"] = book["Result"]["B4"] = None
    book["Result"]["B2"] = '=HD_PCC_VALUE({"tag","rating";"P1",5},Supply!A3:B8,"VERDICT")'
    book.save(path)
    run = CliRunner().invoke(app, ["recalc", str(path)])
    assert run.exit_code == 1
    assert "NO VERDICT: column" in run.output


def test_a_sound_workbook_and_one_without_all_orders_are_no_errors(tmp_path: Path) -> None:
    path = tmp_path / "own.xlsx"
    own_book(path, {"drives": DRIVES, "site": SITE, "settings": SETTINGS}, "tables", "HD_PCC_VALUE")
    book = openpyxl.load_workbook(path)
    sheet = book.create_sheet("Orders")
    put(sheet, [[1.0, 100.0], [5.0, 3.0], [7.0, 2.0]], 1, 1)
    sheet["D1"] = (
        "=INDEX(HD_VERDICT_IEEE519(A1:B3,100,60,0.48),ROWS(HD_VERDICT_IEEE519(A1:B3,100,60,0.48)),6)"
    )
    book.save(path)
    run = CliRunner().invoke(app, ["recalc", str(path), "--json"])
    given = json.loads(run.stdout)
    assert run.exit_code == 0, given
    verdicts = {(v["sheet"], v["cell"]): v for v in given["verdicts"]}
    assert verdicts["Result", "B2"]["verdict"] in ("PASS", "FAIL", NO_VERDICT)
    missing = verdicts["Orders", "D1"]
    assert missing["verdict"] == NO_VERDICT
    assert "not given" in missing["reason"]
    assert given["wrong_inputs"] == []


def test_a_folder_shows_the_verdict_of_each_book(tmp_path: Path) -> None:
    for name, drives in (("a", DRIVES), ("b", with_slip(DRIVES, 2, 2, "15 HP"))):
        own_book(
            tmp_path / f"{name}.xlsx",
            {"drives": drives, "site": SITE, "settings": SETTINGS},
            "ranges",
            "HD_PCC_VALUE",
        )
    run = CliRunner().invoke(app, ["recalc", str(tmp_path), "--json", "--workers", "1"])
    given = json.loads(run.stdout)
    words = {Path(book["file"]).name: book["verdict"] for book in given["workbooks"]}
    assert words["b.xlsx"].startswith(f"{NO_VERDICT}: {name_of('drives', 2, 2)} is '15 HP'")
    assert not words["a.xlsx"].startswith(f"{NO_VERDICT}: {name_of('drives', 2, 2)}")
    assert run.exit_code == 1


@pytest.mark.parametrize(
    ("function", "raw", "words"),
    [
        ("HD_PCC_VALUE", [SITE, DRIVES, "VERDICT"], "drives and site are swapped"),
        ("HD_PCC_VALUE", [SETTINGS, SITE, "VERDICT"], "drives is given a range that looks like settings"),
        ("HD_PCC_VALUE", [DRIVES, SETTINGS, "VERDICT", SITE], "site and settings are swapped"),
        ("HD_PLANT_VALUE", [PLANT_DRIVES, NETWORK, "U", "VERDICT"], "network and drives are swapped"),
        ("HD_PLANT_VALUE", [NETWORK, SETTINGS, "U", "VERDICT"], "drives is given a range that looks like"),
    ],
)
def test_swapped_arguments_are_recognised(function: str, raw: list[Value], words: str) -> None:
    position = raw.index("VERDICT")
    assert FUNCTIONS[function](raw) == NO_VERDICT
    reason = FUNCTIONS[function]([*raw[:position], "REASON", *raw[position + 1 :]])
    assert isinstance(reason, str)
    assert words in reason


def test_a_choice_of_mitigation_names_the_cell_of_its_options() -> None:
    function = FUNCTIONS["HD_CHOICE_VALUE"]
    options: Grid = [
        ["front ends", None, None, None, None],
        ["option", "pulses", "line reactor pct", "price a", "price b"],
        ["none", 6.0, None, 0.0, 0.0],
        ["reactor", 6.0, "five", 100.0, 10.0],
    ]
    terms: Grid = [["general terms", None], ["price per kwh", "margin pct"], [0.1, 0.0]]
    where: Grid = [["options at", "Options!B4"], ["terms at", "Terms!A1"]]
    raw: list[Value] = [NETWORK, PLANT_DRIVES, options, terms, "VERDICT", where]
    assert function(raw) == NO_VERDICT
    raw[4] = "REASON"
    assert str(function(raw)).startswith("Options!D7 is 'five', which is no number")


def test_a_choice_of_mitigation_names_the_cell_of_a_pin() -> None:
    function = FUNCTIONS["HD_CHOICE_VALUE"]
    options: Grid = [["front ends", None, None], ["option", "pulses", "price a"], ["none", 6.0, 0.0]]
    terms: Grid = [
        ["general terms", None, None],
        ["price per kwh", "margin pct", None],
        [0.1, 0.0, None],
        ["pins", None, None],
        ["drives", "bus", "options"],
        ["P1", "M", "none"],
    ]
    where: Grid = [["options at", "Options!B4"], ["terms at", "Terms!B2"]]
    verdict = function([NETWORK, PLANT_DRIVES, options, terms, "VERDICT", where])
    assert isinstance(verdict, Refused)
    assert verdict.error.reason.startswith("Terms!D7 is drives and a bus; valid for table pins: one of both")


def test_a_place_that_is_no_cell_is_refused() -> None:
    call = FUNCTIONS["HD_PCC_VALUE"]
    reason = call([DRIVES, SITE, "REASON", [["drives at", "somewhere"]]])
    assert isinstance(reason, str)
    assert reason.startswith("drives at in settings is 'somewhere'; valid: the sheet and the first cell")
