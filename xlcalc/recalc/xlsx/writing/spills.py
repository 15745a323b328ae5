"""Cells of array results: writing the members, adding cells and rows that are missing, clearing old ones."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Mapping

from xlcalc.core.errors import InputError
from xlcalc.files.errors import UnsafePartError
from xlcalc.recalc.cellnames import (
    AreaIndex,
    CellRange,
    Position,
    cell_name,
    column_letters,
    parse_range,
)
from xlcalc.recalc.xlsx.cachedvalues import decode, encode, same_value
from xlcalc.recalc.xlsx.sheetscan import CellSpan, RowSpan, SheetScan
from xlcalc.recalc.xlsx.writing.edits import (
    Edit,
    cell_type,
    rewritten_cell,
    value_element,
    with_attribute,
)
from xlcalc.schema.values import CellError

CellValue = float | str | bool | CellError | None

_DIMENSION = re.compile(rb"""<(?:[\w.-]+:)?dimension\s+ref\s*=\s*["']([^"'<]*)["']""")


def member_edits(
    data: bytes, scan: SheetScan, members: Mapping[Position, CellValue], replaceable: AreaIndex
) -> list[Edit]:
    """Edits that write the values of array members.

    Parameters
    ----------
    data, scan
        The sheet and its scan.
    members : mapping of position to value
        None clears the cell and keeps its style.
    replaceable : AreaIndex
        Ranges whose present values are old results; content anywhere else blocks the array.

    Raises
    ------
    InputError
        Where a cell outside ``replaceable`` holds something.
    UnsafePartError
        Where cells must be added to a sheet whose rows or cells are out of order.
    """
    by_row: dict[int, dict[int, CellValue]] = defaultdict(dict)
    for position, value in members.items():
        by_row[position[0]][position[1]] = value
    edits: list[Edit] = []
    added: list[Position] = []
    known_rows = sorted(scan.rows)
    for number in sorted(by_row):
        wanted = by_row[number]
        row = scan.rows.get(number)
        missing = []
        for col in sorted(wanted):
            cell = row.cells.get(col) if row else None
            if cell is None:
                if wanted[col] is not None:
                    missing.append(col)
                continue
            edit = _changed(data, scan, cell, wanted[col])
            if edit is None:
                continue
            if not cell.is_blank and not replaceable.covers(number, col):
                raise InputError(cell_name(number, col), "an array result over its content", "a blank cell")
            edits.append(edit)
        if missing:
            added.extend((number, col) for col in missing)
            edits.extend(_insertions(data, scan, known_rows, number, row, {c: wanted[c] for c in missing}))
    if added:
        if not scan.in_order:
            raise UnsafePartError("its rows or cells are out of order, so no cell can be added")
        edits.extend(_wider_dimension(data, added))
    return edits


def _changed(data: bytes, scan: SheetScan, cell: CellSpan, value: CellValue) -> Edit | None:
    if value is None:
        if cell.is_blank and cell.value is None:
            return None
    elif cell.inline is None and same_value(decode(cell.attributes.get("t", ""), cell.value_text), value):
        return None
    encoded = None if value is None else encode(value)
    return Edit(cell.start, cell.end, rewritten_cell(data, cell, scan.prefix, encoded, left=value is None))


def _insertions(
    data: bytes,
    scan: SheetScan,
    known_rows: list[int],
    number: int,
    row: RowSpan | None,
    values: Mapping[int, CellValue],
) -> Iterator[Edit]:
    p = scan.prefix
    new = {col: _new_cell(scan, number, row, col, value) for col, value in values.items()}
    if row is None:
        index = bisect_right(known_rows, number)
        place = scan.rows[known_rows[index]].start if index < len(known_rows) else scan.data_end
        cells = b"".join(new[col] for col in sorted(new))
        yield Edit(place, place, b'<%brow r="%d">%b</%brow>' % (p, number, cells, p))
        return
    tag = with_attribute(data[row.start : row.tag_end], b"spans", None)
    if row.self_closing:
        cells = b"".join(new[col] for col in sorted(new))
        yield Edit(row.start, row.end, tag[:-2].rstrip() + b">" + cells + b"</%brow>" % p)
        return
    if tag != data[row.start : row.tag_end]:
        yield Edit(row.start, row.tag_end, tag)
    present = sorted(row.cells)
    for col in sorted(new):
        index = bisect_right(present, col)
        if index < len(present):
            place = row.cells[present[index]].start
        else:
            place = row.cells[present[-1]].end if present else row.tag_end
        yield Edit(place, place, new[col])


def _new_cell(scan: SheetScan, number: int, row: RowSpan | None, col: int, value: CellValue) -> bytes:
    assert value is not None
    encoded = encode(value)
    type_ = cell_type(encoded, "")
    style = _inherited_style(scan, row, col)
    return b'<%bc r="%b%d"%b%b>%b</%bc>' % (
        scan.prefix,
        column_letters(col).encode(),
        number,
        b' s="%b"' % style.encode() if style else b"",
        b' t="%b"' % type_ if type_ else b"",
        value_element(scan.prefix, encoded),
        scan.prefix,
    )


def _inherited_style(scan: SheetScan, row: RowSpan | None, col: int) -> str:
    """Style that the empty place shows now: that of its row, else of its column."""
    if row is not None and row.attributes.get("customFormat") in ("1", "true"):
        return _style_number(row.attributes.get("s", ""))
    for first, last, style in scan.column_styles:
        if first <= col <= last:
            return _style_number(style)
    return ""


def _style_number(text: str) -> str:
    return text if text.isascii() and text.isdigit() and text != "0" else ""


def _wider_dimension(data: bytes, added: list[Position]) -> Iterator[Edit]:
    match = _DIMENSION.search(data)
    old = parse_range(match[1].decode(errors="replace")) if match else None
    if match is None or old is None:
        return
    new = CellRange(
        min(old.first_row, *(row for row, _ in added)),
        min(old.first_col, *(col for _, col in added)),
        max(old.last_row, *(row for row, _ in added)),
        max(old.last_col, *(col for _, col in added)),
    )
    if new != old:
        yield Edit(match.start(1), match.end(1), new.name.encode())
