"""`xlcalc new` fills a template from a list of drives; the workbook gives what `schedule` gives."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from openpyxl import load_workbook

from xlcalc.cli.app import app
from xlcalc.cli.samples import EXAMPLES
from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.io.plants.chain_plant import chain_content
from xlcalc.io.plants.plant_file import plant_from
from xlcalc.io.plants.site import Site
from xlcalc.io.plants.site_file import read_drive_site
from xlcalc.jobs.schedule.schedule_run import run_schedule
from xlcalc.recalc.recalc import recalculate
from xlcalc.workbooks.drive.summary import read_summary
from xlcalc.worksheet.catalogue import FUNCTIONS

DEMO = Path(__file__).parents[2] / "demo"
SITE = """
[site]
"utility kv" = 20
"utility mva" = 250
"transformer kva" = 1600
"transformer z pct" = 6
"main bus volts" = 400

[settings]
supply = "ideal"
"""
LIST = """Pumping hall, invented;;;;;
;;;;;
Tag;Description;Rating kW;Pulses;Line reactor %;Qty
P-1;Main pump;200;6;3;2
P-2;Fan;75,5;6;;
P-3;=1+1;315;12;;1
"""
MORE = """"linear load kw" = 150
"demand amps" = 40
"second transformer kva" = 400
"second transformer z pct" = 4
"second transformer shift deg" = -37.5
"second bus volts" = 230

[settings]"""
BUSES = ("Bus", "main", "second", "main")


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def files(tmp_path: Path) -> Path:
    (tmp_path / "site.toml").write_text(SITE, encoding="utf-8")
    (tmp_path / "list.csv").write_bytes(LIST.encode("cp1252"))
    return tmp_path


def test_a_filled_study_gives_what_the_schedule_gives(files: Path) -> None:
    book, listed, site = files / "my.xlsx", files / "list.csv", files / "site.toml"
    done = run("new", "drive_study", book, "--drives", listed, "--site", site)
    assert done.exit_code == 0, done.output
    assert "with 3 rows" in done.output
    assert "efficiency assumed" in done.output
    assert recalculate(book, None, FUNCTIONS).clean
    _, tables = run_schedule(listed, [read_drive_site(site)])
    summary = read_summary(book)
    assert summary.pcc["TDD"] == pytest.approx(tables.sites["tdd pct"].iloc[0], rel=1e-9)
    assert summary.pcc["VERDICT"] == tables.sites["verdict"].iloc[0]
    drives = [row for row in summary.drives if row["Tag"]]
    assert [row["Tag"] for row in drives] == ["P-1", "P-2", "P-3"]
    assert [row["Quantity"] for row in drives] == [2, None, 1]
    assert drives[1]["Rating"] == 75.5
    sheet = load_workbook(book)["Drives"]
    texts = [cell for row in sheet.iter_rows() for cell in row if cell.value == "=1+1"]
    assert [cell.data_type for cell in texts] == ["s"]


def test_a_filled_plant_gives_what_the_schedule_gives(tmp_path: Path) -> None:
    book = tmp_path / "plant.xlsx"
    given = ("--drives", DEMO / "starter_plant_drives.csv", "--site", DEMO / "starter_plant.toml")
    done = run("new", "plant_study", book, *given)
    assert done.exit_code == 0, done.output
    table = load_workbook(book)["Drives"]
    tags = {cell.value for row in table.iter_rows() for cell in row}
    lines = (DEMO / "starter_plant_drives.csv").read_text(encoding="utf-8").splitlines()[1:]
    assert {line.split(",")[0] for line in lines} <= tags


def test_a_site_is_a_plant_too(files: Path) -> None:
    """The transformers of a chain as a network of buses give what the chain gives, at both its levels."""
    text = SITE.replace('mva" = 250', 'mva" = 250\n"utility min mva" = 120').replace("[settings]", MORE)
    (files / "site.toml").write_text(text, encoding="utf-8")
    rows = [line.split(";") for line in LIST.splitlines()[2:]]
    lines = [",".join([*(c.replace(",", ".") for c in r), b]) for r, b in zip(rows, BUSES, strict=True)]
    (files / "list.csv").write_text("\n".join(lines), encoding="utf-8")
    site = read_drive_site(files / "site.toml")
    assert isinstance(site, Site)
    plant = plant_from(files / "site.toml", chain_content(site, {"supply": "ideal"}))
    chain, buses = (run_schedule(files / "list.csv", [where])[1].sites for where in (site, plant))
    assert buses["case"].tolist() == ["Maximum supply", "Minimum supply"]
    worst = buses.loc[buses["margin pct of limit"].idxmin()]
    for name in ("tdd pct", "thdv pct", "isc/il", "margin pct of limit"):
        assert chain[name].iloc[0] == pytest.approx(worst[name], rel=1e-6)


@pytest.mark.parametrize("template", ["plant_study", "choice_study"])
def test_a_list_and_a_site_fill_the_templates_of_plants(files: Path, template: str) -> None:
    book = files / "my.xlsx"
    done = run("new", template, book, "--drives", files / "list.csv", "--site", files / "site.toml")
    assert done.exit_code == 0, done.output
    sheets = load_workbook(book)
    values = {
        cell.value for name in ("Drives", "Network") for row in sheets[name].iter_rows() for cell in row
    }
    assert {"P-1", "P-2", "P-3", "utility", "main", "Transformer"} <= values
    if template == "choice_study":
        terms = {cell.value for row in sheets["Terms"].iter_rows() for cell in row}
        assert {"As described", "utility"} <= terms
        assert "MCC-A" not in terms


def test_one_drive_of_a_list_is_compared_with_other_front_ends(files: Path) -> None:
    book = files / "my.xlsx"
    given = ("--drives", files / "list.csv", "--site", files / "site.toml")
    done = run("new", "front_end_comparison", book, *given, "--tag", "p-2")
    assert done.exit_code == 0, done.output
    names = {cell.value for sheet in load_workbook(book) for row in sheet.iter_rows() for cell in row}
    site = read_drive_site(files / "site.toml")
    assert isinstance(site, Site)
    level = site.network_in(site.settings).short_circuit_va("main") / 1e6
    assert {75.5, float(f"{level:.6g}")} <= names
    wrong = run("new", "front_end_comparison", files / "b.xlsx", *given, "--tag", "P-9")
    assert "--tag is P-9" in str(wrong.exception)
    two = SITE.replace('mva" = 250', 'mva" = 250\n"utility min mva" = 120')
    (files / "site.toml").write_text(two, encoding="utf-8")
    wrong = run("new", "front_end_comparison", files / "b.xlsx", *given, "--tag", "p-2")
    assert "utility min mva of the site is 120 MVA" in str(wrong.exception)
    assert not (files / "b.xlsx").exists()


@pytest.mark.parametrize(
    ("right", "wrong", "says"), [("200;6", "200;7", "row 4, Pulses"), ("P-3", "P-1", "row 6, Tag")]
)
def test_a_list_with_a_bad_row_makes_no_workbook(files: Path, right: str, wrong: str, says: str) -> None:
    (files / "list.csv").write_text(LIST.replace(right, wrong), encoding="utf-8")
    book = files / "my.xlsx"
    done = run("new", "drive_study", book, "--drives", files / "list.csv", "--site", files / "site.toml")
    assert done.exit_code == 2
    assert says in done.output
    assert not book.exists()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("drive_study", "--drives", DEMO / "drives.csv"), "--site is missing"),
        (("drive_study", "--site", DEMO / "site.toml"), "--drives is missing"),
        (
            ("field_proof", "--drives", DEMO / "drives.csv", "--site", DEMO / "site.toml"),
            "one of drive_study",
        ),
        (("drive_study", "--drives", DEMO / "drives.csv", "--site", DEMO / "plant.toml"), "plant_study"),
        (
            ("front_end_comparison", "--drives", DEMO / "drives.csv", "--site", DEMO / "site.toml"),
            "a list of one drive, or --tag",
        ),
    ],
)
def test_what_does_not_fit_together_is_named(
    tmp_path: Path, arguments: tuple[object, ...], says: str
) -> None:
    template, *given = arguments
    done = run("new", template, tmp_path / "out.xlsx", *given)
    assert done.exit_code != 0
    assert says in f"{done.output} {done.exception}"
    assert not (tmp_path / "out.xlsx").exists()


def test_templates_are_listed_without_a_name():
    shown = CliRunner().invoke(app, ["new"])
    assert shown.exit_code == 0
    names = [line.split()[0] for line in shown.output.splitlines()]
    assert names == resources.template_names()
    assert all(len(line.split()) > 3 for line in shown.output.splitlines())


def test_samples_are_laid_out_and_every_help_has_an_example(tmp_path):
    folder = tmp_path / "samples"
    assert CliRunner().invoke(app, ["samples", str(folder)]).exit_code == 0
    guide = (folder / "README.md").read_text()
    for path in folder.iterdir():
        assert path.name == "README.md" or f"`{path.name}`" in guide
    for name in EXAMPLES:
        assert "Example: xlcalc " in CliRunner().invoke(app, [name, "--help"]).output
        words = EXAMPLES[name].split()
        files = [word for word in words if word.endswith((".toml", ".csv"))]
        assert all((folder / word).is_file() for word in files), name


@pytest.mark.parametrize("formula", ["=HD_SPECTRUM(6;0,5)", "=SUM(1;2,5)"])
def test_mixed_separators_are_refused(formula):
    found = CliRunner().invoke(app, ["eval", formula])
    assert isinstance(found.exception, InputError)
    assert "decimal signs" in str(found.exception)
