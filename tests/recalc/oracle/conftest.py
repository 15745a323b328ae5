"""One workbook evaluated twice: by this project and by LibreOffice, an independent program."""

from __future__ import annotations

import math
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.formula import ArrayFormula

sys.path.insert(0, str(Path(__file__).parent))
import grid

from xlcalc.recalc.recalc import recalculate

_NEWER_NAME = re.compile(rf"(?<![\w.])({'|'.join(map(re.escape, grid.NEWER))})\(")
DATA = {
    "A": [3, -1.5, 12, 7, 7, 0.25, 100, 42, 8, 15, -1000, 400, 500, 300],
    "B": ["alpha", "Beta", "gamma", "delta two", "alpha", None, "x-1", "Zeta", "ten 10", "  pad  it "],
    "C": [45351, 45352.75, 45400.5625, 44927, 45292, 45657, 45000, 45001, 45002, 45003],
    "D": [True, 5, None, "t", "#N/A", 2, False, None, 9, 1],
    "E": [1, 2, 4, 8, 16, 32, 64, 128, 256, 512],
    "F": list("abcdefghij"),
    "G": [2, "#N/A", 5, None, "text", 1, "#DIV/0!", 4, None, 3],
    "H": [4, 2],
    "I": [7, 6],
}
NAMES = {
    "Numbers": "Data!$A$1:$A$10",
    "Tags": "Data!$B$1:$B$10",
    "Letters": "Data!$E$1:$F$10",
    "Corner": "Data!$A$1",
    "Factor": "1.5",
    "Greeting": '"hello"',
    "Half": "Data!$A$1/2",
}
FORMULA_COLUMN = 11
FIRST_ROW = 3
HEIGHT, WIDTH = 4, 3


@dataclass(frozen=True)
class Compared:
    """Values of one formula in both programs; a reason where ours was refused."""

    ours: list[object]
    theirs: list[object]
    refused: str

    @property
    def same(self) -> bool:
        return all(map(_same, self.ours, self.theirs))


def _same(ours: object, theirs: object) -> bool:
    if isinstance(theirs, int | float) and not isinstance(theirs, bool):
        return isinstance(ours, int | float) and math.isclose(ours, theirs, rel_tol=1e-12, abs_tol=1e-12)
    return ours == theirs


Compare = Callable[[Sequence[str], Sequence[str]], tuple[list[Compared], list[Compared]]]


@pytest.fixture(scope="session")
def office() -> str:
    """The program."""
    found = shutil.which("soffice")
    if found is None:
        pytest.skip("LibreOffice (soffice) is not installed")
    return found


@pytest.fixture(scope="session")
def compare(tmp_path_factory: pytest.TempPathFactory, office: str) -> Compare:
    """Evaluate plain formulas beside the data, and array formulas over 4 rows and 3 columns, in both."""

    def run(formulas: Sequence[str], arrays: Sequence[str]) -> tuple[list[Compared], list[Compared]]:
        folder = tmp_path_factory.mktemp("oracle")
        source = folder / "book.xlsx"
        _write(source, formulas, arrays)
        report = recalculate(source, folder / "ours.xlsx", {})
        profile = (folder / "profile").as_uri()
        command = [office, "--headless", f"-env:UserInstallation={profile}", "--convert-to", "xlsx"]
        command += ["--outdir", str(folder / "out"), str(source)]
        subprocess.run(command, check=True, capture_output=True, timeout=180)
        refused = {issue.address: issue.reason for issue in report.issues if issue.refused}
        books = [
            openpyxl.load_workbook(path, data_only=True)
            for path in (folder / "ours.xlsx", folder / "out" / "book.xlsx")
        ]
        plain = []
        for row in range(FIRST_ROW, FIRST_ROW + len(formulas)):
            ours, theirs = ([book["Data"].cell(row, FORMULA_COLUMN).value] for book in books)
            plain.append(Compared(ours, theirs, refused.get(f"Data!K{row}", "")))
        over_areas = []
        for index in range(len(arrays)):
            area = _area(index)
            ours, theirs = ([cell.value for row in book["Arrays"][area] for cell in row] for book in books)
            over_areas.append(Compared(ours, theirs, refused.get("Arrays!" + area.partition(":")[0], "")))
        return plain, over_areas

    return run


def _area(index: int) -> str:
    first = 1 + index * (HEIGHT + 1)
    return f"A{first}:C{first + HEIGHT - 1}"


def _write(path: Path, formulas: Sequence[str], arrays: Sequence[str]) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "Data"
    for letter, values in DATA.items():
        for row, value in enumerate(values, 1):
            sheet[f"{letter}{row}"] = value
    for row, formula in enumerate(formulas, FIRST_ROW):
        sheet.cell(row, FORMULA_COLUMN, "=" + _prefixed(formula))
    other = book.create_sheet("Other sheet")
    for row, value in enumerate([1.5, 2.5, 3.5], 1):
        other.cell(row, 1, value)
    other["B1"] = "there"
    over_areas = book.create_sheet("Arrays")
    for index, formula in enumerate(arrays):
        area = _area(index)
        over_areas[area.partition(":")[0]] = ArrayFormula(area, "=" + _prefixed(formula))
    for name, text in NAMES.items():
        book.defined_names[name] = DefinedName(name, attr_text=text)
    book.save(path)


def _prefixed(formula: str) -> str:
    """Newer functions as the file format names them."""
    return _NEWER_NAME.sub(r"_xlfn.\1(", formula)
