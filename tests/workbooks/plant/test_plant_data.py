"""Plant files: what is read, what is refused, and the summary of a calculated plant."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import load_workbook

from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.workbooks.plant.cases_sheet import line_cell
from xlcalc.workbooks.plant.plant_data import read_plant
from xlcalc.workbooks.plant.plant_summary import COUPLED, QUICK, read_plant_summary

FOLDER = resources.folder("demo")
PLANT = (FOLDER / "plant.toml").read_text(encoding="utf-8")
DRIVES = (FOLDER / "plant_drives.csv").read_text(encoding="utf-8")


def read(folder: Path, plant: str = PLANT, drives: str = DRIVES) -> object:
    files = folder / "plant.toml", folder / "drives.csv"
    for path, text in zip(files, (plant, drives), strict=True):
        path.write_text(text, encoding="utf-8")
    return read_plant(*files)


def test_the_demo_is_read_whole(tmp_path: Path) -> None:
    data = read_plant(FOLDER / "plant.toml", FOLDER / "plant_drives.csv")
    assert len(data.tables["buses"]) == 7
    assert data.tables["three-winding transformers"][0]["vector group"] == "Dyn11d0"
    assert data.equipment["load profile"][0]["hours"] == 6200
    assert data.choices["system_class"] == "dedicated"
    assert read(tmp_path) == data


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("kva = 10000", "kwa = 10000", ["kwa", "transformers in plant.toml"]),
        ("kva = 10000", "", ["kva in row 2 of transformers in plant.toml is missing"]),
        ("kva = 10000", 'kva = "big"', ["kva in row 2 of transformers in plant.toml", "'big'"]),
        ('kind = "tuned"', 'kind = "sharp"', ["kind in row 3 of capacitors", "sharp"]),
        ("[settings]", "[settings]\nexponent = 1", ["exponent", "settings in plant.toml"]),
        ("[study]", "[stdy]", ["stdy"]),
        ("[[utility]]", "[[cables]]", ["cables"]),
        ('name = "Weak supply"', 'name = "Weak supply"\n\n[[cases]]\nname = "5th"', ["cases", "is 5"]),
        ("hours = 6200", "hours = 9000", ["hours in row 2 of load profile", "9000"]),
        ('system_class = "dedicated"', 'system_class = "best"', ["system_class", "best"]),
    ],
)
def test_what_cannot_be_used_is_named(tmp_path: Path, old: str, new: str, words: list[str]) -> None:
    assert old in PLANT
    with pytest.raises(InputError) as problem:
        read(tmp_path, PLANT.replace(old, new, 1))
    assert all(word in str(problem.value) for word in words), str(problem.value)


def test_a_bad_drive_is_named_by_row(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"pulses in row 3 of drives.csv"):
        read(tmp_path, drives=DRIVES.replace("Pulp,6,,4", "Pulp,7,,4"))


def test_summary_of_the_template() -> None:
    path = resources.template("plant_study")
    results = read_plant_summary(path)
    assert len(results) == 16
    first, second = results[:2]
    assert (first.pcc, first.case, first.solution) == ("Intake", "Maximum supply", COUPLED)
    assert (second.solution, second.figures["CONVERGED"]) == (QUICK, "not needed")
    sheet = load_workbook(path, data_only=True)["Cases"]
    assert first.figures["TDD"] == sheet[line_cell(1, 1, "TDD").split("!")[1].replace("$", "")].value
    assert first.figures["CONVERGED"] == "yes"
    off = [result for result in results if not result.supplied]
    assert {(result.pcc, result.case) for result in off} == {("Intake", "Generator alone")}
    assert all(value in (None, "") for result in off for value in result.figures.values())
