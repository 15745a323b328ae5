"""The other witnesses of the probe grid: array formulas, a third engine, and what is proved by whom.

IronCalc (PyPI ``ironcalc``, a spreadsheet engine that shares nothing with LibreOffice or the engine used
here) computes the same workbooks. ``python tests/recalc/oracle/grid.py`` stores anew what it and
LibreOffice show, and writes the table of what is proved, which decides which functions are evaluated.
"""

from __future__ import annotations

import csv
import fnmatch
import gzip
import io
import json
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import grid
import openpyxl
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.formula import ArrayFormula

from xlcalc.recalc.evaluation import certified, ordinary
from xlcalc.recalc.recalc import recalculate

STORED = Path(__file__).with_name("grid_witnesses.json.gz")
KNOWN = Path(__file__).with_name("known_differences_ironcalc.txt")
HEIGHT, WIDTH = 4, 3
FIRST_COLUMN = 27
CLASSIC = frozenset(
    "TRANSPOSE MMULT MINVERSE MDETERM FREQUENCY COLUMNS ROWS COLUMN ROW PI TRUE FALSE NA".split()
)
IN_ANOTHER_NAMESPACE = frozenset({"FILTER", "SORT"})
"""Functions that the file format writes without a prefix, and with a longer one."""

NOT_THERE = ("#NAME?", "#N/IMPL!")
"""What a program shows for a function that it lacks."""

WITHOUT_WITNESS = dict.fromkeys(
    "NOW TODAY RAND RANDBETWEEN XLOOKUP XMATCH TEXTJOIN TEXTBEFORE TEXTAFTER BINOM.DIST.RANGE".split(),
    "test_newer_functions.py",
) | dict.fromkeys("SHEET SHEETS FORMULATEXT ISFORMULA AREAS ISREF CELL TYPE".split(), "test_places.py")
"""Functions that the grid does not probe, and the file of tests that holds them against published results."""


@dataclass(frozen=True)
class Probe:
    """One call with one argument replaced, and what each program shows; lists for array formulas."""

    name: str
    place: int
    kind: str
    formula: str
    ours: object
    refused: bool
    libreoffice: object
    ironcalc: object


def array_probes() -> list[tuple[str, int, str, str]]:
    return list(grid.probes("array_probes.txt"))


def write_array_book(path: Path, formulas: Sequence[str]) -> None:
    """The data of the grid with each formula over its own cells."""
    grid.write_book(path, [])
    book = openpyxl.load_workbook(path)
    for number, formula in enumerate(formulas):
        area = _area(number)
        book[grid.SHEET][area.partition(":")[0]] = ArrayFormula(area, _written(formula))
    book.save(path)


def _written(formula: str) -> str:
    name = formula.partition("(")[0]
    if name in CLASSIC:
        return f"={formula}"
    return f"=_xlfn._xlws.{formula}" if name in IN_ANOTHER_NAMESPACE else f"=_xlfn.{formula}"


def _first_row(number: int) -> int:
    return 1 + number * (HEIGHT + 1)


def _area(number: int) -> str:
    first, last = get_column_letter(FIRST_COLUMN), get_column_letter(FIRST_COLUMN + WIDTH - 1)
    return f"{first}{_first_row(number)}:{last}{_first_row(number) + HEIGHT - 1}"


def array_values(path: Path, count: int) -> list[object]:
    sheet = openpyxl.load_workbook(path, data_only=True)[grid.SHEET]
    return [[cell.value for row in sheet[_area(number)] for cell in row] for number in range(count)]


def array_ours(folder: Path, formulas: Sequence[str]) -> tuple[list[object], Mapping[int, str]]:
    """As `grid.ours`."""
    source, target = folder / "arrays.xlsx", folder / "array_values.xlsx"
    write_array_book(source, formulas)
    report = recalculate(source, target, {})
    cells = {_area(number).partition(":")[0]: number for number in range(len(formulas))}
    refused = {cells[i.cell]: i.reason for i in report.issues if i.refused}
    return array_values(target, len(formulas)), refused


def ironcalc_model(path: Path):
    import ironcalc

    model = ironcalc.load_from_xlsx(str(path), "en", "UTC", "en")
    model.evaluate()
    return model


def ironcalc_plain(folder: Path, formulas: Sequence[str]) -> list[object]:
    grid.write_book(folder / "plain.xlsx", list(formulas))
    model = ironcalc_model(folder / "plain.xlsx")
    return [model.get_cell_value(0, row + 10, grid.COLUMN) for row in range(1, len(formulas) + 1)]


def ironcalc_arrays(folder: Path, formulas: Sequence[str]) -> list[object]:
    write_array_book(folder / "arrays.xlsx", formulas)
    model = ironcalc_model(folder / "arrays.xlsx")
    return [
        spread(
            [
                [
                    model.get_cell_value(0, _first_row(number) + row, FIRST_COLUMN + column)
                    for column in range(WIDTH)
                ]
                for row in range(HEIGHT)
            ]
        )
        for number in range(len(formulas))
    ]


def spread(rows: list[list[object]]) -> list[object]:
    """An array over the cells of its formula as Excel documents it: one row or column repeated, else #N/A.

    IronCalc shows #VALUE! in the cells beyond the array.
    """
    beyond = "#VALUE!"
    height = max((number for number, row in enumerate(rows, 1) if any(c != beyond for c in row)), default=0)
    width = max((column + 1 for row in rows for column, cell in enumerate(row) if cell != beyond), default=0)
    if not height:
        return [beyond] * (HEIGHT * WIDTH)

    def cell(row: int, column: int) -> object:
        row, column = 0 if height == 1 else row, 0 if width == 1 else column
        return rows[row][column] if row < height and column < width else "#N/A"

    return [cell(row, column) for row in range(HEIGHT) for column in range(WIDTH)]


def rebuild(office: str) -> None:
    """Store what both programs show for array formulas and IronCalc for the others; write what is proved."""
    plain = [formula for *_, formula in grid.probes()]
    over = [formula for *_, formula in array_probes()]
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        third = ironcalc_plain(folder, plain)
        third_arrays = ironcalc_arrays(folder, over)
        arrays = array_values(grid.computed(folder / "arrays.xlsx", office), len(over))
        kept = {
            "libreoffice": grid.version(office),
            "ironcalc": version("ironcalc"),
            "plain": dict(zip(plain, third, strict=True)),
            "arrays": {f: [a, b] for f, a, b in zip(over, arrays, third_arrays, strict=True)},
        }
        _keep(kept)
    every = [[name, certified.TESTED, "0", ""] for name in ordinary.SIGNATURES]
    certified.TABLE.write_text(_csv(every), encoding="utf-8")
    subprocess.run([sys.executable, __file__], check=True)


def write_table() -> None:
    """Write what is proved; every function that has a signature is looked at."""
    plain = [formula for *_, formula in grid.probes()]
    over = [formula for *_, formula in array_probes()]
    with tempfile.TemporaryDirectory() as temporary:
        shown = list(seen(grid.ours(Path(temporary), plain), array_ours(Path(temporary), over)))
    certified.TABLE.write_text(table(shown), encoding="utf-8")
    _keep(stored() | {"documented": documented(shown)})


def _keep(table: Mapping[str, object]) -> None:
    STORED.write_bytes(gzip.compress(json.dumps(table).encode(), mtime=0))


def documented(probes: Sequence[Probe]) -> dict[str, object]:
    """What this project shows where it follows a documented rule against both other programs."""
    explained, known = grid.known(), known_ironcalc()
    return {p.formula: p.ours for p in probes if verdict(p, explained, known) == certified.DOCUMENTED}


def stored() -> dict:
    return json.loads(gzip.decompress(STORED.read_bytes()))


def seen(
    plain: tuple[Sequence[object], Mapping[int, str]], arrays: tuple[Sequence[object], Mapping[int, str]]
) -> Iterator[Probe]:
    """Every probe with what this project shows and what is stored of the others."""
    kept, (_, libreoffice) = stored(), grid.stored()
    for index, ((name, place, kind, formula), mine) in enumerate(zip(grid.probes(), plain[0], strict=True)):
        theirs = libreoffice[formula]
        yield Probe(name, place, kind, formula, mine, index in plain[1], theirs, kept["plain"][formula])
    for index, ((name, place, kind, formula), mine) in enumerate(zip(array_probes(), arrays[0], strict=True)):
        theirs, third = kept["arrays"][formula]
        yield Probe(name, place, kind, formula, mine, index in arrays[1], theirs, third)


def same(mine: object, theirs: object) -> bool:
    if isinstance(mine, list) and isinstance(theirs, list):
        return all(map(grid.same, mine, theirs))
    return grid.same(mine, theirs)


def has(value: object) -> bool:
    """Whether a program that showed this knows the function."""
    return not any(cell in NOT_THERE for cell in (value if isinstance(value, list) else [value]))


def known_ironcalc() -> list[tuple[str, str, str]]:
    """Pattern of functions, kind of value (``*`` for any), and line of each difference that has a reason."""
    found = []
    for line in KNOWN.read_text(encoding="utf-8").splitlines():
        if line.startswith(" "):
            names, _, kinds = line.partition(":")
            found += [(name, kind.strip(), line) for name in names.split() for kind in kinds.split(",")]
    return found


def explanation(probe: Probe, known: Sequence[tuple[str, str, str]]) -> str:
    """The line that explains why IronCalc differs; empty where none does."""
    for pattern, kind, line in known:
        if fnmatch.fnmatchcase(probe.name, pattern) and kind in ("*", probe.kind):
            return line
    return ""


def verdict(probe: Probe, explained: set[tuple[str, str]], known: Sequence[tuple[str, str, str]]) -> str:
    """By whom a probe is proved; empty where by nobody."""
    if probe.refused:
        return certified.REFUSED
    first = has(probe.libreoffice) and same(probe.ours, probe.libreoffice)
    third = has(probe.ironcalc) and same(probe.ours, probe.ironcalc)
    documented = not has(probe.libreoffice) or (probe.name, probe.kind) in explained
    if first:
        return certified.BOTH if third else certified.LIBREOFFICE
    if third:
        return certified.IRONCALC if documented else ""
    return certified.DOCUMENTED if (probe.name, probe.kind) in explained else ""


def table(probes: Sequence[Probe]) -> str:
    """What is proved, as the file that decides which functions are evaluated."""
    explained, known = grid.known(), known_ironcalc()
    kinds: defaultdict[tuple[str, int, str], dict[str, None]] = defaultdict(dict)
    for probe in probes:
        kinds[probe.name, probe.place, verdict(probe, explained, known)][probe.kind] = None
    places: defaultdict[tuple[str, str, str], list[int]] = defaultdict(list)
    for (name, place, witness), listed in sorted(kinds.items()):
        if witness:
            named = ";".join(kind for kind in [*grid.KINDS, "as documented"] if kind in listed)
            places[name, witness, named].append(place)
    order = {witness: number for number, witness in enumerate(certified.WITNESSES)}
    rows = [[name, witness, ";".join(map(str, at)), named] for (name, witness, named), at in places.items()]
    rows += [[name, certified.TESTED, "0", test] for name, test in WITHOUT_WITNESS.items()]
    return _csv(sorted(rows, key=lambda row: (row[0], row[2], order[row[1]])))


def _csv(rows: Sequence[Sequence[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(certified.COLUMNS)
    writer.writerows(rows)
    return out.getvalue()


if __name__ == "__main__":
    write_table()
