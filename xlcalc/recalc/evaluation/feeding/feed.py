"""What the engine is given: cells of every sheet, packed as the smallest workbook file it can load.

Loading one file is about three times faster than setting cell after cell.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import chain

from xlcalc.recalc.cellnames import column_letters
from xlcalc.recalc.xlsx.archive.packed import DEFLATED, Packed, archive
from xlcalc.recalc.xlsx.archive.xmlparts import escape, quoted
from xlcalc.schema.values import CellError

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_TYPES = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_SHEET_START = f'<worksheet xmlns="{_MAIN}"><sheetData>'.encode()
_SHEET_END = b"</sheetData></worksheet>"
_PIECES = 8192
_RELATIONSHIPS_TYPE = "application/vnd.openxmlformats-package.relationships+xml"


@dataclass(frozen=True, slots=True)
class Formula:
    """Text of a formula without its equals sign."""

    text: str


Content = float | str | bool | CellError | Formula


@dataclass(frozen=True)
class SheetFeed:
    """One sheet: (row, column, content), 1-based, each cell once; or its rows packed already."""

    name: str
    cells: list[tuple[int, int, Content]] = field(default_factory=list)
    packed: Packed | None = None


def package_bytes(sheets: Sequence[SheetFeed], date_1904: bool) -> bytes:
    """The smallest workbook package that holds the sheets."""
    numbers = range(1, len(sheets) + 1)
    overrides = [("/xl/workbook.xml", "sheet.main")]
    overrides += [(f"/xl/worksheets/sheet{number}.xml", "worksheet") for number in numbers]
    content_types = "".join(
        f'<Override PartName="{part}" ContentType="{_TYPES}.{kind}+xml"/>' for part, kind in overrides
    )
    listed = "".join(
        f'<sheet name={quoted(sheet.name)} sheetId="{number}" r:id="rId{number}"/>'
        for number, sheet in zip(numbers, sheets, strict=True)
    )
    targets = [(f"rId{n}", f"{_OFFICE}/worksheet", f"worksheets/sheet{n}.xml") for n in numbers]
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{_PACKAGE}/content-types">'
        f'<Default Extension="rels" ContentType="{_RELATIONSHIPS_TYPE}"/>'
        f'<Default Extension="xml" ContentType="application/xml"/>{content_types}</Types>',
        "_rels/.rels": _relationships([("rId1", f"{_OFFICE}/officeDocument", "xl/workbook.xml")]),
        "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}">'
        f'<workbookPr date1904="{int(date_1904)}"/><sheets>{listed}</sheets></workbook>',
        "xl/_rels/workbook.xml.rels": _relationships(targets),
    }
    members = {name: _packed([text.encode()]) for name, text in parts.items()}
    for number, sheet in zip(numbers, sheets, strict=True):
        packed = packed_rows(_sheet_rows(sheet)) if sheet.packed is None else sheet.packed
        members[f"xl/worksheets/sheet{number}.xml"] = packed
    return archive(members)


def packed_rows(rows: Iterable[bytes]) -> Packed:
    """A sheet from its rows as XML in pieces."""
    return _packed(chain([_SHEET_START], rows, [_SHEET_END]))


def _packed(pieces: Iterable[bytes]) -> Packed:
    return Packed.of(pieces, DEFLATED, level=1)


def _relationships(entries: Iterable[tuple[str, str, str]]) -> str:
    listed = "".join(
        f'<Relationship Id="{i}" Type="{kind}" Target="{target}"/>' for i, kind, target in entries
    )
    return f'<Relationships xmlns="{_PACKAGE}/relationships">{listed}</Relationships>'


def _sheet_rows(sheet: SheetFeed) -> Iterator[bytes]:
    parts: list[str] = []
    current = 0
    for row, column, content in sorted(sheet.cells, key=lambda cell: (cell[0], cell[1])):
        if row != current:
            if current:
                parts.append("</row>")
                if len(parts) > _PIECES:
                    yield "".join(parts).encode()
                    parts.clear()
            parts.append(f'<row r="{row}">')
            current = row
        parts.append(cell_xml(f"{column_letters(column)}{row}", content))
    if current:
        parts.append("</row>")
    yield "".join(parts).encode()


def cell_xml(address: str, content: Content) -> str:
    """A cell as the engine reads it."""
    if isinstance(content, Formula):
        return f'<c r="{address}"><f>{escape(content.text)}</f></c>'
    if isinstance(content, bool):
        return f'<c r="{address}" t="b"><v>{int(content)}</v></c>'
    if isinstance(content, float):
        return f'<c r="{address}"><v>{content!r}</v></c>'
    if isinstance(content, CellError):
        return f'<c r="{address}" t="e"><v>{content.code.value}</v></c>'
    return f'<c r="{address}" t="str"><v xml:space="preserve">{escape(content)}</v></c>'
