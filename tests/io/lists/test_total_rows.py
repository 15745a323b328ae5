"""Rows of totals in a list are no drives; what only looks like one is a row that cannot be used."""

from __future__ import annotations

from pathlib import Path

import pytest

from xlcalc.io.lists.convert import line_voltage
from xlcalc.io.lists.schedule import Schedule, read_schedule
from xlcalc.io.plants.site import site_from

SITE = site_from(
    "site",
    {
        "site": {
            "utility kv": 20,
            "utility mva": 250,
            "transformer kva": 1600,
            "transformer z pct": 6,
            "main bus volts": 480,
        }
    },
)


def read(folder: Path, *lines: str, headings: str = "Tag,kW,Pulses,Qty,Volts,Line reactor (%)") -> Schedule:
    path = folder / "list.csv"
    path.write_text("\n".join((headings, "A,200,6,1,,", "B,75,6,2,,3", *lines)) + "\n", encoding="utf-8")
    return read_schedule(path, [SITE])


@pytest.mark.parametrize(
    "line",
    ["TOTAL,275,,3,,", "Total:,350,,,,", "Sum,,,3,,", "Grand total,349.6,,,,", "Summe,,,,,"],
)
def test_a_total_is_a_remark(tmp_path: Path, line: str) -> None:
    schedule = read(tmp_path, line, "C,30,12,1,,")
    assert schedule.problems == ()
    assert list(schedule.accepted["tag"]) == ["A", "B", "C"]
    assert any(remark.startswith("row 4 (") for remark in schedule.remarks)


def test_totals_of_parts_and_of_all(tmp_path: Path) -> None:
    schedule = read(tmp_path, "Subtotal,275,,,,", "C,30,12,1,,", "Subtotal,30,,,,", "TOTAL,305,,4,,")
    assert list(schedule.accepted["tag"]) == ["A", "B", "C"]
    assert len(schedule.remarks) == 4  # and one on the efficiency


@pytest.mark.parametrize(
    "line", ["TOTAL,300,,3,,", "TOTAL,275,,7,,", "Totaliser pump,275,,,,", "Hall 1,275,,,,"]
)
def test_what_is_no_sum_stays_a_row_that_cannot_be_used(tmp_path: Path, line: str) -> None:
    schedule = read(tmp_path, line)
    assert [problem.row for problem in schedule.problems] == [4]


def test_a_drive_of_that_name_stays_a_drive(tmp_path: Path) -> None:
    assert len(read(tmp_path, "Total,275,6,1,,").accepted) == 3


def test_voltages_with_their_unit_or_as_a_system(tmp_path: Path) -> None:
    schedule = read(tmp_path, "C,30,12,1,480Y/277,", "D,30,12,1,0.46 kV,", "E,30,6-pulse,1,480 V,")
    assert schedule.problems == ()
    assert list(schedule.accepted["volts"][2:]) == [480.0, 460.0, 480.0]
    assert line_voltage("690/400 V") is not None


def test_millihenry_are_answered_with_what_to_write(tmp_path: Path) -> None:
    (problem,) = read(tmp_path, "C,30,6,1,,3 mH").problems
    assert "HD_REACTOR_PCT(3, volts, amps, hz)" in problem.valid
