"""Values of an evaluated workbook, and what makes them uncertain where the formulas alone do not show it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from xlcalc.recalc.cellnames import CellRange, cell_name
from xlcalc.recalc.evaluation.content import ArrayMark
from xlcalc.recalc.evaluation.dependents import Cell, Node
from xlcalc.recalc.evaluation.engine import Engine, EngineValue, Unfit
from xlcalc.recalc.evaluation.feeding.formulas import Formulas
from xlcalc.recalc.evaluation.feeding.prepared import Prepared
from xlcalc.recalc.evaluation.formula.pattern import split_pattern
from xlcalc.recalc.evaluation.library.values import Uncertain, text_number
from xlcalc.recalc.evaluation.refusals import Refusals, touch
from xlcalc.recalc.evaluation.sheetvalues import SheetValues
from xlcalc.recalc.xlsx.cachedvalues import unwritable
from xlcalc.recalc.xlsx.gridvalues import GridValues
from xlcalc.schema.values import CellError, ErrorCode

Stored = float | str | bool | CellError


@dataclass
class Evaluated:
    """Values by sheet and cell of what is certain, new areas of arrays, reasons of what is refused.

    `errors` numbers the formulas of plain sheets that show an error value.
    """

    values: dict[str, dict[tuple[int, int], Stored] | GridValues] = field(default_factory=dict)
    spills: dict[int, CellRange] = field(default_factory=dict)
    refused: dict[int, str] = field(default_factory=dict)
    errors: dict[str, list[int]] = field(default_factory=dict)


def positions(area: CellRange) -> Iterator[tuple[int, int]]:
    """Rows and columns of an area, row by row."""
    for row in range(area.first_row, area.last_row + 1):
        for col in range(area.first_col, area.last_col + 1):
            yield row, col


def store(
    item: Prepared,
    area: CellRange,
    values: SheetValues,
    stored: dict[tuple[int, int], Stored],
    *,
    sized: bool,
) -> str:
    """Take over the values of one formula; returns why they cannot be stored, or ``#VALUE!`` if shown.

    `sized`: the formula is a call of ours, whose array has its own size.
    """
    if area.first_row == area.last_row and area.first_col == area.last_col:
        found = [values.value(area.first_row, area.first_col)]
    else:
        found = values.every(area)
        if item.source.mark is ArrayMark.ARRAY and not sized:
            found = found[:1] * area.area
    problem = ""
    for position, value in zip(positions(area), found, strict=True):
        if isinstance(value, float):
            stored[position] = value
        elif value is None:
            stored[position] = 0.0
        elif isinstance(value, Unfit):
            return value.kind
        else:
            stored[position] = value
            problem = problem or doubt(value)
    return problem


def refuse_without_array(prepared: Formulas, refusals: Refusals, spills: Mapping[int, CellRange]) -> None:
    """Refuse A1# of a cell without an array of several values: programs show it differently."""
    filled = {
        (prepared[i].sheet, area.first_row, area.first_col) for i, area in spills.items() if area.area > 1
    }
    for item in prepared:
        if not item.compiled.anchors:
            continue
        cells = split_pattern(item.source.text)[1]
        for anchor in item.compiled.anchors:
            area = anchor.at(cells, item.source.row)
            if (anchor.sheet, area.first_row, area.first_col) not in filled:
                refusals.add(item.identity, "the array (A1#) of a cell that has none")


def refuse_overlapping(prepared: Formulas, refusals: Refusals, spills: Mapping[int, CellRange]) -> None:
    """Refuse dynamic arrays that grew into the old cells of a refused array."""
    grown = [i for i, area in spills.items() if area != prepared[i].area]
    kept_arrays = [
        item for item in (prepared[i] for i in refusals.reasons) if item.source.mark is not ArrayMark.PLAIN
    ]
    for identity in grown:
        sheet, area = prepared[identity].sheet, spills[identity]
        for other in kept_arrays:
            if other.identity != identity and touch((sheet, area), (other.sheet, other.area)):
                refusals.add(identity, f"its array would cover cells of {other.address}")


def refuse_regional(
    engine: Engine, refusals: Refusals, nodes: Mapping[int, Node], shown_as_errors: list[Prepared]
) -> None:
    """Refuse #VALUE! where a cell that the formula uses holds text that may be read as a number."""
    seen: dict[Cell, bool] = {}
    for item in shown_as_errors:
        for sheet, used in nodes[item.identity].areas:
            cell = (sheet, *used[:2])
            if used.area == 1 and cell not in seen:
                [[value]] = engine.rows(sheet, *used)
                seen[cell] = isinstance(value, str) and _may_be_number(value)
            if used.area == 1 and seen[cell]:
                refusals.add(
                    item.identity,
                    f"{sheet}!{cell_name(*used[:2])} holds text that may or may not be a number, "
                    "depending on the regional settings",
                )


def _may_be_number(text: str) -> bool:
    try:
        return text_number(text) is not None
    except Uncertain:
        return True


def doubt(value: EngineValue) -> str:
    """Why a text cannot be stored; #VALUE! for that error."""
    if isinstance(value, str):
        return unwritable(value)
    return "#VALUE!" if isinstance(value, CellError) and value.code is ErrorCode.VALUE else ""
