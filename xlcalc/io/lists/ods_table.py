"""Reading the values of OpenDocument spreadsheets (OASIS OpenDocument 1.3, part 3).

Own reading, because the library for such files at hand (python-calamine) gives 0.94 for a cell that shows
94 %, with nothing that tells percent from numbers.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from lxml import etree

from xlcalc.core.errors import InputError
from xlcalc.io.lists.numerals import Numeral
from xlcalc.io.lists.rawtable import RawCell, RawTable

CONTENT: Final = "content.xml"
MOST_BYTES: Final = 256 << 20
MOST_REPEATED: Final = 2000
"""Times that one filled cell or row may be repeated; a sheet's blank rest is repeated more often."""

_TABLE: Final = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE: Final = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TEXT: Final = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_SOUND: Final = "an OpenDocument spreadsheet, saved anew by a spreadsheet program"


def read_ods_tables(path: Path, sheet: str | None = None) -> tuple[RawTable, ...]:
    """All sheets of a spreadsheet, or the one named.

    Raises
    ------
    InputError
        The file is not a valid spreadsheet, or has no such sheet.
    """
    tables = list(_content(path).iter(f"{_TABLE}table"))
    names = [str(table.get(f"{_TABLE}name")) for table in tables]
    wanted = [k for k, name in enumerate(names) if sheet is None or name.casefold() == sheet.casefold()]
    if not wanted:
        raise InputError("--sheet", sheet, "one of " + ", ".join(names))
    return tuple(
        RawTable(f"{path.name}, sheet {names[k]}", _rows(tables[k], path.name), False) for k in wanted
    )


def _content(path: Path) -> etree._Element:
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False)
    try:
        with zipfile.ZipFile(path) as archive:
            size = archive.getinfo(CONTENT).file_size
            if size > MOST_BYTES:
                raise InputError(path.name, f"{size >> 20} MiB of cells", f"up to {MOST_BYTES >> 20} MiB")
            root = etree.fromstring(archive.read(CONTENT), parser)
    except FileNotFoundError:
        raise InputError(path.name, "not there", "a file that exists") from None
    except (zipfile.BadZipFile, KeyError, etree.XMLSyntaxError, OSError, NotImplementedError) as problem:
        raise InputError(path.name, f"not readable ({problem})", _SOUND, wrong_kind=True) from None
    if root.getroottree().docinfo.internalDTD is not None:
        raise InputError(path.name, "with declarations of entities", _SOUND, wrong_kind=True)
    return root


def _rows(table: etree._Element, name: str) -> list[list[RawCell]]:
    rows: list[list[RawCell]] = []
    for row in table.iter(f"{_TABLE}table-row"):
        cells = _cells(row, name)
        times = int(row.get(f"{_TABLE}number-rows-repeated", "1"))
        if not cells:
            rows += [[] for _ in range(min(times, MOST_REPEATED))]
            continue
        rows += [list(cells) for _ in range(_few(times, name))]
    while rows and not rows[-1]:
        rows.pop()
    return rows


def _cells(row: etree._Element, name: str) -> list[RawCell]:
    """Cells of a row to the last that is filled."""
    cells: list[RawCell] = []
    blank = 0
    for cell in row:
        if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        times = int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
        value = _value(cell)
        if value is None:
            blank += times
            continue
        cells += [None] * _few(blank, name)
        blank = 0
        cells += [value] * _few(times, name)
    return cells


def _few(times: int, name: str) -> int:
    if times > MOST_REPEATED:
        raise InputError(name, f"with a cell or row repeated {times} times", _SOUND, wrong_kind=True)
    return times


def _value(cell: etree._Element) -> RawCell:
    kind = cell.get(f"{_OFFICE}value-type")
    if kind is None:
        return None
    if kind in ("float", "currency"):
        return float(cell.get(f"{_OFFICE}value", "nan"))
    if kind == "percentage":
        return Numeral(100.0 * float(cell.get(f"{_OFFICE}value", "nan")), "%")
    if kind == "boolean":
        return cell.get(f"{_OFFICE}boolean-value") == "true"
    if kind in ("date", "time"):
        return cell.get(f"{_OFFICE}{kind}-value")
    return "\n".join(_paragraphs(cell)) or None


def _paragraphs(cell: etree._Element) -> Iterator[str]:
    """Texts of the cell itself, not of its annotation."""
    for paragraph in cell.findall(f"{_TEXT}p"):
        for space in paragraph.iter(f"{_TEXT}s"):
            space.text = " " * min(int(space.get(f"{_TEXT}c", "1")), MOST_REPEATED)
        yield "".join(str(part) for part in paragraph.itertext())
