"""One slip, every door that takes it: worksheet function, template, list as CSV and XLSX, TOML, submittal.

What is expected follows from the slip alone: what was typed cannot be read as meant, so there is no verdict
(or the file is refused), and the sentence names the cell or the field. The base plant passes through every
door, so that the slip, and nothing else, takes the PASS away.
"""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import warnings
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from openpyxl import Workbook, load_workbook

from xlcalc import resources
from xlcalc.cli import app
from xlcalc.errors import InputError
from xlcalc.hosts.headless.recalc import recalculate
from xlcalc.hosts.libreoffice.office import Office, find_office
from xlcalc.workbooks import drive_study, package
from xlcalc.workbooks.drives_sheet import HEADER_ROW
from xlcalc.workbooks.fill import fill_template
from xlcalc.workbooks.study_data import StudyData, read_study
from xlcalc.worksheet.catalogue import FUNCTIONS

pytestmark = pytest.mark.filterwarnings("ignore:Print area cannot be set")
HEADINGS = (
    "Tag",
    "Quantity",
    "Rating",
    "Unit",
    "Efficiency (%)",
    "Bus",
    "Pulses",
    "Line reactor (%)",
    "DC choke (%)",
    "Load (%)",
)
FIELDS = (
    "tag",
    "quantity",
    "rating",
    "unit",
    "efficiency pct",
    "bus",
    "pulses",
    "line reactor pct",
    "dc choke pct",
    "load pct",
)
ROWS: tuple[tuple[Any, ...], ...] = (
    ("X-1", 1, 60, "hp", 94, "main", 6, 3, 0, 100),
    ("X-2", 2, 30, "kW", 93, "main", 6, 3, 2, 90),
)
SITE: dict[str, Any] = {
    "utility kv": 12.47,
    "utility mva": 150,
    "transformer kva": 1000,
    "transformer z pct": 5.75,
    "main bus volts": 480,
    "linear load kw": 250,
}
SETTINGS: dict[str, Any] = {"edition": 2022, "supply": "ideal"}


@dataclass(frozen=True)
class Slip:
    """What is typed into one cell.

    Parameters
    ----------
    where : str
        "drive" (the second row), "site" or "settings".
    field : str
        Name of the value, as the functions have it.
    typed : object
    text_file : bool
        Whether a text file is to refuse it as well; False where a list is read more generously.
    """

    where: str
    field: str
    typed: Any
    text_file: bool = True


SLIPS = {
    "quantity nought": Slip("drive", "quantity", 0),
    "quantity with a fraction": Slip("drive", "quantity", 2.5),
    "quantity below nought": Slip("drive", "quantity", -1),
    "quantity as a word": Slip("drive", "quantity", "two"),
    "rating with its unit": Slip("drive", "rating", "30 hp"),
    "rating with a comma for thousands": Slip("drive", "rating", "1,200"),
    "rating with a no-break blank": Slip("drive", "rating", "30\u00a0", text_file=False),
    "rating blank": Slip("drive", "rating", None),
    "rating in W": Slip("drive", "rating", 30000),
    "rating in MW": Slip("drive", "rating", 0.03),
    "unit blank": Slip("drive", "unit", None),
    "unit kVA": Slip("drive", "unit", "kVA"),
    "efficiency as a fraction": Slip("drive", "efficiency pct", 0.93),
    "bus that is not there": Slip("drive", "bus", "MCC 1"),
    "bus behind a transformer that is not there": Slip("drive", "bus", "second"),
    "pulses blank": Slip("drive", "pulses", None),
    "pulses as a kind": Slip("drive", "pulses", "AFE"),
    "pulses as a word": Slip("drive", "pulses", "6-pulse", text_file=False),
    "seven pulses": Slip("drive", "pulses", 7),
    "reactor as a fraction": Slip("drive", "line reactor pct", 0.03),
    "reactor below nought": Slip("drive", "line reactor pct", -3),
    "reactor with a decimal comma": Slip("drive", "line reactor pct", "3,5", text_file=False),
    "load as a fraction": Slip("drive", "load pct", 0.9),
    "load nought": Slip("drive", "load pct", 0),
    "quantity as a logical value": Slip("drive", "quantity", True),
    "rating as a logical value": Slip("drive", "rating", True),
    "reactor without its decimal point": Slip("drive", "line reactor pct", 30),
    "choke without its decimal point": Slip("drive", "dc choke pct", 40),
    "tag of one blank": Slip("drive", "tag", " "),
    "tag twice": Slip("drive", "tag", "x-1 "),
    "tag blank": Slip("drive", "tag", None),
    "kV in volts": Slip("site", "utility kv", 12470),
    "MVA in kVA": Slip("site", "utility mva", 150000),
    "MVA blank": Slip("site", "utility mva", None),
    "kVA in MVA": Slip("site", "transformer kva", 1),
    "impedance as a fraction": Slip("site", "transformer z pct", 0.0575),
    "volts in kV": Slip("site", "main bus volts", 0.48),
    "volts of a phase": Slip("site", "main bus volts", 277),
    "volts with one digit too many": Slip("site", "main bus volts", 4800),
    "kVA with one digit too few": Slip("site", "transformer kva", 200),
    "load with another unit": Slip("site", "linear load kw", "250 hp"),
    "load in MW": Slip("site", "linear load kw", 0.25),
    "kV as a logical value": Slip("site", "utility kv", True),
    "load below nought": Slip("site", "linear load kw", -250),
    "power factor in percent": Slip("site", "linear load pf", 85),
    "PCC that is not there": Slip("site", "pcc", "utility"),
    "IL nought": Slip("site", "demand amps", 0),
    "IL below the current of the case": Slip("site", "demand amps", 2),
    "IL of the other side": Slip("site", "demand amps", 700),
    "IL with a decimal comma": Slip("site", "demand amps", "23,5"),
    "capacitor in kvar": Slip("site", "capacitor mvar", 300),
    "edition as a title": Slip("settings", "edition", "IEEE 519-2022"),
    "edition that is none": Slip("settings", "edition", 2021),
    "supply that is none": Slip("settings", "supply", "good"),
    "unbalance with a decimal comma": Slip("settings", "unbalance pct", "0,5"),
    "capacitance of the link in uF": Slip("settings", "dc capacitance pu", 470),
    "background below nought": Slip("settings", "background 5th pct", -2),
}
LABELS = {
    "utility kv": "Utility (kV)",
    "utility mva": "Utility (MVA)",
    "transformer kva": "Transformer (kVA)",
    "transformer z pct": "Transformer Z (%)",
    "main bus volts": "Main bus (volts)",
    "linear load kw": "Linear load (kW)",
    "linear load pf": "Linear load PF",
    "pcc": "PCC",
    "demand amps": "Demand (amps)",
    "capacitor mvar": "Capacitor (Mvar)",
    "edition": "Edition",
    "supply": "Supply",
    "unbalance pct": "Unbalance (%)",
    "background 5th pct": "Background 5th (%)",
}
IL_JUDGED = ("IL below the current of the case", "IL of the other side")
"""Read without complaint and judged: the sentence speaks of IL."""


def named(slip: Slip, name: str) -> str:
    """What the sentence must say, where cells are not known."""
    return "IL typed" if name in IL_JUDGED else slip.field


def inputs(slip: Slip | None) -> tuple[list[list[Any]], dict[str, Any], dict[str, Any]]:
    """Rows of drives, site and settings with the slip in them."""
    rows, site, settings = [list(row) for row in ROWS], dict(SITE), dict(SETTINGS)
    if slip is not None and slip.where == "drive":
        rows[1][FIELDS.index(slip.field)] = slip.typed
    elif slip is not None:
        (site if slip.where == "site" else settings)[slip.field] = slip.typed
    return rows, site, settings


def asked(slip: Slip | None, quantity: str) -> Any:
    rows, site, settings = inputs(slip)
    table = [list(FIELDS), *rows]
    pairs = [[[name, value] for name, value in values.items()] for values in (site, settings)]
    numbers = [[[float(c) if type(c) is int else c for c in row] for row in grid] for grid in (table, *pairs)]
    return FUNCTIONS["HD_PCC_VALUE"]([numbers[0], numbers[1], quantity, numbers[2]])


def test_without_a_slip_the_function_passes() -> None:
    assert asked(None, "VERDICT") == "PASS"
    assert asked(None, "REASON") == ""


@pytest.mark.parametrize("name", SLIPS)
def test_worksheet_function(name: str) -> None:
    slip = SLIPS[name]
    assert asked(slip, "VERDICT") == "NO VERDICT"
    assert named(slip, name) in asked(slip, "REASON")


@pytest.fixture(scope="session")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The template with the base plant, computed: its verdict is PASS."""
    demo, folder = resources.folder("demo"), tmp_path_factory.mktemp("doors")
    raw, path = folder / "template.xlsx", folder / "study.xlsx"
    package.save(drive_study.build(read_study(demo / "starter_site.toml", demo / "starter_drives.csv")), raw)
    rows, site, settings = inputs(None)
    drives = tuple(dict(zip(HEADINGS, row, strict=True)) for row in rows)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fill_template(raw, StudyData(site, drives, settings=settings), path)
    report = recalculate(path, None, FUNCTIONS)
    assert report.clean
    assert report.verdict_line() == "Verdict: PASS"
    return path


def cell_of(book: Workbook, slip: Slip) -> tuple[str, str]:
    """Sheet and cell of the template in which the slip is typed."""
    if slip.where == "drive":
        heading = HEADINGS[FIELDS.index(slip.field)]
        (cell,) = [c for c in book["Drives"][HEADER_ROW] if c.value == heading]
        return "Drives", f"{cell.column_letter}{HEADER_ROW + 2}"
    first = 12 if slip.where == "site" else 33
    rows = [row for row in range(first, 53) if book["Site"].cell(row, 1).value == LABELS[slip.field]]
    return "Site", f"B{rows[0]}"


def typed_in(source: Path, target: Path, *cells: tuple[str, str, Any]) -> Path:
    """A copy in which a program typed into cells without computing: every other value stays as it was."""
    book = load_workbook(source, read_only=True)
    parts = {f"xl/worksheets/sheet{number}.xml": name for number, name in enumerate(book.sheetnames, start=1)}
    book.close()
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.namelist():
            text = old.read(entry)
            for sheet, cell, value in cells:
                if parts.get(entry) == sheet:
                    text = _typed(text.decode(), cell, value).encode()
            new.writestr(entry, text)
    return target


def _typed(xml: str, cell: str, value: Any) -> str:
    def element(match: re.Match[str]) -> str:
        start = re.sub(r' t="\w*"', "", f'<c r="{cell}"{match[1]}')
        if value is None:
            return f"{start}/>"
        if isinstance(value, str):
            return f'{start} t="inlineStr"><is><t xml:space="preserve">{value}</t></is></c>'
        return f"{start}><v>{value!r}</v></c>"

    changed, found = re.subn(rf'<c r="{cell}"((?:\s[^>]*?)?)(?:/>|>.*?</c>)', element, xml, count=1)
    assert found == 1, cell
    return changed


def shown(path: Path, *cells: str) -> list[Any]:
    """Values of the sheet PCC."""
    sheet = load_workbook(path, data_only=True)["PCC"]
    return [sheet[cell].value for cell in cells]


@pytest.mark.parametrize("name", SLIPS)
def test_template_typed_in_by_a_program_that_does_not_compute(study: Path, tmp_path: Path, name: str) -> None:
    """The file still shows PASS from before; after recalc it must not, on the sheet as on the terminal."""
    slip = SLIPS[name]
    sheet, cell = cell_of(load_workbook(study), slip)
    path = typed_in(study, tmp_path / "typed.xlsx", (sheet, cell, slip.typed))
    assert shown(path, "C5") == ["PASS"]
    report = recalculate(path, None, FUNCTIONS)
    assert report.verdicts[0].name == "study_verdict"
    assert report.verdicts[0].verdict == "NO VERDICT"
    verdict, reason = shown(path, "C5", "C6")
    assert verdict == "NO VERDICT"
    if name == "tag blank":
        assert "without a tag" in reason
    elif name in IL_JUDGED:
        assert "IL typed" in reason
    else:
        assert f"{sheet}!{cell} " in reason, reason
        assert any(wrong.cell == f"{sheet}!{cell}" for wrong in report.wrong_inputs)


def site_file(folder: Path, slip: Slip | None) -> Path:
    _, site, settings = inputs(slip)
    lines = []
    for title, values in (("site", site), ("settings", settings)):
        lines.append(f"[{title}]")
        lines += [f"{json.dumps(k)} = {json.dumps(v)}" for k, v in values.items() if v is not None]
    path = folder / "site.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def list_file(folder: Path, slip: Slip | None, ending: str) -> Path:
    rows, _, _ = inputs(slip)
    path = folder / f"drives.{ending}"
    if ending == "csv":
        with path.open("w", newline="", encoding="utf-8") as stream:
            csv.writer(stream).writerows([HEADINGS, *rows])
    else:
        book = Workbook()
        for row in (HEADINGS, *rows):
            book.active.append(row)
        book.save(path)
    return path


def scheduled(folder: Path, slip: Slip | None, ending: str) -> tuple[int, str, list[dict[str, str]]]:
    """Exit code, what was printed, and the rows of the sites."""
    target = folder / "out.csv"
    run = CliRunner().invoke(
        app,
        [
            "schedule",
            str(list_file(folder, slip, ending)),
            "--site",
            str(site_file(folder, slip)),
            "-o",
            str(target),
        ],
    )
    assert isinstance(run.exception, SystemExit | InputError | None), run.exception
    refusal = str(run.exception) if isinstance(run.exception, InputError) else ""
    sites = folder / "out_sites.csv"
    if not sites.exists():
        return run.exit_code, run.output + refusal, []
    with sites.open(encoding="utf-8", newline="") as stream:
        found = list(csv.DictReader(stream))
    with (folder / "out_problems.csv").open(encoding="utf-8", newline="") as stream:
        found += [dict(row) for row in csv.DictReader(stream)]
    return run.exit_code, run.output, found


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_without_a_slip_a_schedule_passes(tmp_path: Path, ending: str) -> None:
    code, _, found = scheduled(tmp_path, None, ending)
    assert code == 0
    assert found[0]["verdict"] == "PASS"


TOLD_BY = {"unit blank": "Rating", "rating in W": "link power"}
"""Columns that the sentence of a list names, where it is another one than the slip is in."""
LISTS = [
    (name, ending)
    for name, slip in SLIPS.items()
    if slip.text_file
    for ending in (("csv", "xlsx") if slip.where == "drive" else ("csv",))
]


@pytest.mark.parametrize(("name", "ending"), LISTS, ids=[f"{ending}: {name}" for name, ending in LISTS])
def test_schedule(tmp_path: Path, name: str, ending: str) -> None:
    """A row that cannot be read is listed with its column, and the totals without it have no verdict."""
    slip = SLIPS[name]
    code, printed, found = scheduled(tmp_path, slip, ending)
    if slip.where == "drive":
        assert code == 1
        assert found[0]["verdict"] == "NO VERDICT"
        heading = TOLD_BY.get(name, HEADINGS[FIELDS.index(slip.field)])
        problems = " ".join(str(list(row.values())) for row in found[1:])
        assert heading in problems, problems
        assert "'3'" in problems
    elif name in IL_JUDGED:
        assert found[0]["verdict"] == "NO VERDICT"
        assert "IL typed" in found[0]["reason"]
    else:
        assert code != 0
        assert not found
        assert slip.field in printed.replace("\n", " ")


OVERTYPED = {
    "PASS over the verdict": (("PCC", "C5", "PASS"), "PCC!C5 holds 'PASS', typed over a formula"),
    "the verdict emptied": (("PCC", "C5", None), "PCC!C5 was emptied"),
    "a figure over TDD": (("PCC", "D14", 3.0), "PCC!D14 holds 3, typed over a formula"),
    "a figure over a drive's THD": (("Drives", "Q12", 12.0), "Drives!Q12 holds 12, typed over a formula"),
    "the fault emptied": (("Checks", "A5", None), "Checks!A5 was emptied"),
    "a check switched off": (("Checks", "D9", "ok"), "Checks!D9 holds 'ok', typed over a formula"),
}


@pytest.mark.parametrize(("cell", "sentence"), OVERTYPED.values(), ids=list(OVERTYPED))
def test_values_typed_over_formulas_are_found(
    study: Path, tmp_path: Path, cell: tuple[str, str, Any], sentence: str
) -> None:
    path = typed_in(study, tmp_path / "over.xlsx", cell)
    run = CliRunner().invoke(app, ["recalc", str(path)])
    assert run.exit_code == 1
    assert f"Verdict: NO VERDICT: {sentence}" in run.output
    if cell[:2] != ("PCC", "C5"):
        assert shown(path, "C5") == ["NO VERDICT"]
    for asked_for in ([], ["--as-stored"]):
        target = tmp_path / "pages.xlsx"
        made = CliRunner().invoke(app, ["submittal", str(path), "-o", str(target), *asked_for])
        assert made.exit_code != 0
        assert sentence in made.output + str(made.exception)
        assert not target.exists()


def without(part: str) -> Callable[[Workbook], None]:
    def change(book: Workbook) -> None:
        if part in book.sheetnames:
            book.remove(book[part])
        else:
            del book.defined_names[part]

    return change


@pytest.mark.parametrize("part", ["Checks", "Arrays", "input_fault", "outside_drives_right", "site"])
def test_a_deleted_sheet_or_name_leaves_no_pass(study: Path, tmp_path: Path, part: str) -> None:
    """What depends on it cannot be evaluated, and an old verdict does not stay."""
    path, book = tmp_path / "deleted.xlsx", load_workbook(study)
    without(part)(book)
    book.save(path)
    report = recalculate(path, None, FUNCTIONS)
    assert not report.clean
    assert report.verdicts[0].verdict == "NO VERDICT"
    assert part in report.verdicts[0].reason
    assert shown(path, "C5") == ["NO VERDICT"]


@pytest.mark.parametrize(
    ("field", "said"),
    [("quantity", "quantity 1 (X-2)"), ("bus", "bus main (X-2)"), ("load pct", "100 (X-2)")],
)
def test_a_blank_cell_that_counts_as_something_is_named(tmp_path: Path, field: str, said: str) -> None:
    """Allowed, and therefore the more to be told beside the verdict."""
    slip = Slip("drive", field, None)
    assert said in asked(slip, "REMARKS")
    _, _, found = scheduled(tmp_path, slip, "csv")
    assert said in found[0]["remarks"]


@pytest.fixture(scope="session")
def calc_saves(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Path], Path]:
    """Opens a workbook in LibreOffice Calc without the add-in and saves it, as somebody without it does."""
    if shutil.which("soffice") is None:
        missing = pytest.fail if os.environ.get("XLCALC_EXPECT_HOSTS") == "1" else pytest.skip
        missing("LibreOffice (soffice) is not installed")
    folder = tmp_path_factory.mktemp("calc")
    (folder / "extensions").mkdir()
    office = Office(find_office().program, folder / "profile", folder / "extensions")

    def save(path: Path) -> Path:
        target = folder / "saved"
        target.mkdir(exist_ok=True)
        office.convert(path, target)
        return target / path.name

    return save


THROUGH_CALC = {
    "PASS over the verdict": (("PCC", "C5", "PASS"), "PCC!C5 holds 'PASS'"),
    "reactor with a decimal comma": (("Drives", "I12", "3,5"), "Drives!I12 is '3,5'"),
    "quantity nought": (("Drives", "C12", 0), "Drives!C12 is 0"),
}


@pytest.mark.parametrize(("cell", "sentence"), THROUGH_CALC.values(), ids=list(THROUGH_CALC))
def test_template_saved_by_calc(
    study: Path,
    tmp_path: Path,
    calc_saves: Callable[[Path], Path],
    cell: tuple[str, str, Any],
    sentence: str,
) -> None:
    """Names over formulas, names of rooms and the typed cell itself survive what Calc writes."""
    saved = calc_saves(typed_in(study, tmp_path / "typed.xlsx", cell))
    report = recalculate(saved, None, FUNCTIONS)
    assert report.verdicts[0].verdict == "NO VERDICT"
    assert report.verdicts[0].reason.startswith(sentence)


def test_a_choice_from_a_list_is_no_fault(study: Path, tmp_path: Path) -> None:
    """The cell opens with a formula for its first choice, and is there to be typed in."""
    path = typed_in(study, tmp_path / "chosen.xlsx", ("Drive view", "C4", "X-2"))
    report = recalculate(path, None, FUNCTIONS)
    assert report.clean
    assert report.verdict_line() == "Verdict: PASS"
