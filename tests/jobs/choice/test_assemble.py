"""A choice from files: the demo, and every way in which the files can be wrong."""

from __future__ import annotations

import tomllib

import pytest
from openpyxl import Workbook

from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.io.choices.option_files import read_options
from xlcalc.io.choices.terms import read_terms, terms_from
from xlcalc.jobs.choice.assemble import problem_of, read_sites
from xlcalc.mitigation.offer.curves import Points

DEMO = resources.folder("demo")
HEAD = "option,kind,pulses,line reactor pct,price a,price b,price c,min kw,max kw,load loss pct\n"


def terms(**changed):
    tables = tomllib.loads((DEMO / "choice.toml").read_text())
    return terms_from("choice.toml", {**tables, **changed})


def demo_problem(found=None):
    sites = read_sites([DEMO / "site.toml"])
    return problem_of(sites, DEMO / "drives.csv", read_options(), found or read_terms(DEMO / "choice.toml"))


def write(folder, name, text):
    path = folder / name
    path.write_text(text)
    return path


def test_demo_is_a_problem():
    problem = demo_problem()
    assert [case.name for case in problem.cases] == ["weak supply", "strong supply", "night shift"]
    assert {point.pcc for point in problem.cases[0].points} == {"utility", "main"}
    by_tag = dict(zip((d.tag for d in problem.drives), problem.allowed, strict=True))
    assert [o.name for o in by_tag["M-110"]] == ["18-pulse"]
    assert [o.name for o in by_tag["M-150"]] == ["as scheduled"]
    assert problem.cases[2].off == {"M-130", "M-203"}


def test_several_sites_are_several_cases(tmp_path):
    text = (DEMO / "site.toml").read_text()
    weak = write(tmp_path, "weak.toml", text.replace('"utility mva" = 140', '"utility mva" = 60'))
    sites = read_sites([DEMO / "site.toml", weak])
    problem = problem_of(sites, DEMO / "drives.csv", read_options(), terms(cases={}))
    assert [case.name for case in problem.cases] == ["site, as described", "weak, as described"]
    assert problem.cases[1].network.utility.short_circuit_va == 60e6


def test_two_levels_of_a_supply_are_two_cases(tmp_path):
    """The drives are judged at both; a case that states a level of its own has that one alone."""
    text = (DEMO / "site.toml").read_text()
    both = '"utility mva" = 140\n"utility min mva" = 60'
    site = write(tmp_path, "site.toml", text.replace('"utility mva" = 140', both))
    own = {"cases": {"as is": {}, "own": {"site": {"utility mva": 50}}}}
    problem = problem_of(read_sites([site]), DEMO / "drives.csv", read_options(), terms(**own))
    levels = {case.name: case.network.utility.short_circuit_va for case in problem.cases}
    assert levels == {"as is": 140e6, "as is, minimum supply": 60e6, "own": 50e6}
    assert all(case.network.utility.least_va is None for case in problem.cases)
    write(tmp_path, "wrong.toml", text.replace('"utility mva" = 140', both.replace("60", "160")))
    with pytest.raises(InputError, match=r"utility min mva in site.* is 160; valid: up to the 140 MVA"):
        problem_of(read_sites([tmp_path / "wrong.toml"]), DEMO / "drives.csv", read_options(), terms())


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"money": {"years": 5}}, r"price per kwh in \[money\] of choice.toml is missing; valid: a tariff"),
        ({"money": {}}, r"price per kwh in \[money\]"),
        ({"money": {"price per kwh": -1}}, r"price per kwh in \[money\] of choice.toml is -1"),
        ({"money": {"price per kwh": 1, "term": 3}}, "is term; valid: one of"),
        ({"choice": {"margin pct": "ten"}}, r"margin pct in \[choice\]"),
        ({"choice": {"pcc": ["moon"]}}, r"pcc in \[choice\] of choice.toml is moon"),
        ({"choice": {"offer": ["magic"]}}, "offer of choice.toml is magic"),
        ({"pins": [{"tags": ["M-999"], "options": ["none"]}]}, "M-999; valid: a tag of the schedule"),
        ({"pins": [{"tags": ["M-101"], "options": ["magic"]}]}, "option in .* number 1 .* is magic"),
        ({"pins": [{"options": ["none"]}]}, "number 1 of choice.toml is neither"),
        (
            {"pins": [{"tags": ["M-101"], "options": ["none"]}, {"bus": "main", "options": ["12-pulse"]}]},
            r"pins of M-101 is contradictory: \[\[pins\]\] number 1 .* none; .* number 2 .* 12-pulse",
        ),
        ({"cases": {"x": {"site": {"utility mva": -1}}}}, "utility mva in .*case x of choice.toml is -1"),
        ({"cases": {"x": {"off": ["M-999"]}}}, "drive in case x is M-999"),
        ({"cases": {"x": {"load pct": {"M-101": 900}}}}, "load pct of M-101 in case x of choice.toml is 900"),
        ({"filters": [{"bus": "main", "offer": ["none"]}]}, "offer of .* is none"),
        ({"filters": [{"bus": "moon", "offer": ["active filter 100 A"]}]}, "bus of .* is moon"),
        ({"speed": {}}, "table in choice.toml is speed"),
    ],
)
def test_bad_terms_are_named(changed, message):
    with pytest.raises(InputError, match=message):
        demo_problem(terms(**changed))


def test_prices_by_points_in_the_place_of_a_formula(tmp_path):
    options = write(tmp_path, "o.csv", HEAD + "plain,bridge,6,,0,,,,,\nreactor,bridge,6,3,,,,10,100,0.4\n")
    prices = write(tmp_path, "p.csv", "option,kw,price\nreactor,10,100\nreactor,100,700\n")
    table = read_options(options, prices)
    assert table.drive_options[1].price == Points(((10.0, 100.0), (100.0, 700.0)))


@pytest.mark.parametrize(
    ("rows", "prices", "message"),
    [
        (
            "r,bridge,6,3,,,,10,100,0.4",
            None,
            r"price a \(cell E2 of o.csv\) is missing; valid: a price for r",
        ),
        ("r,bridge,6,3,,,,10,100,0.4", "r,10,100\nr,40,", r"price \(cell C3 of p.csv\) is missing"),
        (
            "r,bridge,6,3,,,,10,100,0.4",
            "r,10,100\nr,80,500",
            "price of r .*row 2 of p.csv.* is missing above 80 kW",
        ),
        ("r,bridge,6,3,,,,10,100,0.4", "r,10,100\nr,100,500\nq,80,500", r"option \(cell A4 of p.csv\) is q"),
        (
            "r,bridge,6,3,,,,10,100,0.4",
            "r,10,100\nr,10,500",
            r"points, kw \(cell B2 of p.csv\) is 10 kW twice",
        ),
        ("r,bridge,6,3,5,,,100,10,0.4", None, r"max kw \(cell I2 of o.csv\) is 10"),
        ("r,bridge,7,3,5,,,,,", None, r"pulses \(cell C2 of o.csv\) is 7"),
        (
            "r,bridge,six,3,5,,,,,",
            None,
            r"pulses \(cell C2 of o.csv\) is 'six', which is no number",
        ),
        ("r,magic,6,3,5,,,,,", None, r"kind \(cell B2 of o.csv\) is 'magic'"),
        (
            "r,residual spectrum,,,5,,,,,",
            None,
            r"percent of, row 2 of o.csv is missing; valid: one of rated, load",
        ),
        (
            "r,active filter,6,,5,,,,,",
            None,
            r"pulses \(cell C2 of o.csv\) is 6.*; valid: blank, because its kind is active filter",
        ),
        ("r,bridge,6,3,5,,,,,\nr,bridge,6,5,5,,,,,", None, r"option \(cell A3 of o.csv\) is r; valid: each"),
        ("r,bridge,6,3,-5,,,,,", None, r"price a \(cell E2 of o.csv\) is -5; valid: a number from 0"),
    ],
)
def test_bad_cells_are_named(tmp_path, rows, prices, message):
    options = write(tmp_path, "o.csv", HEAD + rows + "\n")
    points = None if prices is None else write(tmp_path, "p.csv", "option,kw,price\n" + prices + "\n")
    with pytest.raises(InputError, match=message):
        read_options(options, points)


def test_options_of_a_workbook_name_sheet_and_cell(tmp_path):
    book = Workbook()
    book.active.title = "Options"
    book.active.append(["Option", "Kind", "Pulses", "Price a"])
    book.active.append(["plain", "bridge", 6, 0])
    book.active.append(["multi", "bridge", "twelve", 900])
    book.save(tmp_path / "o.xlsx")
    with pytest.raises(InputError, match=r"pulses \(cell C3 of sheet Options\) is 'twelve'"):
        read_options(tmp_path / "o.xlsx")


def test_bad_schedule_is_no_choice(tmp_path):
    bad = write(tmp_path, "d.csv", "tag,rating kW,pulses\nA,50,6\nB,oops,6\n")
    with pytest.raises(InputError, match="row 3, rating kW: 'oops'"):
        problem_of(
            read_sites([DEMO / "site.toml"]), bad, read_options(), terms(pins=[], filters=[], cases={})
        )
