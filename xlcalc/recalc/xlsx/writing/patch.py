"""Writing cached values into a sheet's bytes; everything that is not such a value stays as it was."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

from xlcalc.core.errors import InputError
from xlcalc.files.errors import UnsafePartError
from xlcalc.recalc.cellnames import AreaIndex, CellRange, Position, cell_name
from xlcalc.recalc.xlsx.cachedvalues import decode, encode, encode_number, same_value, unwritable
from xlcalc.recalc.xlsx.cells import PLAIN_CELL, FormulaCell
from xlcalc.recalc.xlsx.rowscan import scan_rows
from xlcalc.recalc.xlsx.sheetscan import SheetScan
from xlcalc.recalc.xlsx.writing.edits import (
    Edit,
    apply_edits,
    cell_type,
    rewritten_cell,
    value_element,
    with_attribute,
)
from xlcalc.recalc.xlsx.writing.spills import CellValue, member_edits

_NOT_NAMED: Any = object()


@dataclass(frozen=True)
class SheetPatch:
    """New cached values of one sheet.

    Parameters
    ----------
    values : mapping of (row, col) to float, str, bool, CellError or None
        For formula cells and for cells inside the range of an array formula. None removes the value and keeps
        the cell. A cell that is not named keeps what it has.
    spills : mapping of (row, col) to CellRange
        New range of the dynamic arrays that changed their size, by their formula cell. Cells of the old range
        that are not in the new one lose their value. A dynamic array that is not named keeps its range, as
        every other array formula does.
    """

    values: Mapping[Position, CellValue] = field(default_factory=dict)
    spills: Mapping[Position, CellRange] = field(default_factory=dict)


def patch_sheet(
    data: bytes, formulas: list[FormulaCell], scan: SheetScan | None, patch: SheetPatch, sheet: str = ""
) -> bytes:
    """The sheet with new cached values.

    Only the attribute ``t`` and the element ``<v>`` of the named cells change, and the ``ref`` of dynamic
    arrays in ``patch.spills``. A cell whose value is the same keeps its bytes.

    Parameters
    ----------
    data : bytes
        The sheet's XML in UTF-8.
    formulas, scan
        What `scan_formulas` returned for it.
    patch : SheetPatch
        New values.
    sheet : str
        Name of the sheet, for messages.

    Raises
    ------
    InputError
        For a value that no cell can hold, for a cell that holds no formula and belongs to no array, for a new
        range of a formula that is no dynamic array, and where an array would cover something.
    """
    by_position = {(cell.row, cell.col): cell for cell in formulas}
    for position, value in patch.values.items():
        if type(value) is float and isfinite(value):
            continue
        if reason := unwritable(value):
            raise InputError(
                f"{sheet}!{cell_name(*position)}", value, f"a value that a cell can hold ({reason})"
            )
    resized = _resized(by_position, patch, sheet)
    members = _members(by_position, patch, resized, sheet)
    plain = scan is None
    if scan is None:
        if not members and not resized:
            return _patched_plainly(data, formulas, patch.values, [])
        scan = scan_rows(data, _rows_of(members, resized))
    members = {
        place: value for place, value in members.items() if value is not None or not _written(scan, place)
    }
    old_ranges = AreaIndex(cell.ref for cell in formulas if cell.kind == "array" and cell.ref is not None)
    _check_room(scan, resized, old_ranges, sheet)
    edits = member_edits(data, scan, members, old_ranges)
    if plain:
        edits.extend(_formula_edits(data, scan, {p: by_position[p] for p in resized}, patch.values, resized))
        others = {position: value for position, value in patch.values.items() if position not in resized}
        return _patched_plainly(data, formulas, others, edits)
    edits.extend(_formula_edits(data, scan, by_position, patch.values, resized))
    return apply_edits(data, edits) if edits else data


def _written(scan: SheetScan, position: Position) -> bool:
    """Whether a cell holds a formula of its own."""
    row = scan.rows.get(position[0])
    cell = row.cells.get(position[1]) if row else None
    return cell is not None and cell.formula is not None and not cell.marks_member


def _rows_of(members: Mapping[Position, CellValue], resized: Mapping[Position, CellRange]) -> set[int]:
    rows = {row for row, _ in members}
    for area in resized.values():
        rows.update(range(area.first_row, area.last_row + 1))
    return rows


def _resized(
    formulas: Mapping[Position, FormulaCell], patch: SheetPatch, sheet: str
) -> dict[Position, CellRange]:
    resized = {}
    for position, area in patch.spills.items():
        cell = formulas.get(position)
        if cell is None or cell.kind != "array" or area[:2] != position:
            raise InputError(
                f"{sheet}!{cell_name(*position)}", area.name, "the range of an array formula there"
            )
        if area == cell.ref:
            continue
        if position not in patch.values:
            raise InputError(
                f"{sheet}!{cell_name(*position)}", None, "a value for the formula cell of a new range"
            )
        if not cell.dynamic:
            raise InputError(
                f"{sheet}!{cell_name(*position)}",
                area.name,
                "its own range: this array formula has a fixed size",
            )
        resized[position] = area
    return resized


def _check_room(
    scan: SheetScan, resized: Mapping[Position, CellRange], old_ranges: AreaIndex, sheet: str
) -> None:
    for anchor, area in resized.items():
        rows = range(area.first_row, area.last_row + 1)
        for number in rows if area.rows < len(scan.rows) else [n for n in scan.rows if n in rows]:
            row = scan.rows.get(number)
            for col, cell in row.cells.items() if row else ():
                if not area.contains(number, col) or (number, col) == anchor or cell.is_blank:
                    continue
                written = cell.formula is not None and not cell.marks_member
                if written or not old_ranges.covers(number, col):
                    raise InputError(
                        f"{sheet}!{cell_name(*anchor)}",
                        area.name,
                        f"a range of blank cells ({cell_name(number, col)} holds something)",
                    )


def _members(
    formulas: Mapping[Position, FormulaCell],
    patch: SheetPatch,
    resized: Mapping[Position, CellRange],
    sheet: str,
) -> dict[Position, CellValue]:
    areas = [
        resized.get(cell.position) or cell.ref
        for cell in formulas.values()
        if cell.kind == "array" and (cell.ref or cell.position in resized)
    ]
    covered = AreaIndex(area for area in areas if area is not None)
    members: dict[Position, CellValue] = {}
    for position, area in resized.items():
        old = formulas[position].ref
        if old is None:
            continue
        for row in range(old.first_row, old.last_row + 1):
            for col in range(old.first_col, old.last_col + 1):
                inside = formulas.get((row, col))
                if not area.contains(row, col) and (inside is None or inside.kind == "normal"):
                    members[row, col] = None
    for position, value in patch.values.items():
        if position in formulas:
            continue
        if not covered.covers(*position):
            raise InputError(
                f"{sheet}!{cell_name(*position)}",
                value,
                "a cell with a formula or inside an array formula's range",
            )
        members[position] = value
    return members


def _patched_plainly(
    data: bytes, formulas: list[FormulaCell], values: Mapping[Position, CellValue], others: list[Edit]
) -> bytes:
    """New bytes of a plainly written sheet, whose cells `PLAIN_CELL` matches again, other edits woven in."""
    result = bytearray()
    copied = 0
    waiting = sorted(others, key=lambda edit: (edit.start, edit.end))[::-1]
    match_at = PLAIN_CELL.match
    for cell in formulas:
        value = values.get((cell[0], cell[1]), _NOT_NAMED)
        if value is _NOT_NAMED:
            continue
        old_type, old_text = cell.type, cell.text
        plain_number = type(value) is float and not old_type
        if plain_number:
            text = encode_number(value)
            if old_text is not None and (old_text == text.decode() or decode("", old_text) == value):
                continue
            element = b"<v>%b</v>" % text
        elif (old_text is None) if value is None else same_value(cell.cached, value):
            continue
        while waiting and waiting[-1].start <= cell.start:
            edit = waiting.pop()
            result += data[copied : edit.start]
            result += edit.new
            copied = edit.end
        match = match_at(data, cell.start)
        if match is None:
            raise UnsafePartError(f"the cell {cell.name} cannot be read again")
        if not plain_number:
            encoded = None if value is None else encode(value)
            element = value_element(b"", encoded)
            result += data[copied : match.start(3)]
            result += with_attribute(match[3], b"t", cell_type(encoded, old_type))
            copied = match.end(3)
        if match[7] is None:
            start = end = match.start(6)
        else:
            start, end = match.span(7)
        result += data[copied:start]
        result += element
        copied = end
    if not result and not waiting:
        return data
    for edit in reversed(waiting):
        result += data[copied : edit.start]
        result += edit.new
        copied = edit.end
    result += data[copied:]
    return bytes(result)


def _formula_edits(
    data: bytes,
    scan: SheetScan,
    formulas: Mapping[Position, FormulaCell],
    values: Mapping[Position, CellValue],
    resized: Mapping[Position, CellRange],
) -> Iterator[Edit]:
    for position, cell in formulas.items():
        area = resized.get(position)
        named = position in values
        value = values.get(position)
        unchanged = not named or ((cell.text is None) if value is None else same_value(cell.cached, value))
        if unchanged and area is None:
            continue
        span = scan.rows[cell.row].cells[cell.col]
        encoded = None if value is None else encode(value)
        new_ref = area.name.encode() if area else None
        yield Edit(span.start, span.end, rewritten_cell(data, span, scan.prefix, encoded, new_ref))
