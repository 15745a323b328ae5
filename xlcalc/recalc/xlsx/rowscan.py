"""The cells of a few rows of a large, plainly written sheet, without reading all the others."""

from __future__ import annotations

import re
from collections.abc import Set
from dataclasses import replace

from xlcalc.recalc.cellnames import MAX_ROW
from xlcalc.recalc.xlsx.sheetscan import CellSpan, RowSpan, SheetScan, Span, scan_sheet, tag_end

_ROW_TAG = re.compile(rb"<row(?=[\s/>])([^<>]*)>")
_NUMBER = re.compile(rb"""\A(?:\s+[\w:.-]+\s*=\s*(?:"[^"]*"|'[^']*'))*?\s+r\s*=\s*["']([0-9]{1,7})["']""")
_TAIL = b"</sheetData></worksheet>"


def scan_rows(data: bytes, wanted: Set[int]) -> SheetScan:
    """Scan of a plainly written sheet that lists all rows, but cells only of the wanted ones.

    Parameters
    ----------
    data : bytes
        A sheet that `scan_formulas` could read plainly.
    wanted : set of int
        Row numbers.

    Raises
    ------
    UnsafePartError
        As `scan_sheet`, which also does the work where a row is written in an unusual way.
    """
    sheet_data = data.find(b"<sheetData")
    end = data.rfind(b"</sheetData>")
    head = tag_end(data, sheet_data)
    tags = list(_ROW_TAG.finditer(data, head, end))
    rows: dict[int, RowSpan] = {}
    pieces = [data[:head]]
    moves: list[tuple[int, int]] = []
    length, last = head, 0
    in_order = True
    for index, tag in enumerate(tags):
        number = _NUMBER.match(tag[1])
        if number is None or not 1 <= int(number[1]) <= MAX_ROW or int(number[1]) in rows:
            return scan_sheet(data)
        row = int(number[1])
        in_order = in_order and row > last
        last = row
        stop = tags[index + 1].start() if index + 1 < len(tags) else end
        close = tag.end() if tag[1].endswith(b"/") else data.rfind(b"</row", tag.end(), stop)
        if close < 0:
            return scan_sheet(data)
        row_end = close if tag[1].endswith(b"/") else tag_end(data, close)
        rows[row] = RowSpan(row, tag.start(), tag.end(), row_end, {})
        if row in wanted:
            pieces.append(data[tag.start() : row_end])
            moves.append((row, tag.start() - length))
            length += row_end - tag.start()
    found = scan_sheet(b"".join((*pieces, _TAIL)))
    if len(found.rows) != len(moves):
        return scan_sheet(data)
    for row, shift in moves:
        rows[row] = _moved(found.rows[row], shift)
    return replace(found, data_end=end, rows=rows, in_order=in_order and found.in_order)


def _moved(row: RowSpan, shift: int) -> RowSpan:
    def span(old: Span | None) -> Span | None:
        return None if old is None else (old[0] + shift, old[1] + shift)

    def cell(old: CellSpan) -> CellSpan:
        return old._replace(
            start=old.start + shift,
            tag_end=old.tag_end + shift,
            end=old.end + shift,
            formula=span(old.formula),
            value=span(old.value),
            inline=span(old.inline),
        )

    return RowSpan(
        row.number,
        row.start + shift,
        row.tag_end + shift,
        row.end + shift,
        row.attributes,
        {col: cell(old) for col, old in row.cells.items()},
    )
