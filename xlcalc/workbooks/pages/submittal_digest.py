"""What a computed workbook holds, cell by cell in one plain form, and the digests over it.

The digest of the inputs covers constants, formulas and defined names; that of the results the values of
formula cells. Numbers count to 15 significant digits, as spreadsheets keep them. Formats, charts, settings
and all else in the file have checksums of their own, one for each row, and count in neither digest.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from pathlib import Path
from typing import Any

from openpyxl.workbook import Workbook
from openpyxl.worksheet.formula import ArrayFormula, DataTableFormula

from xlcalc.files.books.names import bounds
from xlcalc.recalc.loaded import loaded
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.recalc.xlsx.plainform import FORMULA, NAME, VALUE, plain_form

_STRINGS = re.compile(r'("(?:[^"]|"")*"|\'(?:[^\']|\'\')*\')')
_PREFIX = re.compile(r"_xl(?:fn|udf|ws|l)\.", re.IGNORECASE)
_SIGNIFICANT = 15
_LONGEST = 5000
_CHECKSUM = 32
_ROW = re.compile(r"[A-Z]{0,3}([0-9]+)(:[0-9]+)?")
_BUILT_IN = f"{NAME}_xlnm."


class Part(StrEnum):
    """One line of the record."""

    INPUT = "input"
    FORMULA = "formula"
    NAME = "name"
    RESULT = "result"
    REST = "formats or settings"


@dataclass(frozen=True, slots=True)
class DigestLine:
    """One cell, one defined name (then `sheet` is empty), or the rest of a row or of the file."""

    sheet: str
    cell: str
    part: Part
    text: str

    @property
    def place(self) -> str:
        if self.part is Part.NAME:
            return f"name {self.cell}" + (f" of {self.sheet}" if self.sheet else "")
        if self.part is Part.REST and not _ROW.fullmatch(self.cell):
            return f"{self.sheet}, {self.cell}" if self.sheet else self.cell
        return f"{self.sheet}!{self.cell}"


@dataclass(frozen=True)
class BookRecord:
    """All lines of a workbook and the stamp of its last calculation."""

    lines: tuple[DigestLine, ...]
    stamp: str | None = None

    @cached_property
    def inputs_digest(self) -> str:
        """SHA-256 over constants, formulas and names."""
        return digest(line for line in self.lines if line.part not in (Part.RESULT, Part.REST))

    @cached_property
    def results_digest(self) -> str:
        """SHA-256 over the values of the formula cells."""
        return digest(line for line in self.lines if line.part is Part.RESULT)


def digest(lines: Iterable[DigestLine]) -> str:
    """SHA-256 over lines, whatever their order."""
    total = hashlib.sha256()
    for text in sorted(json.dumps([ln.sheet, ln.cell, ln.part.value, ln.text]) for ln in lines):
        total.update(text.encode() + b"\n")
    return total.hexdigest()


def read_record(path: Path) -> BookRecord:
    """Record of a workbook file.

    Raises
    ------
    WorkbookFileError
        The file is not a valid workbook.
    """
    package = WorkbookPackage.open(path)
    return record_of(package, *read_twice(package))


def read_twice(package: WorkbookPackage) -> tuple[Workbook, Workbook]:
    """The workbook with its formulas, and with its values, from the bytes that were verified."""
    return loaded(package), loaded(package, values=True)


def record_of(package: WorkbookPackage, formulas: Workbook, values: Workbook) -> BookRecord:
    """Record of a workbook that was read twice."""
    return BookRecord((*_names(formulas), *_cells(formulas, values), *_rest(package)), package.stamp)


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


def _names(book: Workbook) -> Iterator[DigestLine]:
    for sheet, defined in (("", book.defined_names), *((s.title, s.defined_names) for s in book.worksheets)):
        for name, item in defined.items():
            yield DigestLine(sheet, name, Part.NAME, (item.attr_text or "").replace("'", ""))


def _rest(package: WorkbookPackage) -> Iterator[DigestLine]:
    """Checksums of what is neither constant, formula, name nor result."""
    kept: dict[tuple[str, str], list[str]] = {}
    for place, text in plain_form(package).items():
        own_name = place.what.startswith(NAME) and not place.what.startswith(_BUILT_IN)
        if place.what in (VALUE, FORMULA) or own_name:
            continue
        row = _ROW.fullmatch(place.cells)
        where = f"{row[1]}:{row[1]}" if row else f"{place.what} {place.cells}".strip()
        kept.setdefault((place.sheet, where), []).append(json.dumps([place.cells, place.what, text]))
    for (sheet, where), texts in kept.items():
        checksum = hashlib.sha256("\n".join(sorted(texts)).encode()).hexdigest()[:_CHECKSUM]
        yield DigestLine(sheet, where, Part.REST, checksum)


def _cells(formulas: Workbook, values: Workbook) -> Iterator[DigestLine]:
    for sheet in formulas.worksheets:
        shown = values[sheet.title]
        covered = _array_cells(sheet)
        for row in sheet.iter_rows():
            for cell in row:
                formula = _formula(cell)
                if formula is not None:
                    yield DigestLine(sheet.title, cell.coordinate, Part.FORMULA, plain_formula(formula))
                elif (cell.row, cell.column) not in covered:
                    if cell.value is not None:
                        yield DigestLine(sheet.title, cell.coordinate, Part.INPUT, plain_text(cell.value))
                    continue
                result = shown[cell.coordinate].value
                yield DigestLine(sheet.title, cell.coordinate, Part.RESULT, plain_text(result))


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
