"""LibreOffice, an independent program, evaluates the same workbook; every classic formula must agree."""

from __future__ import annotations

import math
import shutil
import subprocess
from pathlib import Path

import openpyxl
import pytest
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.hosts.headless.recalc import recalculate


def _listed(name: str) -> list[str]:
    lines = Path(__file__).with_name(name).read_text(encoding="utf-8").splitlines()
    return [line for line in lines if line and not line.startswith("#")]


FORMULAS = _listed("classic_formulas.txt")
ARRAYS = _listed("array_formulas.txt")
HEIGHT, WIDTH = 4, 3
NEWER = (
    "IFNA XOR IFS SWITCH MAXIFS MINIFS CONCAT TEXTJOIN STDEV.S STDEV.P VAR.S VAR.P MODE.SNGL PERCENTILE.INC "
    "QUARTILE.INC RANK.EQ COVARIANCE.P COVARIANCE.S NORM.DIST NORM.INV NORM.S.DIST NORM.S.INV CEILING.MATH "
    "FLOOR.MATH FORECAST.LINEAR DAYS ISOWEEKNUM"
).split()
DATA = {
    "A": [3, -1.5, 12, 7, 7, 0.25, 100, 42, 8, 15, -1000, 400, 500, 300],
    "B": ["alpha", "Beta", "gamma", "delta two", "alpha", None, "x-1", "Zeta", "ten 10", "  pad  it "],
    "C": [45351, 45352.75, 45400.5625, 44927, 45292, 45657, 45000, 45001, 45002, 45003],
    "D": [True, 5, None, "t", "#N/A", 2, False, None, 9, 1],
    "E": [1, 2, 4, 8, 16, 32, 64, 128, 256, 512],
    "F": list("abcdefghij"),
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


def _fill(sheet: Worksheet) -> None:
    for letter, values in DATA.items():
        for row, value in enumerate(values, 1):
            sheet[f"{letter}{row}"] = value
    for row, formula in enumerate(FORMULAS, FIRST_ROW):
        sheet.cell(row, FORMULA_COLUMN, "=" + _prefixed(formula))


def _prefixed(formula: str) -> str:
    """Newer functions as the file format names them."""
    name = formula.partition("(")[0]
    return f"_xlfn.{formula}" if name in NEWER else formula


Result = tuple[list[object], list[object], str]


def _array_range(index: int) -> str:
    first = 1 + index * (HEIGHT + 1)
    return f"A{first}:C{first + HEIGHT - 1}"


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Result]:
    office = shutil.which("soffice")
    if office is None:
        pytest.skip("LibreOffice (soffice) is not installed")
    folder = tmp_path_factory.mktemp("oracle")
    book = openpyxl.Workbook()
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    sheet.title = "Data"
    _fill(sheet)
    other = book.create_sheet("Other sheet")
    for row, value in enumerate([1.5, 2.5, 3.5], 1):
        other.cell(row, 1, value)
    other["B1"] = "there"
    arrays = book.create_sheet("Arrays")
    for index, formula in enumerate(ARRAYS):
        area = _array_range(index)
        arrays[area.partition(":")[0]] = ArrayFormula(area, "=" + formula)
    for name, text in NAMES.items():
        book.defined_names[name] = DefinedName(name, attr_text=text)
    source = folder / "book.xlsx"
    book.save(source)
    report = recalculate(source, folder / "ours.xlsx", {})
    (folder / "out").mkdir()
    subprocess.run(
        [
            office,
            "--headless",
            f"-env:UserInstallation={(folder / 'profile').as_uri()}",
            "--convert-to",
            "xlsx",
            "--outdir",
            str(folder / "out"),
            str(source),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    refused = {issue.address: issue.reason for issue in report.issues if issue.refused}
    ours, theirs = (
        openpyxl.load_workbook(path, data_only=True)
        for path in (folder / "ours.xlsx", folder / "out" / "book.xlsx")
    )
    found: dict[str, Result] = {}
    for row, formula in enumerate(FORMULAS, FIRST_ROW):
        cell = ours["Data"].cell(row, FORMULA_COLUMN)
        other_value = theirs["Data"].cell(row, FORMULA_COLUMN).value
        found[formula] = ([cell.value], [other_value], refused.get(f"Data!{cell.coordinate}", ""))
    for index, formula in enumerate(ARRAYS):
        area = _array_range(index)
        values = [[cell.value for row in wb["Arrays"][area] for cell in row] for wb in (ours, theirs)]
        found["{" + formula] = (values[0], values[1], refused.get("Arrays!" + area.partition(":")[0], ""))
    return found


def _same(ours: object, theirs: object) -> bool:
    if isinstance(theirs, int | float) and not isinstance(theirs, bool):
        return isinstance(ours, int | float) and math.isclose(ours, theirs, rel_tol=1e-12, abs_tol=1e-12)
    return ours == theirs


@pytest.mark.parametrize("formula", FORMULAS)
def test_agrees(formula: str, results: dict[str, Result]) -> None:
    ours, theirs, refused = results[formula]
    assert not refused
    assert _same(ours[0], theirs[0]), f"{ours[0]!r}, LibreOffice: {theirs[0]!r}"


@pytest.mark.parametrize("formula", ARRAYS)
def test_array_formula_agrees(formula: str, results: dict[str, Result]) -> None:
    ours, theirs, refused = results["{" + formula]
    assert not refused
    assert all(map(_same, ours, theirs)), f"{ours!r}, LibreOffice: {theirs!r}"
