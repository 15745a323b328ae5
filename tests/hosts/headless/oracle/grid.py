"""The probe grid: every function with every kind of value in the place of each argument."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator, Mapping
from pathlib import Path

import openpyxl

from xlcalc.hosts.headless.recalc import recalculate

DATA = {
    "A1": 2.5,
    "A2": "word",
    "A3": "3",
    "A4": True,
    "A6": "=1/0",
    "A7": "=NA()",
    "A8": '="2024-03-15"',
    "A9": -4,
    "D1": 2,
    "D2": 3,
    "D3": 5,
    "E1": 7,
    "E2": 11,
    "E3": 13,
    "F1": "ab",
    "F2": "cd",
    "F3": "ef",
    "G1": 5,
    "G2": 2,
    "G3": 3,
    "G4": 9,
    "H1": 1,
    "H2": "word",
    "H3": None,
    "H4": True,
    "I1": 4,
    "I2": "=NA()",
    "I3": 6,
}
KINDS = {
    "number": "1",
    "zero": "0",
    "negative": "A9",
    "fraction": "A1",
    "text": '"word"',
    "text cell": "A2",
    "empty text": '""',
    "number as text": '"3"',
    "number as text cell": "A3",
    "date as text": '"2024-03-15"',
    "date as text cell": "A8",
    "logical": "TRUE",
    "logical cell": "A4",
    "blank": "A5",
    "error": "A6",
    "not there": "A7",
    "unsorted": "G1:G3",
    "longer": "G1:G4",
    "mixed": "H1:H4",
    "with error": "I1:I3",
    "array": "{2;3;5}",
}
COLUMN = 12
SHEET = "Probe"
NEWER = (
    "IFNA XOR IFS SWITCH MAXIFS MINIFS STDEV.S STDEV.P VAR.S VAR.P MODE.SNGL PERCENTILE.INC PERCENTILE.EXC "
    "QUARTILE.INC QUARTILE.EXC RANK.EQ RANK.AVG COVARIANCE.P COVARIANCE.S NORM.DIST NORM.INV NORM.S.DIST "
    "NORM.S.INV CEILING.MATH FLOOR.MATH CEILING.PRECISE FLOOR.PRECISE FORECAST.LINEAR DAYS ISOWEEKNUM "
    "UNICHAR UNICODE BASE DECIMAL BITAND BITOR BITXOR"
).split()


def probes() -> Iterator[tuple[str, int, str, str]]:
    """Function, number of the argument (0 for none), kind of value, formula."""
    lines = Path(__file__).with_name("probes.txt").read_text(encoding="utf-8").splitlines()
    seen: set[str] = set()
    for line in lines:
        if not line or line.startswith("#"):
            continue
        name, *arguments = line.split("|")
        whole = (name, 0, "as documented", f"{name}({','.join(arguments)})")
        changed = (
            (name, place, kind, f"{name}({','.join((*arguments[: place - 1], text, *arguments[place:]))})")
            for place in range(1, len(arguments) + 1)
            for kind, text in KINDS.items()
        )
        for probe in (whole, *changed):
            if probe[3] not in seen:
                seen.add(probe[3])
                yield probe


def written(formula: str) -> str:
    """A formula as the file format names its function."""
    name = formula.partition("(")[0]
    return f"=_xlfn.{formula}" if name in NEWER else f"={formula}"


def write_book(path: Path, formulas: list[str]) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = SHEET
    for address, value in DATA.items():
        sheet[address] = value
    for row, formula in enumerate(formulas, 1):
        sheet.cell(row + 10, COLUMN, written(formula))
    book.save(path)


def values(path: Path, count: int) -> list[object]:
    sheet = openpyxl.load_workbook(path, data_only=True)[SHEET]
    return [sheet.cell(row + 10, COLUMN).value for row in range(1, count + 1)]


def ours(folder: Path, formulas: list[str]) -> tuple[list[object], Mapping[int, str]]:
    """What this project shows, and why it refused by number of the formula."""
    source, target = folder / "grid.xlsx", folder / "ours.xlsx"
    write_book(source, formulas)
    report = recalculate(source, target, {})
    prefix = openpyxl.utils.get_column_letter(COLUMN)
    refused = {int(i.cell.removeprefix(prefix)) - 11: i.reason for i in report.issues if i.refused}
    return values(target, len(formulas)), refused


def libreoffices(folder: Path, formulas: list[str], office: str) -> list[object]:
    """What LibreOffice shows."""
    source, out = folder / "grid.xlsx", folder / "out"
    write_book(source, formulas)
    profile = (folder / "profile").as_uri()
    command = [office, "--headless", f"-env:UserInstallation={profile}", "--convert-to", "xlsx"]
    subprocess.run(
        [*command, "--outdir", str(out), str(source)], check=True, capture_output=True, timeout=300
    )
    return values(out / "grid.xlsx", len(formulas))
