"""Values typed over formulas of a template: a verdict or figure that follows from nothing.

A formula that refers to nothing, such as ``="PASS"`` or ``=10+2``, is such a value too, and so is one over
the verdict on the whole that does not look at the faults of the inputs.

Names that begin with `RESULTS` are the areas in which a template has formulas. A workbook without them is not
affected.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Final

from xlcalc.recalc.cellnames import CellRange, Position, cell_name
from xlcalc.recalc.evaluation.content import BookContent, Constant, SheetContent
from xlcalc.recalc.inputs import FAULT, MERGED, Fault, areas_of, quoted
from xlcalc.schema.values import CellError

RESULTS: Final = "result_cells_"
TYPED_OVER: Final = 'LEFT("values typed over formulas",0)'
"""Formula of the cell that is given the sentence of the first of them."""
NEVER_BLANK: Final = (FAULT, "study_verdict", "pcc_verdict")
"""Names of cells that no template leaves without a formula."""
_LONGEST: Final = 40
_STRING: Final = re.compile(r'"(?:[^"]|"")*"')
_REFERENCE: Final = re.compile(r"(?<![\w.])(?!(?:TRUE|FALSE)\b)[A-Za-z_$\\'][\w.$]*(?![\w.$]*\s*\()")
_VALUE: Final = re.compile(r"\d|PASS|FAIL")
_OF_TEMPLATES: Final = ("0", "1", MERGED, TYPED_OVER)
"""Formulas of templates that have no reference."""


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
    for formula in content.formulas:
        inside = any(area.first_col <= formula.col <= area.last_col for area in rows.get(formula.row, ()))
        if inside and _follows_from_nothing(formula.text):
            shown = formula.text if len(formula.text) <= _LONGEST else formula.text[:_LONGEST] + "..."
            what = f"holds ={shown}, which follows from no input; the template has another formula there"
            yield _fault(sheet.name, formula.row, formula.col, what)
    yield from _verdict_faults(sheet.name, {(f.row, f.col): f.text for f in content.formulas}, filled, names)


def _verdict_faults(
    sheet: str, formulas: Mapping[Position, str], filled: set[Position], names: Mapping[str, str]
) -> Iterator[Fault]:
    for name in NEVER_BLANK:
        for at in areas_of(names.get(name, "")):
            row, col = at.cells.first_row, at.cells.first_col
            if at.sheet.casefold() != sheet.casefold():
                continue
            if (row, col) not in filled:
                yield _fault(sheet, row, col, "was emptied; the template has a formula there")
            elif name != FAULT and FAULT not in formulas.get((row, col), FAULT).casefold():
                what = (
                    "holds a formula that does not look at the faults of the inputs; it is not the template's"
                )
                yield _fault(sheet, row, col, what)


def _follows_from_nothing(formula: str) -> bool:
    """Whether a formula is a value with an equals sign before it.

    Examples
    --------
    >>> [_follows_from_nothing(text) for text in ('"PASS"', 'IF(1=1,"PASS",0)', "10+2", "LOG10(5)")]
    [True, True, True, True]
    >>> [_follows_from_nothing(text) for text in ("$D$9", 'IF(fault="","PASS","")', "HD_VERSION()", '"text"')]
    [False, False, False, False]
    """
    bare = _STRING.sub("", formula)
    if formula in _OF_TEMPLATES or _REFERENCE.search(bare):
        return False
    return _VALUE.search(re.sub(r"[A-Za-z_][\w.]*\s*\(", "(", formula)) is not None


def _fault(sheet: str, row: int, col: int, what: str) -> Fault:
    place = f"{quoted(sheet)}!{cell_name(row, col)}"
    return Fault(place, f"{place} {what}")


def _shown(value: Constant) -> str:
    if isinstance(value, CellError):
        return value.code.value
    if isinstance(value, str):
        return repr(value if len(value) <= _LONGEST else value[:_LONGEST] + "...")
    return str(value).upper() if isinstance(value, bool) else f"{value:.15g}"
