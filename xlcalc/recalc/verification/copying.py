"""A sheet for another program: formulas without values, and constants where it cannot compute."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum, auto
from io import BytesIO

from lxml import etree

from xlcalc.recalc.cellnames import CellRange, Position, cell_name, parse_cell
from xlcalc.recalc.xlsx.archive.xmlparts import SAFE, escape, quoted
from xlcalc.recalc.xlsx.cachedvalues import encode
from xlcalc.recalc.xlsx.sheetscan import MAIN
from xlcalc.schema.values import CellError, Scalar

_ROW, _CELL, _FORMULA, _VALUE, _INLINE, _FILTER, _TABLES = (
    f"{{{MAIN}}}{tag}" for tag in ("row", "c", "f", "v", "is", "autoFilter", "tableParts")
)


@dataclass(frozen=True, slots=True)
class Computed:
    """A formula that the other program computes; `area` is what an array covers."""

    text: str
    area: CellRange | None = None


class Left(Enum):
    """A cell that stays as the file has it, without its formula."""

    AS_IT_WAS = auto()


Written = Computed | Left | Scalar


def copied_sheet(data: bytes, cells: Mapping[Position, Written]) -> bytes:
    """The XML of a sheet with nothing but its cells, hidden rows, filter and tables.

    Parameters
    ----------
    data : bytes
        The sheet in UTF-8.
    cells : mapping
        Every cell with a formula and every member of an array; all others stay.
    """
    rows: dict[int, dict[int, bytes]] = {}
    hidden: set[int] = set()
    last: list[bytes] = []
    styles: dict[Position, str] = {}
    for place, style, xml in _cells(data, hidden, last):
        if style:
            styles[place] = style
        if place not in cells or cells[place] is Left.AS_IT_WAS:
            rows.setdefault(place[0], {})[place[1]] = xml
    for place, written in cells.items():
        if not isinstance(written, Left) and written is not None:
            rows.setdefault(place[0], {})[place[1]] = _cell(place, styles.get(place, ""), written)
    out = [b'<?xml version="1.0" encoding="UTF-8"?><worksheet xmlns="', MAIN.encode(), b'"><sheetData>']
    for row in sorted(rows.keys() | hidden):
        mark = b' hidden="1"' if row in hidden else b""
        out.append(b'<row r="%d"%b>' % (row, mark))
        listed = rows.get(row, {})
        out += [listed[col] for col in sorted(listed)]
        out.append(b"</row>")
    return b"".join([*out, b"</sheetData>", *last, b"</worksheet>"])


def _cells(data: bytes, hidden: set[int], last: list[bytes]) -> Iterator[tuple[Position, str, bytes]]:
    """Place, style and XML without formula of each cell; notes hidden rows, the filter and tables."""
    number = 0
    for _, element in etree.iterparse(BytesIO(data), tag=(_ROW, _FILTER, _TABLES), **SAFE):
        if element.tag != _ROW:
            last.append(etree.tostring(element, with_tail=False))
            continue
        number = int(element.get("r", number + 1))
        if element.get("hidden") in ("1", "true"):
            hidden.add(number)
        column = 0
        for cell in element.iterchildren(_CELL):
            _, column = parse_cell(cell.get("r", "")) or (number, column + 1)
            style = cell.get("s", "")
            inside = "".join(
                etree.tostring(child, encoding="unicode", with_tail=False)
                if child.tag == _INLINE
                else f"<v>{escape(child.text or '')}</v>"
                for child in cell.iterchildren(_VALUE, _INLINE)
            )
            marks = "".join(f" {name}={quoted(cell.get(name, ''))}" for name in ("s", "t") if cell.get(name))
            xml = f'<c r="{cell_name(number, column)}"{marks}>{inside}</c>'
            yield (number, column), style, xml.encode()
        element.clear()


def _cell(place: Position, style: str, written: Computed | float | str | bool | CellError) -> bytes:
    name = cell_name(*place)
    marks = f" s={quoted(style)}" if style else ""
    if isinstance(written, Computed):
        kind = f' t="array" ref="{written.area.name}"' if written.area is not None else ""
        return f'<c r="{name}"{marks}><f{kind}>{escape(written.text)}</f></c>'.encode()
    encoded = encode(written)
    mark = b' t="%b"' % encoded.type if encoded.type else b""
    return f'<c r="{name}"{marks}'.encode() + mark + b'><v xml:space="preserve">' + encoded.text + b"</v></c>"
