"""A workbook of a plant is the same plant as the file it was made from; every changed value is invented."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner

from xlcalc.cli.app import app
from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.io.plants.plant_book import plant_content
from xlcalc.io.plants.plant_file import PlantSite
from xlcalc.io.plants.site_file import read_drive_site
from xlcalc.workbooks.plant.cases_sheet import pcc_cell

DEMO = Path(__file__).parents[3] / "demo"
PCC = pcc_cell(1).replace("!", "_").replace("$", "")


def plant(path: Path) -> PlantSite:
    read = read_drive_site(path)
    assert isinstance(read, PlantSite)
    return read


@pytest.fixture(scope="module")
def workbook(recalculated) -> Path:
    """As it was before it was calculated."""
    return recalculated("plant demo").path.with_name("source.xlsx")


@pytest.fixture
def edited(workbook, tmp_path):
    def edit(**cells: object) -> Path:
        book = openpyxl.load_workbook(workbook)
        for place, value in cells.items():
            sheet, cell = place.split("_")
            book[sheet][cell] = value
        book.save(tmp_path / "edited.xlsx")
        return tmp_path / "edited.xlsx"

    return edit


def without_places(records) -> list[dict[str, object]]:
    return [{k: v for k, v in record.items() if k not in ("row", "columns")} for record in records]


def test_a_workbook_that_was_never_calculated_is_the_plant_of_its_file(workbook):
    book, file = plant(workbook), plant(DEMO / "plant.toml")
    assert dict(book.settings) == dict(file.settings)
    assert dict(book.cases) == dict(file.cases)
    for title, records in file.tables.items():
        assert without_places(book.tables[title]) == without_places(records)
    assert book.study["title"] == file.study["title"]
    assert book.pcc_buses == ("Grid", "Mill")
    assert file.pcc_buses == ("Mill",)


def test_a_calculated_workbook_is_read_alike(workbook, recalculated):
    calculated, blank = plant(recalculated("plant demo").path), plant(workbook)
    assert calculated.cases == blank.cases
    assert calculated.pcc_buses == blank.pcc_buses


def test_inputs_are_read_where_the_workbook_takes_them_from(workbook, edited):
    sheet = openpyxl.load_workbook(workbook)["Study"]
    unbalance = next(f"Study_B{cell.row}" for cell in sheet["A"] if cell.value == "Unbalance (%)")
    cells = {"Cases_B5": "Day", "Cases_D7": "alone", "Cases_D9": "TG", PCC: "Pulp", unbalance: 1.5}
    read = plant(edited(**cells))
    assert next(iter(read.cases)) == "Day"
    assert read.cases["Weak supply"]["generators"] == "alone"
    assert read.cases["Weak supply"]["out of service"] == "TG"
    assert {case["unbalance pct"] for case in read.cases.values()} == {1.5}
    assert read.pcc_buses == ("Pulp", "Mill")


def test_a_case_that_was_cleared_is_none(edited):
    cleared = {f"Cases_{column}{row}": None for column in "FH" for row in range(5, 14)}
    assert list(plant(edited(**cleared)).cases) == ["Strong supply", "Weak supply"]


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"Network_B6": "much"}, r"kv in cell B6, .*sheet Network"),
        ({"Network_B6": "=10*2"}, r"cell B6 of sheet Network .*formula without a value"),
        ({"Cases_B6": "=UPPER(B5)"}, r"cell B6 of sheet Cases .*formula without a value"),
        ({"Cases_B6": "middling"}, "short circuit in case Strong supply"),
        ({"Cases_D5": "Strong supply"}, "name of a case"),
        ({PCC: "nowhere"}, "pcc_1 of edited.xlsx"),
        ({"Study_B17": 1999}, "edition"),
    ],
)
def test_a_wrong_cell_is_named(edited, cells, words):
    with pytest.raises(InputError, match=words):
        plant(edited(**cells))


def test_a_workbook_of_a_choice_is_for_another_command():
    with pytest.raises(InputError, match="xlcalc choose"):
        read_drive_site(resources.template("choice_study"))


def test_a_new_workbook_takes_the_plant_of_another_one(edited, tmp_path):
    """Equipment data and the buses that are judged included; nothing that was typed is left out."""
    source = edited(**{PCC: "Mill", "Equipment data_B5": "special"})
    target = tmp_path / "new.xlsx"
    drives = str(DEMO / "plant_drives.csv")
    words = ["new", "plant_study", str(target), "--site", str(source), "--drives", drives]
    result = CliRunner().invoke(app, words, catch_exceptions=False)
    assert result.exit_code == 0, result.output
    assert plant_content(target) == plant_content(source)
    was, made = plant(source), plant(target)
    assert dict(made.settings) == dict(was.settings)
    assert dict(made.cases) == dict(was.cases)
    assert made.pcc_buses == was.pcc_buses
