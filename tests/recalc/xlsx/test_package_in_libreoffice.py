"""A real spreadsheet program opens the results (LibreOffice, where it is installed).

LibreOffice shows cached numbers and texts of ordinary formulas as they stand. It computes logicals, errors
and array formulas anew when it opens a file, so for those the values written here are the true ones.
"""

from __future__ import annotations

import csv
import shutil
import subprocess
from pathlib import Path

import pytest

from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.xlsx.package import ReasonRow, SheetPatch, WorkbookPackage
from xlcalc.schema.values import CellError, ErrorCode

SOFFICE = shutil.which("soffice")
pytestmark = pytest.mark.skipif(SOFFICE is None, reason="needs LibreOffice (soffice)")


@pytest.fixture(scope="module")
def profile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One profile for the runs of this file."""
    return tmp_path_factory.mktemp("profile")


def convert(books: list[Path], kind: str, profile: Path, out: Path) -> None:
    assert SOFFICE is not None
    command = [SOFFICE, "--headless", f"-env:UserInstallation=file://{profile}", "--convert-to", kind]
    subprocess.run(
        [*command, "--outdir", str(out), *map(str, books)], check=True, timeout=120, capture_output=True
    )


def test_results_are_shown_as_they_were_written(rich_book: Path, tmp_path: Path, profile: Path) -> None:
    package = WorkbookPackage.open(rich_book)
    values: dict[tuple[int, int], float | str | bool | CellError | None] = {
        (row, 2): row + 0.25 for row in range(1, 13)
    }
    values |= {(1, 3): 'a & <b> "c"', (2, 3): "two\nlines", (2, 4): False, (1, 6): CellError(ErrorCode.DIV0)}
    values |= {(row, 8): 3.0 * (row - 1) for row in (1, 2, 3)} | {
        (row, 9): 2 * row + 0.5 for row in (1, 2, 3)
    }
    values |= {(row, 11): (row - 1) / 4 for row in range(1, 6)}
    target = tmp_path / "shown.xlsx"
    package.save(
        target,
        {"Drive data": SheetPatch(values, {(1, 11): CellRange(1, 11, 5, 11)})},
        stamp="s",
        reasons=[ReasonRow("Drive data", "F1", "=SUM(B1:B12)/0", "#N/A", "no data")],
    )
    convert(
        [target],
        "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,1",
        profile,
        tmp_path,
    )
    shown = next(path for path in tmp_path.glob("shown*.csv") if path.stem in ("shown", "shown-Drive data"))
    with shown.open(newline="", encoding="utf-8") as stream:
        rows = list(csv.reader(stream))
    assert [row[1] for row in rows[:12]] == [f"{n}.25" for n in range(1, 13)]
    assert rows[0][2:6] == ['a & <b> "c"', "FALSE", "", "#DIV/0!"]
    assert rows[1][2] == "two\nlines"
    assert [row[7:9] for row in rows[:3]] == [["0", "2.5"], ["3", "4.5"], ["6", "6.5"]]
    assert [row[10] for row in rows[:5]] == ["0", "0.25", "0.5", "0.75", "1"]


def test_every_kind_of_workbook_prints(corpus_book: Path, tmp_path: Path, profile: Path) -> None:
    package = WorkbookPackage.open(corpus_book)
    target = tmp_path / ("printed" + corpus_book.suffix)
    results = {
        sheet.name: SheetPatch({cell.position: 1.5 for cell in sheet.formulas})
        for sheet in package.sheets
        if sheet.formulas
    }
    package.save(target, results, stamp="s", reasons=[])
    convert([target], "pdf", profile, tmp_path)
    assert (tmp_path / "printed.pdf").read_bytes().startswith(b"%PDF")
