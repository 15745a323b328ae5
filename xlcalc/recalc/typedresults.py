"""Values typed over formulas of a template: a verdict or figure that follows from nothing.

Names that begin with `RESULTS` are the areas in which a template has formulas. A workbook without them is not
affected.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from xlcalc.recalc.cellnames import CellRange, cell_name
from xlcalc.recalc.evaluation.content import BookContent, Constant, SheetContent
from xlcalc.recalc.inputs import FAULT, Fault, areas_of, quoted
from xlcalc.schema.values import CellError

RESULTS: Final = "result_cells_"
TYPED_OVER: Final = 'LEFT("values typed over formulas",0)'
"""Formula of the cell that is given the sentence of the first of them."""
NEVER_BLANK: Final = (FAULT, "study_verdict", "pcc_verdict")
"""Names of cells that no template leaves without a formula."""
_LONGEST: Final = 40


def typed_over(book: BookContent) -> tuple[Fault, ...]:
    """Every constant that stands where the template has a formula, and verdict cells that were emptied."""
    own = {name: text for (sheet, name), text in book.names.items() if not sheet}
    areas: dict[str, list[CellRange]] = {}
    for name, text in own.items():
        if name.startswith(RESULTS):
            for area in areas_of(text):
                areas.setdefault(area.sheet.casefold(), []).append(area.cells)
    if not areas:
        return ()
    found = (
        fault
        for sheet in book.sheets
        if sheet.name.casefold() in areas
        for fault in _faults(sheet, areas[sheet.name.casefold()], own)
    )
    return tuple(dict.fromkeys(found))


def _faults(sheet: SheetContent, areas: list[CellRange], names: Mapping[str, str]) -> Iterator[Fault]:
    rows: dict[int, list[CellRange]] = {}
    for area in areas:
        for row in range(area.first_row, area.last_row + 1):
            rows.setdefault(row, []).append(area)
    content = sheet.filled()
    filled = {(formula.row, formula.col) for formula in content.formulas}
    for row, col, value in content.constants:
        filled.add((row, col))
        if value != "" and any(area.first_col <= col <= area.last_col for area in rows.get(row, ())):
            yield _fault(sheet.name, row, col, f"holds {_shown(value)}, typed over a formula of the template")
    for name in NEVER_BLANK:
        for at in areas_of(names.get(name, "")):
            row, col = at.cells.first_row, at.cells.first_col
            if at.sheet.casefold() == sheet.name.casefold() and (row, col) not in filled:
                yield _fault(sheet.name, row, col, "was emptied; the template has a formula there")


def _fault(sheet: str, row: int, col: int, what: str) -> Fault:
    place = f"{quoted(sheet)}!{cell_name(row, col)}"
    return Fault(place, f"{place} {what}")


def _shown(value: Constant) -> str:
    if isinstance(value, CellError):
        return value.code.value
    if isinstance(value, str):
        return repr(value if len(value) <= _LONGEST else value[:_LONGEST] + "...")
    return str(value).upper() if isinstance(value, bool) else f"{value:.15g}"
