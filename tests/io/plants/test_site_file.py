"""Sites from TOML, CSV and workbooks."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.files.errors import WorkbookFileError
from xlcalc.io.plants.site import site_from
from xlcalc.io.plants.site_file import read_site

DEMO = Path(__file__).parents[3] / "demo"


def test_toml_of_the_demo():
    site = read_site(DEMO / "site.toml")
    assert site.name == "site"
    assert site.bus_volts == {"main": 480.0, "second": 480.0}
    assert site.site["utility mva"] == 140.0
    assert site.site["demand amps"] is None
    assert site.settings["edition"] == "2022"
    assert site.study["title"].startswith("Quarry")


@pytest.mark.parametrize("delimiter", [",", ";"])
def test_csv_of_names_and_values(tmp_path, delimiter):
    path = tmp_path / "north.csv"
    lines = ["Site data|", "Utility (kV)|20", "utility mva|250", "Transformer kVA|1600"]
    lines += ["transformer Z (%)|6", "transformer X/R|5", "main bus volts|690", 'unbalance pct|"0,5"']
    lines += ["pcc|main bus", "remark of ours|x", "settings|", "transformer X/R|12"]
    path.write_text("\n".join(lines).replace("|", delimiter), encoding="utf-8")
    site = read_site(path)
    assert site.site["utility kv"] == 20.0
    assert site.site["pcc"] == "main bus"
    assert site.settings["unbalance pct"] == 0.5
    assert (site.site["transformer x/r"], site.settings["transformer x/r"]) == (5.0, 12.0)


def test_a_template_workbook_is_a_site():
    """The starter values that the template opens with are those of the TOML file it was built from."""
    from_book = read_site(resources.template("drive_study"))
    from_toml = read_site(DEMO / "starter_site.toml")
    assert from_book.site == from_toml.site
    assert from_book.settings == from_toml.settings


def test_other_names_for_buses(site):
    assert site.bus_of(" mcc-2 ") == "second"
    assert site.bus_of("MAIN") == "main"
    assert site.bus_of("attic") is None


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        ({"site": {"utility kv": 20}}, "utility mva"),
        ({"site": {"utility kv": -1}}, "utility kv"),
        ({"site": {"no such": 1}}, "no such"),
        ({"site": {"utility kv": [1]}}, "utility kv"),
        ({"site": {"utility kv": float("nan")}}, "utility kv"),
    ],
)
def test_bad_values_are_named(tables, words):
    with pytest.raises(InputError, match=words):
        site_from("x", tables)


def test_a_bus_name_for_a_bus_that_is_not_there(site):
    plant = {name: value for name, value in site.site.items() if not name.startswith("second")}
    plant = {name: value for name, value in plant.items() if value is not None}
    with pytest.raises(InputError, match="MCC"):
        site_from("x", {"site": plant, "buses": {"MCC": "second"}})


@pytest.mark.parametrize(
    ("name", "content"),
    [("s.toml", "a = "), ("s.toml", "[plant]\n"), ("s.csv", "a,b\n"), ("s.txt", ""), ("s.xlsx", "no book")],
)
def test_bad_files_are_refused(tmp_path, name, content):
    path = tmp_path / name
    path.write_text(content)
    with pytest.raises((InputError, WorkbookFileError)):
        read_site(path)


def test_missing_value_cells_of_a_workbook_are_blank(tmp_path):
    book = openpyxl.Workbook()
    for row in (["utility kv", 20], ["utility mva", 250], ["transformer kva", 1600]):
        book.active.append(row)
    book.active.append(["transformer z pct", 0.06])
    book.active["B4"].number_format = "0.0%"
    book.active.append(["main bus volts", "690"])
    book.active.append(["demand amps", None])
    book.save(tmp_path / "s.xlsx")
    site = read_site(tmp_path / "s.xlsx")
    assert site.site["transformer z pct"] == 6.0
    assert site.site["main bus volts"] == 690.0
    assert site.site["demand amps"] is None


def test_a_workbook_with_a_network_says_which_file_to_give():
    with pytest.raises(InputError, match=r"network of buses; valid: a \.toml file"):
        read_site(resources.template("plant_study"))


def test_a_workbook_that_compares_front_ends_is_no_site():
    with pytest.raises(InputError, match=r"compares front ends of one drive; valid: .* drive_study or plant"):
        read_site(resources.template("front_end_comparison"))
