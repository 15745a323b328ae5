"""The command submittal: writes pages, checks a workbook, says no in one line."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from openpyxl import load_workbook

from xlcalc.cli.app import app, main
from xlcalc.recalc.recalc import recalculate
from xlcalc.worksheet.catalogue import FUNCTIONS


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, ["submittal", *map(str, arguments)])


@pytest.fixture(scope="module")
def computed(recalculated, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return recalculated("demo").copy(tmp_path_factory.mktemp("submittal") / "site.xlsx")


def test_writes_pages_and_checks_them(computed: Path, tmp_path: Path) -> None:
    pages = tmp_path / "pages.xlsx"
    key = tmp_path / "my.key"
    assert run("--new-key", key).exit_code == 0
    made = run(computed, "-o", pages, "--sign", key)
    assert made.exit_code == 0, made.stderr
    assert "pages.xlsx.sig, by the key SHA256:" in made.stdout
    assert "Inputs SHA-256" in made.stdout
    assert "Verify them by measurement" in made.stdout
    same = run(computed, "--check", pages, "--public", f"{key}.pub")
    assert same.exit_code == 0, same.stdout
    assert "Signature: valid, by the key SHA256:" in same.stdout
    assert "Results: as in the submittal" in same.stdout
    book = load_workbook(computed)
    ((level, before),) = [
        (row[1], row[1].value) for row in book["Site"].iter_rows() if row[0].value == "Utility (MVA)"
    ]
    level.value = 99
    altered = tmp_path / "altered.xlsx"
    book.save(altered)
    recalculate(altered, None, FUNCTIONS)
    found = run(altered, "--check", pages)
    assert found.exit_code == 1
    assert f"Site!{level.coordinate}  input: {before} in the submittal, 99 now" in found.stdout
    assert "Inputs and formulas: ALTERED" in found.stdout
    assert "Signature: not verified; pages.xlsx.sig is there" in found.stdout


def test_refusals_are_one_line(
    computed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    pages = tmp_path / "pages.xlsx"
    for arguments in (
        (computed,),
        (computed, "-o", tmp_path / "pages.ods"),
        (computed, "-o", pages, "--pdf", tmp_path / "pages.txt"),
        (computed, "-o", pages, "--check", pages),
        (computed, "-o", pages, "--sign", computed),
        (computed, "-o", pages, "--public", computed),
        (computed, "--check", pages, "--public", computed),
        (computed, "--new-key", tmp_path / "my.key"),
        (tmp_path / "missing.xlsx", "-o", pages),
        (computed, "--check", tmp_path / "missing.xlsx"),
    ):
        monkeypatch.setattr(sys, "argv", ["xlcalc", "submittal", *map(str, arguments)])
        with pytest.raises(SystemExit) as left:
            main()
        assert left.value.code == 2, arguments
        refused = capsys.readouterr().err
        assert refused.startswith("xlcalc: ")
        assert refused.count("\n") == 1
    assert not pages.exists()


@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed")
def test_pdf(computed: Path, tmp_path: Path) -> None:
    done = run(computed, "-o", tmp_path / "pages.xlsx", "--pdf", tmp_path / "pages.pdf", "--as-stored")
    assert done.exit_code == 0, done.stderr
    assert (tmp_path / "pages.pdf").read_bytes().startswith(b"%PDF")
