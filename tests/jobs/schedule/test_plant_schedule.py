"""A schedule on a network of buses: the same numbers as the worksheet functions, case by case."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from xlcalc.core.errors import InputError
from xlcalc.io.plants.plant_file import ONLY_CASE, PlantSite, plant_from
from xlcalc.io.plants.site import Site
from xlcalc.io.plants.site_file import read_drive_site
from xlcalc.jobs.schedule.result_tables import ResultTables
from xlcalc.jobs.schedule.schedule_run import run_schedule
from xlcalc.jobs.schedule.site_results import NO_VERDICT, OFF, REJECTED, SOLVED
from xlcalc.jobs.schedule.year_table import SHARE, year_lines, year_table
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.worksheet.catalogue import FUNCTIONS

DEMO = Path(__file__).parents[3] / "demo"
PLANT, DRIVES = DEMO / "starter_plant.toml", DEMO / "starter_plant_drives.csv"


@pytest.fixture(scope="module")
def plant() -> PlantSite:
    site = read_drive_site(PLANT)
    assert isinstance(site, PlantSite)
    return site


@pytest.fixture(scope="module")
def tables(plant: PlantSite) -> ResultTables:
    schedule, tables = run_schedule(DRIVES, [plant])
    assert not schedule.problems
    return tables


def grids(case: dict[str, object]) -> tuple[list, list, list]:
    """Drives, network and settings as cells of a sheet, made without the code under test."""
    content = tomllib.loads(PLANT.read_text(encoding="utf-8"))
    rows = []
    for title, records in content.items():
        if title in {section.title for section in NETWORK.sections}:
            headings = list(dict.fromkeys(key for record in records for key in record))
            rows += [[title], headings, *[[record.get(key) for key in headings] for record in records]]
    width = max(map(len, rows))
    drives = pd.read_csv(DRIVES).drop(columns="Description")
    drives.columns = [name.lower().replace("(%)", "pct") for name in drives.columns]
    cells = [list(drives.columns), *drives.astype(object).where(drives.notna(), None).to_numpy().tolist()]
    settings = [*map(list, content["settings"].items()), *([k, v] for k, v in case.items() if k != "name")]
    return [row + [None] * (width - len(row)) for row in rows], cells, settings


@pytest.mark.parametrize("number", range(4))
def test_every_case_is_as_the_worksheet_functions_have_it(tables, number):
    case = tomllib.loads(PLANT.read_text(encoding="utf-8"))["cases"][number]
    site = tables.sites.set_index("case").loc[case["name"]]
    network, drives, settings = grids({**case, "solution": "coupled"})
    for quantity, column in (
        ("TDD", "tdd pct"),
        ("THDV", "thdv pct"),
        ("FUNDAMENTAL", "fundamental amps"),
        ("QUICK_TDD", "quick tdd pct"),
        ("TYPICAL_TDD", "typical tdd pct"),
        ("VERDICT", "verdict"),
        ("QUICK_VERDICT", "quick verdict"),
        ("IL_BASIS", "il basis"),
    ):
        value = FUNCTIONS["HD_PLANT_VALUE"]([network, drives, site["pcc"], quantity, settings])
        if quantity == "TYPICAL_TDD" and value == "":
            assert np.isnan(site[column])
            continue
        assert site[column] == (pytest.approx(value, rel=1e-9) if isinstance(value, float) else value)
    by_tag = tables.drives[tables.drives["case"] == case["name"]].set_index("tag")
    for solution, prefix in (("coupled", ""), ("uncoupled", "quick ")):
        _, _, chosen = grids({**case, "solution": solution})
        for tag, _, thd, fifth, *_ in FUNCTIONS["HD_PLANT_DRIVES"]([network, drives, chosen]):
            assert by_tag.loc[tag, prefix + "thd pct"] == pytest.approx(thd, rel=1e-9)
            assert by_tag.loc[tag, prefix + "5th pct"] == pytest.approx(fifth, rel=1e-9)


def test_short_circuit_level_of_a_bus_by_hand(tmp_path):
    """MVA method of handbooks: 1 / (1/320 + 8 % / 10) MVA behind the supply and its transformer."""
    site = read_drive_site(DEMO / "plant.toml")
    _, tables = run_schedule(DEMO / "plant_drives.csv", [site])
    level = tables.buses.set_index(["case", "bus"])["short circuit mva"]
    assert level["Strong supply", "Mill"] == pytest.approx(1.0 / (1.0 / 320.0 + 0.08 / 10.0), rel=1e-3)
    assert level["Strong supply", "Grid"] == pytest.approx(320.0, rel=1e-6)
    case = "Night, capacitors left on"
    out = tables.drives[(tables.drives["case"] == case) & (tables.drives["bus"] == "Store")]
    assert set(out["status"]) <= {OFF}
    assert tables.complete


def test_every_row_is_in_every_case_and_power_is_conserved(tables, plant):
    listed = pd.read_csv(DRIVES)
    assert len(tables.drives) == len(listed) * len(plant.cases)
    assert set(tables.drives["status"]) <= {SOLVED, OFF}
    watts = (listed["Rating"] * listed["Quantity"]).sum() * 0.745699872
    assert tables.sites.loc[0, "kw solved"] == pytest.approx(watts, rel=1e-9)
    assert len(tables.buses) == len(plant.tables["buses"]) * len(plant.cases)
    assert len(tables.orders) == 50 * len(plant.cases)


def test_bad_rows_are_listed_once_and_leave_no_verdict(tmp_path, plant):
    path = tmp_path / "drives.csv"
    text = DRIVES.read_text(encoding="utf-8").replace(",MCC-B,", ",,", 1).replace(",12,", ",13,")
    path.write_text(text.replace(",MCC-A,", ",mcc-a,"), encoding="utf-8")
    schedule, tables = run_schedule(path, [plant])
    assert {(p.row, p.column) for p in schedule.problems} == {(3, "Pulses"), (5, "Bus")}
    rejected = tables.drives[tables.drives["status"] == REJECTED]
    assert rejected["row"].tolist() == [3, 5]
    assert set(tables.sites["verdict"]) == {NO_VERDICT}
    assert tables.sites["reason"].str.contains("2 of 6 rows rejected").all()
    assert tables.sites["what is missing"].str.contains("2 of 6 rows rejected").all()
    assert not tables.complete


def test_a_plant_and_a_site_in_one_run(tmp_path, plant):
    site = read_drive_site(DEMO / "site.toml")
    assert isinstance(site, Site)
    path = tmp_path / "drives.csv"
    path.write_text(
        "site,tag,rating,unit,bus,pulses,line reactor pct\n"
        "starter_plant,A,50,kW,MCC-A,6,3\nsite,A,50,kW,main,6,3\n",
        encoding="utf-8",
    )
    schedule, tables = run_schedule(path, [plant, site])
    assert not schedule.problems
    assert tables.sites["site"].tolist() == ["starter_plant"] * 4 + ["site"]
    assert tables.drives["case"].tolist()[-1] == ""


def edited(change) -> dict[str, object]:
    content = tomllib.loads(PLANT.read_text(encoding="utf-8"))
    change(content)
    return content


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda c: c["buses"][0].update(kw=1), "kw"),
        (lambda c: c["transformers"][0].update({"z pct": -1}), "z pct"),
        (lambda c: c["cables"][0].update({"to bus": "nowhere"}), "nowhere"),
        (lambda c: c["cases"][1].update(name=c["cases"][0]["name"]), "name of a case"),
        (lambda c: c["cases"][1].update(capacitors="maybe"), "capacitors"),
        (lambda c: c.pop("utility"), "utility"),
        (lambda c: c.update(extra={}), "extra"),
    ],
)
def test_a_plant_file_with_an_error_is_refused(change, words):
    with pytest.raises(InputError, match=words):
        plant_from(PLANT, edited(change))


def test_a_plant_without_cases_has_one():
    plant = plant_from(PLANT, edited(lambda c: c.pop("cases")))
    assert list(plant.cases) == [ONLY_CASE]


def test_iterations_of_a_coupled_case_are_told(plant):
    told = []
    run_schedule(DRIVES, [plant], coupling=lambda case, solved: told.append((case, solved)))
    assert {case for case, _ in told} == set(plant.cases)
    first = [solved for case, solved in told if case == next(iter(plant.cases))]
    assert len(first) > 1
    assert first == [first[0] * number for number in range(1, len(first) + 1)]


def test_loads_of_a_case_and_the_year(plant: PlantSite) -> None:
    """A night of 30 % load with one drive off, as the functions have it; 60 % of the year by day, by hand."""
    content = tomllib.loads(PLANT.read_text(encoding="utf-8"))
    tag = str(pd.read_csv(DRIVES)["Tag"][0])
    night = {"name": "Night", "drive load pct": 30.0, "drive loads": f"{tag} off", "loads": "off"}
    content["cases"] = [{"name": "Day", "share of year pct": 60}, {**night, "share of year pct": 40}]
    _, tables = run_schedule(DRIVES, [plant_from(PLANT, content)])
    site = tables.sites.set_index("case")
    network, drives, settings = grids({**night, "solution": "coupled"})
    found = FUNCTIONS["HD_PLANT_VALUE"]([network, drives, site["pcc"]["Night"], "TDD", settings])
    assert site["tdd pct"]["Night"] == pytest.approx(found, rel=1e-9)
    rows = tables.drives[(tables.drives["case"] == "Night") & (tables.drives["tag"] == tag)]
    assert list(rows["status"]) == [OFF]
    low, high = sorted(site["tdd pct"])
    line = next(year_lines(tables.sites, tables.year))
    assert f"TDD up to {high:.4g} % in 95 % of the time" in line
    curve = tables.year[tables.year["quantity"] == "TDD"]
    share = 60.0 if site["tdd pct"]["Day"] == high else 40.0
    assert curve["value pct"].tolist() == [high, low]
    assert curve["reached pct of time"].tolist() == [share, 100.0]
    shares = [96.0, 4.0] if site["tdd pct"]["Day"] == low else [4.0, 96.0]
    short = tables.sites.assign(**{SHARE: shares})
    line = next(year_lines(short, year_table(short, tables.orders)))
    assert f"TDD up to {low:.4g} % in 95 % of the time, {high:.4g} % in 99 %" in line
    orders = tables.orders.groupby("order")
    used = (tables.orders["current pct"] / tables.orders["current limit pct"]).groupby(tables.orders["order"])
    binding = used.max().idxmax()
    named = tables.year["quantity"] == f"current of order {binding}"
    assert sorted(tables.year[named]["value pct"]) == sorted(orders["current pct"].get_group(binding))
    partly = tables.sites.assign(**{SHARE: [60.0, np.nan]})
    assert year_table(partly, tables.orders).empty
    (line,) = year_lines(partly, tables.year)
    assert "take 60 % of it together" in line
