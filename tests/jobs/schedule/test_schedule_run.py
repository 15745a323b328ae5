"""The schedule gives what the worksheet functions give, and says what its sums lack."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from xlcalc.core.progress import Stopwatch
from xlcalc.io.plants.site import site_from
from xlcalc.io.plants.site_file import read_site
from xlcalc.jobs.schedule.schedule_run import run_schedule
from xlcalc.jobs.schedule.site_results import NO_VERDICT
from xlcalc.worksheet.catalogue import FUNCTIONS

DEMO = Path(__file__).parents[3] / "demo"
HEAD = "Tag,Qty,Rating (kW),Pulses,Line reactor (%),DC choke (%),Load (%),Bus\n"
ROWS = "A,2,100,6,3,,90,main\nB,1,250,12,,4,100,main\nC,3,40,6,,4,80,second\n"


def run(tmp_path, text, *sites):
    path = tmp_path / "drives.csv"
    path.write_text(text, encoding="utf-8")
    return run_schedule(path, sites)


def sheet_values(site, drives):
    """The same study through the worksheet functions."""
    plant = [[name, value] for name, value in site.site.items() if value is not None]
    settings = [[name, value] for name, value in site.settings.items()]

    def value(quantity):
        return FUNCTIONS["HD_PCC_VALUE"]([drives, plant, quantity, settings])

    return value, FUNCTIONS["HD_DRIVES"]([drives, plant, settings])


def test_demo_equals_the_worksheet_functions():
    site = read_site(DEMO / "site.toml")
    schedule, tables = run_schedule(DEMO / "drives.csv", [site])
    assert not schedule.problems
    with (DEMO / "drives.csv").open(encoding="utf-8") as stream:
        cells = [[float(c) if _is_number(c) else c or None for c in row] for row in csv.reader(stream)]
    value, rows = sheet_values(site, cells)
    total = tables.sites.iloc[0]
    for quantity, column in (
        ("TDD", "tdd pct"),
        ("LIMIT_TDD", "limit tdd pct"),
        ("THDV", "thdv pct"),
        ("ISC_IL", "isc/il"),
        ("IL", "il amps"),
        ("MARGIN", "margin pct of limit"),
    ):
        assert total[column] == pytest.approx(value(quantity), rel=1e-9)
    assert total["verdict"] == value("VERDICT")
    assert tables.complete
    table = tables.drives
    assert table["tag"].tolist() == [row[0] for row in rows]
    assert table["thd pct"].to_numpy() == pytest.approx([row[2] for row in rows], rel=1e-9)
    assert table["rms amps"].to_numpy() == pytest.approx([row[5] for row in rows], rel=1e-9)
    at_pcc = table["5th at the pcc amps per unit"] * table["quantity"]
    assert at_pcc.to_numpy() == pytest.approx([row[6] for row in rows], rel=1e-9, abs=1e-9)
    assert len(tables.orders) == 50


def _is_number(text):
    try:
        float(text)
    except ValueError:
        return False
    return True


def test_equal_drives_are_solved_once_and_count_each(tmp_path, site):
    seen = []
    copies = (row.replace(",", f"{i},", 1) for i in range(2) for row in ROWS.splitlines(keepends=True))
    many = HEAD + "".join(copies)
    path = tmp_path / "many.csv"
    path.write_text(many, encoding="utf-8")
    schedule, tables = run_schedule(path, [site], progress=lambda done, total: seen.append(total))
    assert not schedule.problems
    assert set(seen) == {3}
    assert len(tables.drives) == 6
    _, once = run(
        tmp_path, HEAD + "A,4,100,6,3,,90,main\nB,2,250,12,,4,100,main\nC,6,40,6,,4,80,second\n", site
    )
    for column in ("tdd pct", "thdv pct", "il amps", "kw solved", "drives solved"):
        assert tables.sites[column][0] == pytest.approx(once.sites[column][0], rel=1e-9)


def test_sums_of_a_bus_follow_from_its_drives(tmp_path, site):
    """One drive on the second bus: its own current flows through it; amperes scale with the voltages where no
    load takes a part of them."""
    given = {name: value for name, value in site.site.items() if value is not None}
    site = site_from("bare", {"site": {**given, "linear load kw": 0}})
    _, tables = run(tmp_path, HEAD + "C,3,40,6,,4,80,second\n", site)
    drive, buses = tables.drives.iloc[0], tables.buses.set_index("bus")
    assert buses.loc["second", "fundamental amps through it"] == pytest.approx(3 * drive["fundamental amps"])
    assert buses.loc["second", "thd of its current pct"] == pytest.approx(drive["thd pct"])
    ratio = buses.loc["main", "harmonic amps through it"] / buses.loc["second", "harmonic amps through it"]
    assert ratio == pytest.approx(400.0 / 690.0)


def test_rejected_rows_stay_in_the_results_and_take_the_verdict(tmp_path, site):
    schedule, tables = run(tmp_path, HEAD + ROWS + "D,2,300,7,,,50,main\nE,,15,6,,,x,second\n", site)
    assert not tables.complete
    assert tables.drives["status"].tolist() == ["solved"] * 3 + ["rejected"] * 2
    total = tables.sites.iloc[0]
    assert total["verdict"] == NO_VERDICT
    assert total["rows rejected"] == 2
    assert total["kw missing at least"] == pytest.approx(615.0)
    assert "2 of 5 rows rejected: D (row 5), E (row 6)" in total["what is missing"]
    assert len(tables.problems) == len(schedule.problems) == 2
    assert "multiple of 6" in tables.drives["remark"][3]
    _, sound = run(tmp_path, HEAD + ROWS, site)
    assert total["tdd pct"] == pytest.approx(sound.sites["tdd pct"][0], rel=1e-12)
    assert "rows rejected" not in sound.sites["reason"][0]
    assert total["reason"].startswith("2 of 5 rows rejected")


def test_drives_without_stable_solution_are_missing_not_zero(tmp_path):
    stiff = {"utility kv": 20, "utility mva": 250, "transformer kva": 2500, "transformer z pct": 6}
    settings = {"capacitor resistance pct": 0, "load kind": "power"}
    site = site_from("stiff", {"site": {**stiff, "main bus volts": 690}, "settings": settings})
    _, tables = run(tmp_path, HEAD + "A,1,100,6,3,,90,main\nU,1,11,6,,4,100,main\n", site)
    status = tables.drives.set_index("tag")["status"]
    assert status["A"] == "solved"
    assert status["U"] == "no stable solution"
    assert np.isnan(tables.drives["thd pct"][1])
    assert tables.sites["verdict"][0] == NO_VERDICT
    assert "U (row 3)" in tables.sites["what is missing"][0]
    assert tables.sites["kw missing at least"][0] == pytest.approx(11.0)


def test_a_drive_that_its_bus_cannot_feed_is_rejected_by_row(tmp_path, site):
    schedule, tables = run(tmp_path, HEAD + ROWS + "BIG,1,99000,6,,,100,second\n", site)
    assert [problem.row for problem in schedule.problems] == [5]
    assert schedule.problems[0].column == "link power at its bus"
    assert tables.drives["status"].tolist()[-1] == "rejected"


def test_nothing_sound_is_still_a_result(tmp_path, site):
    _, tables = run(tmp_path, HEAD + "D,2,300,7,,,50,main\n", site)
    assert tables.sites["verdict"][0] == NO_VERDICT
    assert tables.drives["status"].tolist() == ["rejected"]


def test_two_sites_are_two_studies(tmp_path, site):
    south = site_from("south", {"site": {**{k: v for k, v in site.site.items() if v}, "utility mva": 100}})
    text = "Site," + HEAD + "".join(f"{name},{row}\n" for name in ("north", "south") for row in ROWS.split())
    _, tables = run(tmp_path, text, site, south)
    _, alone = run(tmp_path, HEAD + ROWS, south)
    assert tables.sites["site"].tolist() == ["north", "south"]
    assert tables.sites["tdd pct"][1] == pytest.approx(alone.sites["tdd pct"][0], rel=1e-12)
    assert tables.sites["isc amps"][0] / tables.sites["isc amps"][1] == pytest.approx(2.5)


def test_stages_are_timed(tmp_path, site):
    clock = Stopwatch()
    path = tmp_path / "drives.csv"
    path.write_text(HEAD + ROWS, encoding="utf-8")
    run_schedule(path, [site], clock=clock)
    assert list(clock.seconds) == ["read", "solve", "couple", "tabulate"]
