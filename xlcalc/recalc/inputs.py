"""Inputs of a workbook: where they stand, which merged cells hide some, what lies outside.

Two names take part, and a workbook without them is not affected. ``input_ranges`` are the areas in which
somebody types, ``input_fault`` is a cell with the first fault among the inputs, blank where there is
none. Where cells of these areas are merged, a recalculation gives the cell with the formula `MERGED` the
sentence that says so, for no formula can see it.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from io import BytesIO
from typing import Final

from xlcalc.recalc.cellnames import CellRange, cell_name, parse_range
from xlcalc.recalc.xlsx.archive.xmlparts import to_utf8
from xlcalc.recalc.xlsx.package import WorkbookPackage

RANGES: Final = "input_ranges"
FAULT: Final = "input_fault"
MERGED: Final = 'LEFT("merged cells among the inputs",0)'
_AREA = re.compile(
    r"(?:'((?:[^']|'')+)'|([^'!,:]+))!\$?([A-Za-z]{1,3})\$?(\d+)(?::\$?([A-Za-z]{1,3})\$?(\d+))?(?=,|$)"
)
_MERGE = re.compile(rb"""<(?:[\w.-]+:)?mergeCell\s(?:[^<>]*?\s)?ref\s*=\s*["']([^"'<]*)["']""")


@dataclass(frozen=True)
class InputArea:
    """An area of a sheet."""

    sheet: str
    cells: CellRange


@dataclass(frozen=True)
class Fault:
    """Something among the inputs that takes the verdict away.

    Parameters
    ----------
    place : str
        Such as ``Drives!D12:E12``.
    sentence : str
        What is wrong, beginning with the place.
    """

    place: str
    sentence: str


def areas_of(text: str) -> tuple[InputArea, ...]:
    """The areas of a defined name, in which commas stand between them."""
    found = []
    for quoted, plain, left, top, right, bottom in _AREA.findall(text):
        cells = parse_range(f"{left}{top}:{right or left}{bottom or top}")
        if cells is not None:
            found.append(InputArea(quoted.replace("''", "'") if quoted else plain.strip(), cells))
    return tuple(found)


def merged_inputs(package: WorkbookPackage, names: Mapping[str, str]) -> tuple[Fault, ...]:
    """Merged cells that hide cells of the inputs; `names` are the defined names of the workbook."""
    areas = areas_of(names.get(RANGES, ""))
    return tuple(_faults(package, areas)) if areas else ()


def _faults(package: WorkbookPackage, areas: tuple[InputArea, ...]) -> Iterator[Fault]:
    with zipfile.ZipFile(BytesIO(package.content)) as archive:
        for entry in package.workbook.sheets:
            own = [area.cells for area in areas if area.sheet.casefold() == entry.name.casefold()]
            if not own or entry.kind != "worksheet":
                continue
            for match in _MERGE.finditer(to_utf8(archive.read(entry.part))[0]):
                merged = parse_range(match[1].decode(errors="replace"))
                if merged is not None and sum(_shared(merged, cells) for cells in own) > 1:
                    yield _fault(entry.name, merged)


def _fault(sheet: str, merged: CellRange) -> Fault:
    first = cell_name(merged.first_row, merged.first_col)
    place = f"{quoted(sheet)}!{first}:{cell_name(merged.last_row, merged.last_col)}"
    return Fault(place, f"{place} are merged cells: of what was typed there only {first} is read; split them")


def quoted(sheet: str) -> str:
    """Name of a sheet as references have it.

    Examples
    --------
    >>> quoted("Drives"), quoted("Bob's list")
    ('Drives', "'Bob''s list'")
    """
    return sheet if sheet.isalnum() else "'" + sheet.replace("'", "''") + "'"


def _shared(one: CellRange, other: CellRange) -> int:
    """Cells that two areas have in common."""
    rows = min(one.last_row, other.last_row) - max(one.first_row, other.first_row) + 1
    columns = min(one.last_col, other.last_col) - max(one.first_col, other.first_col) + 1
    return max(0, rows) * max(0, columns)
