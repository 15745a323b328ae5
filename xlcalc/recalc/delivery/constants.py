"""Values in place of the formulas that call our functions, for a workbook that leaves the house."""

from __future__ import annotations

from functools import partial

from xlcalc.recalc.cellnames import CellRange, Position
from xlcalc.recalc.xlsx.archive.container import Container
from xlcalc.recalc.xlsx.sheets import CONTENT_TYPES_PART, WorkbookPart
from xlcalc.recalc.xlsx.sheetscan import scan_sheet
from xlcalc.recalc.xlsx.writing.edits import Changes, Edit, apply_edits, with_attribute

NOTE = "{} with calls of our functions hold{} the value in place of the formula"


def as_constants(
    container: Container,
    workbook: WorkbookPart,
    cells: dict[str, dict[Position, CellRange]],
    changes: Changes,
) -> None:
    """Have formulas replaced by their values.

    Parameters
    ----------
    container : Container
    workbook : WorkbookPart
    cells : dict of sheet part to dict of (row, col) to CellRange
        Formula cells, and the cells that hold the result of each.
    changes : Changes
        Takes what is to be done.
    """
    for part, areas in cells.items():
        changes.change(part, partial(without_formulas, areas=areas))
    count = sum(map(len, cells.values()))
    changes.notes.append(NOTE.format(f"{count:,} cell{'' if count == 1 else 's'}", "s" if count == 1 else ""))
    for chain in workbook.relationships:
        listing = container.find(chain.target) if chain.kind == "calcChain" else None
        if (
            count and listing
        ):  # the order of calculation names cells that are formulas no more; Excel makes it anew
            types = container.find(CONTENT_TYPES_PART) or CONTENT_TYPES_PART
            changes.take_out(listing, types, workbook.rels_part, chain.id)


def without_formulas(sheet: bytes, *, areas: dict[Position, CellRange]) -> bytes:
    """A sheet in which cells hold their value in place of their formula.

    Parameters
    ----------
    sheet : bytes
        In UTF-8.
    areas : dict of (row, col) to CellRange
        As for `as_constants`.
    """
    rows = scan_sheet(sheet).rows
    edits: list[Edit] = []
    for (row, col), area in areas.items():
        for number in range(area.first_row, area.last_row + 1):
            cells = rows[number].cells if number in rows else {}
            for column in range(area.first_col, area.last_col + 1):
                cell = cells.get(column)
                anchor = (number, column) == (row, col)
                if cell is None or cell.formula is None or not (anchor or cell.marks_member):
                    continue
                tag = sheet[cell.start : cell.tag_end]
                plain = with_attribute(with_attribute(tag, b"cm", None), b"vm", None)
                edits.append(Edit(cell.start, cell.tag_end, plain))
                edits.append(Edit(*cell.formula, b""))
    return apply_edits(sheet, edits)
