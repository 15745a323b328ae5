from __future__ import annotations

from pathlib import Path

import pytest

from xlcalc.io.plants.site_file import read_site
from xlcalc.jobs.schedule.schedule_run import run_schedule

SITE = Path(__file__).parents[3] / "demo" / "site.toml"
HEADINGS = "Tag,HP,Pulses,Line reactor %,Filter capacitor %,Filter reactor %,Filter order"


def run(tmp_path: Path, *rows: str):
    path = tmp_path / "drives.csv"
    path.write_text("\n".join([HEADINGS, *rows]))
    return run_schedule(path, [read_site(SITE)])


def test_a_drive_has_its_own_filter(tmp_path: Path) -> None:
    """The same drive with and without: a filter tuned near the 5th takes most of it."""
    _, tables = run(tmp_path, "A,200,6,5,20,8,4.7", "B,200,6,5,,,")
    thd = tables.drives.set_index("tag")["thd pct"]
    assert thd["A"] < 0.5 * thd["B"]


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("C,100,6,0,20,8,4.7", "Line reactor %"),
        ("C,100,6,5,,8,", "Filter reactor %"),
        ("C,100,6,5,20,8,0.5", "Filter order"),
    ],
)
def test_a_filter_that_does_not_fit_rejects_its_row(tmp_path: Path, row: str, column: str) -> None:
    read, tables = run(tmp_path, "A,200,6,5,20,8,4.7", row)
    assert [(problem.row, problem.column) for problem in read.problems] == [(3, column)]
    assert list(read.accepted["tag"]) == ["A"]
    assert not tables.complete


def test_a_pair_with_phase_shifts_is_a_quasi_12_pulse_drive(tmp_path: Path) -> None:
    """Equal halves leave next to nothing of the 5th at the PCC, unequal ones a part of it."""

    def fifth(*rows: str) -> float:
        path = tmp_path / "pair.csv"
        path.write_text("\n".join(["Tag,HP,Pulses,Line reactor %,Load %,Phase shift (deg)", *rows]))
        _, tables = run_schedule(path, [read_site(SITE)])
        orders = tables.orders
        return float(orders[orders["order"] == 5]["current amps"].iloc[0])

    together = fifth("A,200,6,3,100,", "B,200,6,3,100,")
    assert fifth("A,200,6,3,100,15", "B,200,6,3,100,-15") < 0.02 * together
    assert 0.1 * together < fifth("A,200,6,3,100,15", "B,200,6,3,50,-15") < 0.6 * together


def test_without_filters_the_results_have_no_columns_for_them(tmp_path: Path) -> None:
    _, tables = run(tmp_path, "B,200,6,5,,,")
    assert not any(str(column).startswith(("filter", "phase shift")) for column in tables.drives)
