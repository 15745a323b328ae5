"""The probe grid: every function with every kind of value in the place of each argument.

``python tests/recalc/oracle/grid.py`` stores anew what the LibreOffice at hand shows.
"""

from __future__ import annotations

import gzip
import json
import math
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

import openpyxl

from xlcalc.recalc.recalc import recalculate

STORED = Path(__file__).with_name("grid_libreoffice.json.gz")
KNOWN = Path(__file__).with_name("known_differences.txt")
DATA = {
    "A1": 2.75,
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
    "J1": 4,
    "J3": 6,
    "K1": 8,
    "K2": "word",
    "K3": 6,
    "N1": "Tag",
    "O1": "Qty",
    "P1": "Price",
    "N2": "P-1",
    "O2": 4,
    "P2": 10,
    "N3": "P-2",
    "O3": 7,
    "P3": 20,
    "N4": "F-1",
    "O4": 2,
    "P4": 40,
    "N5": "F-2",
    "O5": 9,
    "P5": 80,
    "R1": "Qty",
    "R2": ">3",
    "S1": "Tag",
    "T1": "Price",
    "S2": "P-1",
    "S3": "F-2",
    "T3": ">50",
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
    "with gap": "J1:J3",
    "with text": "K1:K3",
    "array": "{2;3;5}",
}
COLUMN = 12
SHEET = "Probe"
NEWER = (
    "SHEET SHEETS FORMULATEXT ISFORMULA "
    "AGGREGATE IFNA XOR IFS SWITCH MAXIFS MINIFS CONCAT TEXTJOIN MUNIT STDEV.S STDEV.P VAR.S VAR.P MODE.SNGL "
    "MODE.MULT PERCENTILE.INC PERCENTILE.EXC QUARTILE.INC QUARTILE.EXC RANK.EQ RANK.AVG PERCENTRANK.INC "
    "PERCENTRANK.EXC COVARIANCE.P COVARIANCE.S NORM.DIST NORM.INV NORM.S.DIST NORM.S.INV CEILING.MATH "
    "FLOOR.MATH CEILING.PRECISE FLOOR.PRECISE FORECAST.LINEAR DAYS ISOWEEKNUM UNICHAR UNICODE BASE DECIMAL "
    "BITAND BITOR BITXOR BITLSHIFT BITRSHIFT T.DIST T.DIST.RT T.DIST.2T T.INV T.INV.2T CHISQ.DIST "
    "CHISQ.DIST.RT CHISQ.INV CHISQ.INV.RT F.DIST F.DIST.RT F.INV F.INV.RT BINOM.DIST "
    "BINOM.INV NEGBINOM.DIST HYPGEOM.DIST POISSON.DIST EXPON.DIST WEIBULL.DIST GAMMA.DIST GAMMA.INV GAMMA "
    "GAMMALN.PRECISE BETA.DIST BETA.INV LOGNORM.DIST LOGNORM.INV CONFIDENCE.NORM CONFIDENCE.T PHI "
    "GAUSS SKEW.P T.TEST F.TEST CHISQ.TEST Z.TEST RRI PDURATION "
    "ERF.PRECISE ERFC.PRECISE COT SEC CSC COTH SECH CSCH ACOT ACOTH ARABIC PERMUTATIONA COMBINA NUMBERVALUE"
).split()


def probes(file: str = "probes.txt") -> Iterator[tuple[str, int, str, str]]:
    """Function, number of the argument (0 for none), kind of value, formula."""
    lines = Path(__file__).with_name(file).read_text(encoding="utf-8").splitlines()
    seen: set[str] = set()
    for line in lines:
        if not line or line.startswith("#"):
            continue
        name, *arguments = line.split("|")
        if line.startswith("="):
            name = line[1:].partition("(")[0]
            seen.add(line[1:])
            yield name, 0, "as documented", line[1:]
            continue
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
    source = folder / "grid.xlsx"
    write_book(source, formulas)
    return values(computed(source, office), len(formulas))


def computed(source: Path, office: str) -> Path:
    """The same workbook as LibreOffice saves it."""
    out = source.parent / "out"
    profile = (source.parent / "profile").as_uri()
    command = [office, "--headless", f"-env:UserInstallation={profile}", "--convert-to", "xlsx"]
    subprocess.run(
        [*command, "--outdir", str(out), str(source)], check=True, capture_output=True, timeout=300
    )
    return out / source.name


def beside(source: Path, office: str, sheet: str, cells: Mapping[str, str]) -> dict[str, tuple[object, ...]]:
    """By formula, at its cell: why it was refused, what recalculation shows, what LibreOffice shows."""
    report = recalculate(source, source.parent / "ours.xlsx", {})
    shown = [
        openpyxl.load_workbook(path, data_only=True)[sheet]
        for path in (source.parent / "ours.xlsx", computed(source, office))
    ]
    refused = {issue.cell: issue.reason for issue in report.issues if issue.refused}
    return {
        formula: (refused.get(cell), *(each[cell].value for each in shown)) for formula, cell in cells.items()
    }


def version(office: str) -> str:
    """Version of LibreOffice."""
    shown = subprocess.run([office, "--version"], check=True, capture_output=True, text=True, timeout=60)
    return shown.stdout.split()[1]


def stored() -> tuple[str, dict[str, object]]:
    """Version of LibreOffice and what it showed for each formula."""
    kept = json.loads(gzip.decompress(STORED.read_bytes()))
    return kept["version"], kept["values"]


def known() -> set[tuple[str, str]]:
    """Function and kind of value of the differences that have a reason."""
    found: set[tuple[str, str]] = set()
    for line in KNOWN.read_text(encoding="utf-8").splitlines():
        if line.startswith(" "):
            names, _, kinds = line.partition(":")
            found |= {(name, kind.strip()) for name in names.split() for kind in kinds.split(",")}
    return found


def same(mine: object, theirs: object) -> bool:
    """Whether two programs show the same; which error value they show first may differ."""
    if isinstance(theirs, int | float) and not isinstance(theirs, bool):
        return isinstance(mine, int | float) and math.isclose(mine, theirs, rel_tol=1e-9, abs_tol=1e-12)
    errors = [isinstance(value, str) and value.startswith("#") for value in (mine, theirs)]
    return all(errors) or (mine or "") == (theirs or "")


if __name__ == "__main__":
    program = shutil.which("soffice")
    if program is None:
        raise SystemExit("LibreOffice (soffice) is not installed")
    asked = [formula for *_, formula in probes()]
    with tempfile.TemporaryDirectory() as temporary:
        shown_values = libreoffices(Path(temporary), asked, program)
    table = {"version": version(program), "values": dict(zip(asked, shown_values, strict=True))}
    STORED.write_bytes(gzip.compress(json.dumps(table).encode(), mtime=0))
    import witnesses

    witnesses.rebuild(program)
