"""Schedules as people write them, and every way in which a row can be wrong."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.io.lists.layout import find_layout
from xlcalc.io.lists.numerals import Decimal, is_blank
from xlcalc.io.lists.rawtable import RawTable
from xlcalc.io.lists.schedule import checked, read_schedule
from xlcalc.io.plants.site import site_from
from xlcalc.io.plants.site_file import read_site

PLANT = {
    "utility kv": 20,
    "utility mva": 250,
    "transformer kva": 1600,
    "transformer z pct": 6,
    "main bus volts": 690,
}
PLAIN = "Tag,Rating (kW),Pulses,Load (%)\nP1,75,6,90\nP2,110,12,\n"


def problems(schedule):
    return {(p.row, p.column) for p in schedule.problems}


def test_plain_file_with_defaults(read):
    rows = read(PLAIN).rows
    assert rows["tag"].tolist() == ["P1", "P2"]
    assert rows["rating"].tolist() == [75.0, 110.0]
    assert rows["load pct"].tolist() == [90.0, 100.0]
    assert rows["quantity"].tolist() == [1.0, 1.0]
    assert rows["bus"].tolist() == ["main", "main"]
    assert rows["accepted"].all()
    assert rows.index.tolist() == [2, 3]


def test_title_lines_units_below_the_headings_and_other_columns(read):
    schedule = read(
        "Drives of a plant,,,,\n,,,,\nItem,Service,Motor rating,Pulse no.,Cable\n,,hp,,m\nP1,Pump,100,6,80\n"
    )
    assert schedule.rows.loc[5, "unit"] == "hp"
    assert schedule.rows.loc[5, "description"] == "Pump"
    assert schedule.carried.loc[5, "Cable"] == "80"
    assert any("Cable" in remark for remark in schedule.remarks)
    assert not schedule.problems


@pytest.mark.parametrize("delimiter", [";", "\t", "|", ","])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_delimiters_and_encodings(read, delimiter, encoding):
    text = 'Tag|Description|Rating (kW)|Pulses|Load (%)\nP1|Lüfter|"7,5"|6|"82,5"\nP2|Pumpe|1500|12|90\n'
    schedule = read(text.replace("|", delimiter), encoding=encoding)
    assert schedule.rows["rating"].tolist() == [7.5, 1500.0]
    assert schedule.rows["load pct"].tolist() == [82.5, 90.0]
    assert schedule.rows["description"].tolist() == ["Lüfter", "Pumpe"]
    told = [remark for remark in schedule.remarks if not remark.startswith("efficiency assumed: P1 86.0 %")]
    assert bool(told) == (encoding == "cp1252")
    assert len(schedule.remarks) == len(told) + 1


def test_a_number_with_two_readings_waits_for_the_decimal_sign(read):
    text = "Tag;Rating (kW);Pulses\nP1;1.200;12\n"
    assert problems(read(text)) == {(2, "Rating (kW)")}
    assert read(text, decimal=Decimal.COMMA).rows["rating"].tolist() == [1200.0]
    assert read(text, decimal=Decimal.POINT).rows["rating"].tolist() == [1.2]


def test_units_in_cells_columns_and_headings(read):
    schedule = read(
        "Tag,Motor HP,Motor kW,Pulses,Line reactor,Voltage (kV)\n"
        'a,100,,6,3%,0.69\nb,,75,"12-pulse",,\nc,60,45,6,5,\nd,"1-1/2 HP",,6,,0.4\n'
        "e,100,90,6,,\nf,5 kW,,6,,\n"
    )
    rows = schedule.rows
    assert rows.loc[2, ["rating", "unit", "volts"]].tolist() == [100.0, "hp", 690.0]
    assert rows.loc[3, ["rating", "unit", "pulses"]].tolist() == [75.0, "kW", 12.0]
    assert rows.loc[4, ["rating", "unit"]].tolist() == [60.0, "hp"]
    assert rows.loc[5, ["rating", "unit", "bus"]].tolist() == [1.5, "hp", "second"]
    assert problems(schedule) == {(6, "Motor HP / Motor kW"), (7, "Motor HP")}


def test_a_unit_column_beside_the_rating(read):
    schedule = read("Tag,Rating,Unit,Pulses\na,100,HP,6\nb,75,kw,6\nc,10,furlong,6\nd,10,,6\n")
    assert schedule.rows["unit"].tolist()[:2] == ["hp", "kW"]
    assert {row for row, _ in problems(schedule)} == {4, 5}


def test_a_share_up_to_one_needs_its_unit(read):
    """1 without a unit is 1 % or 100 %, 0.03 is 0.03 % or 3 %; a % of the heading does not tell."""
    text = "Tag,kW,Pulses,Load,Line reactor\na,75,6,1,3\nb,75,6,90,0.03\nc,75,6,90 %,0.5 %\nd,75,6,90,0\n"
    assert problems(read(text)) == {(2, "Load"), (3, "Line reactor")}
    percent = read(text.replace("Load,", "Load (%),").replace("reactor\n", "reactor (%)\n"))
    assert problems(percent) == {(2, "Load (%)"), (3, "Line reactor (%)")}
    stated = read(text.replace(",1,", ",1 %,").replace(",0.03", ",0.03 %"))
    assert not stated.problems
    assert stated.rows["line reactor pct"].tolist() == [3.0, 0.03, 0.5, 0.0]


def test_a_rating_without_any_unit_is_not_guessed(read):
    with pytest.raises(InputError, match="unit of the rating"):
        read("Tag,Rating,Pulses\nP1,75,6\n")


def test_every_bad_cell_is_reported_at_once_with_row_and_column(read):
    schedule = read(
        "Tag,Qty,Rating (hp),Pulses,Line reactor (%),Load (%),Voltage,Bus\n"
        "P1,1,75,6,3,90,690,main\n"
        ",1,75,6,3,90,690,main\n"
        "P3,1.5,-5,7,3000,500,230,attic\n"
        "P4,1,many,,x,90,690,main\n"
        "p1,1,75,6,3,90,400,MCC-2\n"
    )
    assert problems(schedule) == {
        (2, "Tag"),
        (3, "Tag"),
        *((4, column) for column in ("Qty", "Rating (hp)", "Pulses", "Line reactor (%)", "Load (%)", "Bus")),
        *((5, column) for column in ("Rating (hp)", "Pulses", "Line reactor (%)")),
        (6, "Tag"),
    }
    assert not schedule.rows["accepted"].any()
    by_place = {(p.row, p.column): p for p in schedule.problems}
    assert by_place[4, "Pulses"].value == "7"
    assert by_place[4, "Pulses"].valid == "a multiple of 6 from 6 to 48"
    assert by_place[5, "Pulses"].value == ""


def test_voltage_must_suit_the_bus(read):
    schedule = read("Tag,kW,Pulses,V,Bus\na,10,6,660,main\nb,10,6,400,main\nc,10,6,415,\nd,10,6,230,\n")
    assert problems(schedule) == {(3, "V"), (5, "V")}
    assert schedule.rows["bus"].tolist() == ["main", "main", "second", "main"]


def test_cells_without_a_heading_are_a_problem(read):
    """An unquoted decimal comma in a comma-separated file moves all that follows."""
    schedule = read("Tag,Rating (kW),Pulses,Load (%)\nP1,7,5,6,90\n")
    assert (2, "column 5") in problems(schedule)


def test_formula_starts_stay_texts(read):
    schedule = read("Tag,Description,Rating (kW),Pulses,Extra\n=1+1,@SUM(A1),75,6,+44\n'-P2,'=x,75,6,-\n")
    assert schedule.rows["tag"].tolist() == ["=1+1", "-P2"]
    assert schedule.rows["description"].tolist() == ["@SUM(A1)", "=x"]
    assert schedule.carried["Extra"].tolist() == ["+44", "-"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Tag,Rating (kW),Pulses,Line reacter (%)\nP1,75,6,3\n", "reacter"),
        ("Tag,Rating (kW)\nP1,75\n", "pulses"),
        ("Tag,Rating (kW),Pulses,Load,Loading\nP1,75,6,3,4\n", "load pct"),
        ("Tag,Rating (kW),Pulses\n", "without rows"),
        ("nothing,to,see\n1,2,3\n", "headings"),
        ("", "headings"),
    ],
)
def test_unusable_files_are_refused_as_a_whole(read, text, words):
    with pytest.raises(InputError, match=words):
        read(text)


def test_binary_and_undecodable_files_are_refused(tmp_path, site):
    path = tmp_path / "drives.csv"
    for content in (b"Tag,\x00\n", b"\xff\xfeT", b"Tag\x81\n"):
        path.write_bytes(content)
        with pytest.raises(InputError):
            read_schedule(path, [site])
    with pytest.raises(InputError, match="encoding"):
        read_schedule(path, [site], encoding="no-such")
    with pytest.raises(InputError):
        read_schedule(tmp_path / "missing.csv", [site])
    with pytest.raises(InputError):
        read_schedule(tmp_path / "drives.doc", [site])


def workbook(path, rows, **formats):
    book = openpyxl.Workbook()
    book.active.title = "Motors"
    for row in rows:
        book.active.append(row)
    for cell, number_format in formats.items():
        book.active[cell].number_format = number_format
    book.create_sheet("Cover")["A1"] = "nothing"
    book.save(path)


def test_workbook_with_percent_cells(tmp_path, site):
    path = tmp_path / "drives.xlsx"
    workbook(path, [["Tag", "kW", "Pulses", "Load"], [101, 75, 6, 0.9], ["P2", "75", 6, 90]], D2="0%")
    schedule = read_schedule(path, [site])
    assert schedule.rows["load pct"].tolist() == [90.0, 90.0]
    assert schedule.rows["tag"].tolist() == ["101", "P2"]
    assert schedule.name.endswith("sheet Motors")


def test_workbook_formula_without_a_value_is_refused(tmp_path, site):
    path = tmp_path / "drives.xlsx"
    workbook(path, [["Tag", "kW", "Pulses", "Load"], ["P1", 75, 6, "=45*2"]])
    with pytest.raises(InputError, match="D2"):
        read_schedule(path, [site])


def test_the_template_is_its_own_schedule_and_site():
    """Sheets with other tables beside it, and computed columns, do not disturb."""
    template = resources.template("drive_study")
    schedule = read_schedule(template, [read_site(template)])
    assert schedule.name.endswith("sheet Drives")
    assert schedule.rows["accepted"].all()
    starter = Path(__file__).parents[3] / "demo" / "starter_drives.csv"
    expected = read_schedule(starter, [read_site(starter.with_name("starter_site.toml"))]).rows
    for field in ("tag", "quantity", "rating", "unit", "pulses", "line reactor pct", "load pct"):
        assert schedule.rows[field].tolist() == expected[field].tolist()


def test_sheets_that_are_all_incomplete_are_named_together(tmp_path, site):
    path = tmp_path / "drives.xlsx"
    workbook(path, [["Tag", "kW", "Pulsses"], ["P1", 75, 6]])
    book = openpyxl.load_workbook(path)
    book["Cover"].append(["Tag", "kW"])
    book.save(path)
    with pytest.raises(InputError, match=r"Pulsses.*pulses in"):
        read_schedule(path, [site])


def test_two_sheets_with_drives_need_a_choice(tmp_path, site):
    path = tmp_path / "drives.xlsx"
    workbook(path, [["Tag", "kW", "Pulses"], ["P1", 75, 6]])
    book = openpyxl.load_workbook(path)
    book.copy_worksheet(book["Motors"]).title = "Old"
    book.save(path)
    with pytest.raises(InputError, match="Motors, Old"):
        read_schedule(path, [site])
    assert len(read_schedule(path, [site], sheet="old").rows) == 1


ODD_CELLS = st.one_of(
    st.text(max_size=8),
    st.sampled_from(
        ["", "-", "6", "12-pulse", "75 hp", "5 %", "0", "1,200", "=1+1", "main", "kW", "nan", "1e999"]
    ),
    st.floats(allow_nan=False).map(str),
)


@settings(deadline=None)
@given(st.lists(st.lists(ODD_CELLS, min_size=7, max_size=8), min_size=1, max_size=6))
def test_every_row_of_any_table_is_accepted_or_has_a_problem(rows):
    """Nothing is dropped and nothing raises but the refusal of the file as a whole."""
    site = site_from("north", {"site": PLANT})
    heads = ["Tag", "Qty", "Rating (kW)", "Pulses", "Line reactor (%)", "Load (%)", "Bus"]
    table = RawTable("random", [list(heads), *rows], True)
    layout = find_layout(table)
    try:
        schedule = checked(table, layout, [site])
    except InputError as problem:
        assert "decimal sign" in str(problem) or "without rows" in str(problem)  # noqa: PT017
        return
    filled = [row for row in rows if any(cell.strip() not in ("", "-") for cell in row)]
    assert len(schedule.rows) >= len(filled) - sum(all(is_blank(c) for c in row) for row in filled)
    wrong = {problem.row for problem in schedule.problems}
    assert set(schedule.rows.index[~schedule.rows["accepted"]]) == wrong
    sound = schedule.accepted
    assert sound["pulses"].isin(range(6, 49, 6)).all()
    assert sound["rating"].between(0, 1e5, inclusive="right").all()


def test_several_sites(read, site):
    plant = dict(site.site)
    south = site_from("south", {"site": {k: v for k, v in plant.items() if v is not None}})
    text = "Site,Tag,kW,Pulses\nnorth,P1,75,6\nSOUTH,P1,75,6\nwest,P1,75,6\n,P2,75,6\n"
    schedule = read(text, sites=[site, south])
    assert schedule.rows["site"].tolist()[:2] == ["north", "south"]
    assert problems(schedule) == {(4, "Site"), (5, "Site")}


def test_a_unit_that_a_column_cannot_have_is_no_unused_column(read):
    with pytest.raises(InputError, match=r"unit in heading 'Line reactor \(mH\)'.* 'mH'; valid: one of %"):
        read("Tag,Rating (kW),Pulses,Line reactor (mH)\nA,100,6,0.2\n")
    schedule = read("Tag,Rating (kW),Pulses,Line reactor (%),Line reactor (mH)\nA,100,6,3,0.2\n")
    assert schedule.accepted["line reactor pct"].tolist() == [3.0]


def test_bus_and_voltage_that_do_not_fit_say_what_would(read):
    schedule = read("Tag,Rating (kW),Pulses,Bus,Volts\nA,100,6,man,690\nB,100,6,MCC-2,690\n")
    assert [(p.row, p.column, p.valid) for p in schedule.problems] == [
        (2, "Bus", "did you mean 'main'? One of main, second, MCC-2"),
        (3, "Volts", "within 10% of the nominal voltage of the bus, 400 V"),
    ]
