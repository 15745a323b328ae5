"""What a computed workbook holds, cell by cell in one plain form, and the digests over it.

The digest of the inputs covers constants, formulas and defined names; that of the results the values of
formula cells. Numbers count to 15 significant digits, as spreadsheets keep them. Formats, widths, charts,
properties and the order of parts in the file do not count.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from openpyxl import load_workbook
from openpyxl.workbook import Workbook
from openpyxl.worksheet.formula import ArrayFormula, DataTableFormula

from xlcalc.hosts.headless.xlsx.package import WorkbookPackage, read_stamp
from xlcalc.workbooks.names import bounds

_STRINGS = re.compile(r'("(?:[^"]|"")*"|\'(?:[^\']|\'\')*\')')
_PREFIX = re.compile(r"_xl(?:fn|udf|ws|l)\.", re.IGNORECASE)
_SIGNIFICANT = 15
_LONGEST = 5000


class Part(StrEnum):
    """What a line of the record tells."""

    INPUT = "input"
    FORMULA = "formula"
    NAME = "name"
    RESULT = "result"


@dataclass(frozen=True, slots=True)
class Line:
    """One cell, or one defined name (then `sheet` is empty)."""

    sheet: str
    cell: str
    part: Part
    text: str

    @property
    def place(self) -> str:
        return f"{self.sheet}!{self.cell}" if self.sheet else f"name {self.cell}"


@dataclass(frozen=True)
class Record:
    """All lines of a workbook and the stamp of its last calculation."""

    lines: tuple[Line, ...]
    stamp: str | None = None

    @property
    def inputs_digest(self) -> str:
        """SHA-256 over constants, formulas and names."""
        return digest(line for line in self.lines if line.part is not Part.RESULT)

    @property
    def results_digest(self) -> str:
        """SHA-256 over the values of the formula cells."""
        return digest(line for line in self.lines if line.part is Part.RESULT)


def digest(lines: Iterable[Line]) -> str:
    """SHA-256 over lines, whatever their order."""
    total = hashlib.sha256()
    for text in sorted(json.dumps([ln.sheet, ln.cell, ln.part.value, ln.text]) for ln in lines):
        total.update(text.encode() + b"\n")
    return total.hexdigest()


def read_record(path: Path) -> Record:
    """Record of a workbook file.

    Raises
    ------
    WorkbookFileError
        The file is no sound workbook.
    """
    WorkbookPackage.open(path)
    return record_of(load_workbook(path), load_workbook(path, data_only=True), read_stamp(path))


def record_of(formulas: Workbook, values: Workbook, stamp: str | None) -> Record:
    """Record of a workbook that was read twice: with its formulas, and with its values."""
    return Record((*_names(formulas), *_cells(formulas, values)), stamp)


def plain_text(value: Any) -> str:
    """The plain form of a constant or result.

    Examples
    --------
    >>> plain_text(480), plain_text(0.1 + 0.2), plain_text(True), plain_text(None)
    ('480', '0.3', 'TRUE', '')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, int | float):
        return f"{value:.{_SIGNIFICANT}g}"
    return _bounded(str(value).replace("\r\n", "\n"))


def plain_formula(text: str) -> str:
    """The plain form of a formula: without blanks, prefixes of functions and regard to case outside texts.

    Examples
    --------
    >>> plain_formula('=_xlfn.concat( "a b",Sheet1!a1 )')
    '=CONCAT("a b",SHEET1!A1)'
    """
    parts = _STRINGS.split(text)
    parts[::2] = [_PREFIX.sub("", re.sub(r"\s+", "", part)).upper() for part in parts[::2]]
    return _bounded("".join(parts))


def _bounded(text: str) -> str:
    """A text that a cell of the record can hold."""
    if len(text) <= _LONGEST:
        return text
    return f"text of {len(text)} signs, SHA-256 {hashlib.sha256(text.encode()).hexdigest()}"


def _names(book: Workbook) -> Iterator[Line]:
    for name, defined in book.defined_names.items():
        yield Line("", name, Part.NAME, (defined.attr_text or "").replace("$", "").replace("'", ""))


def _cells(formulas: Workbook, values: Workbook) -> Iterator[Line]:
    for sheet in formulas.worksheets:
        shown = values[sheet.title]
        covered = _array_cells(sheet)
        for row in sheet.iter_rows():
            for cell in row:
                formula = _formula(cell)
                if formula is not None:
                    yield Line(sheet.title, cell.coordinate, Part.FORMULA, plain_formula(formula))
                elif (cell.row, cell.column) not in covered:
                    if cell.value is not None:
                        yield Line(sheet.title, cell.coordinate, Part.INPUT, plain_text(cell.value))
                    continue
                result = shown[cell.coordinate].value
                yield Line(sheet.title, cell.coordinate, Part.RESULT, plain_text(result))


def _array_cells(sheet: Any) -> set[tuple[int, int]]:
    """Cells that an array formula fills."""
    covered: set[tuple[int, int]] = set()
    for row in sheet.iter_rows():
        for cell in row:
            if isinstance(cell.value, ArrayFormula) and cell.value.ref:
                left, top, right, bottom = bounds(
                    cell.value.ref if ":" in cell.value.ref else f"{cell.value.ref}:{cell.value.ref}"
                )
                covered |= {(r, c) for r in range(top, bottom + 1) for c in range(left, right + 1)}
    return covered


def _formula(cell: Any) -> str | None:
    value = cell.value
    if isinstance(value, ArrayFormula):
        return f"{value.text or ''} over {value.ref}"
    if isinstance(value, DataTableFormula):
        return f"data table over {value.ref}"
    return str(value) if cell.data_type == "f" else None
