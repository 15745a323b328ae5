"""`xlcalc choose` from files to the workbook."""

from __future__ import annotations

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from xlcalc.cli.app import app
from xlcalc.core import resources
from xlcalc.core.errors import InputError

DEMO = resources.folder("demo")
TERMS = '[money]\n"price per kwh" = 0.1\ncurrency = "USD"\n[choice]\n"margin pct" = {margin}\n'
DRIVES = "tag,rating kW,pulses,load %\nA,110,6,90\nB,110,6,90\nC,75,6,80\nD,30,6,100\n"


def run(tmp_path, margin, *more):
    (tmp_path / "terms.toml").write_text(TERMS.format(margin=margin))
    (tmp_path / "drives.csv").write_text(DRIVES)
    site = (DEMO / "site.toml").read_text().replace('"linear load kw" = 820', '"linear load kw" = 100')
    (tmp_path / "site.toml").write_text(site)
    files = [str(tmp_path / name) for name in ("site.toml", "drives.csv", "terms.toml", "out.xlsx")]
    arguments = ["choose", files[0], "--drives", files[1], "--terms", files[2], "-o", files[3], *more]
    return CliRunner().invoke(app, arguments), tmp_path / "out.xlsx"


def test_choice_is_written_with_its_chart(tmp_path):
    study = tmp_path / "study.xlsx"
    more = ("--front", "4", "--runners", "1", "--seconds", "20", "--apply", str(study))
    result, path = run(tmp_path, 5, *more)
    assert result.exit_code == 0, result.output
    assert "PASS" in result.output
    assert "As scheduled: " in result.output
    assert " to buy" in result.output
    assert "prices and spectra are invented" in result.output
    book = load_workbook(path)
    assert book.sheetnames == [
        "Choice",
        "PCC",
        "Mix",
        "Verdicts",
        "Front",
        "Runners-up",
        "Savings",
        "Options",
        "Notes",
    ]
    assert (len(book["Front"]._charts), len(book["Choice"]._charts)) == (1, 1)
    assert [book["Mix"].cell(row, 1).value for row in range(5, 9)] == ["A", "B", "C", "D"]
    total = sum(book["Mix"].cell(row, 6).value for row in range(5, 9))
    assert book["Choice"]["B7"].value == pytest.approx(total)
    rows = list(load_workbook(study)["Drives"].iter_rows(min_row=10, max_row=14, values_only=True))
    written = {row[0]: dict(zip(rows[0], row, strict=True)) for row in rows[1:]}
    for row in range(5, 9):
        tag, option = (book["Mix"].cell(row, column).value for column in (1, 5))
        given = written[tag]
        reactor = float(option.split()[2]) if option.startswith("line reactor") else None
        assert reactor is None or given["Line reactor (%)"] == reactor
        assert ("passive filter" in option) == bool(given["Filter capacitor (%)"])
    assert {book["Verdicts"].cell(row, 3).value for row in (5, 6)} == {"coupled", "one by one"}


def test_nothing_passes_is_exit_code_1_and_still_written(tmp_path):
    result, path = run(tmp_path, 90, "--front", "0", "--seconds", "10")
    assert result.exit_code == 1, result.output
    assert load_workbook(path)["Choice"]["A4"].value == "NO MIX PASSES"


def test_output_that_is_no_workbook_is_refused_first(tmp_path):
    result, _ = run(tmp_path, 5, "-o", str(tmp_path / "out.pdf"))
    assert isinstance(result.exception, InputError)
    assert "ends in .xlsx" in str(result.exception)
