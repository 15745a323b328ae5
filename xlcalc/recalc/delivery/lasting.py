"""Which changes a recalculated workbook with calls of our functions needs to show its results everywhere."""

from __future__ import annotations

from collections.abc import Mapping

from xlcalc.recalc.cellnames import CellRange, Position
from xlcalc.recalc.delivery.constants import as_constants
from xlcalc.recalc.delivery.links import ADD_IN, plain_links
from xlcalc.recalc.delivery.settings import kept_on_opening
from xlcalc.recalc.evaluation.calculation import Calculation
from xlcalc.recalc.evaluation.evaluated import Evaluated
from xlcalc.recalc.xlsx.archive.xmlparts import to_utf8
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.recalc.xlsx.writing.edits import Changes

SETTINGS_NOTE = (
    "the workbook asked Excel to compute all of it on opening, which gives #NAME? for calls of our functions "
    "where they are missing; its settings of the calculation no longer ask for it"
)
VOLATILE_NOTE = (
    "Excel computes formulas with NOW, TODAY, RAND, OFFSET, INDIRECT, CELL or INFO on every opening, and "
    "with them what depends on them: calls of our functions are then #NAME? where these are missing; "
    "recalc --values writes a copy with values in place of the calls"
)


def lasting(
    package: WorkbookPackage,
    calculation: Calculation,
    outcome: Evaluated,
    functions: Mapping[str, object],
    *,
    constants: bool = False,
) -> Changes:
    """Changes of parts of a workbook beyond the values of its formulas; none where it calls none of ours.

    Parameters
    ----------
    package : WorkbookPackage
    calculation, outcome
        Of its formulas.
    functions : mapping
        Ours by name.
    constants : bool
        Put values in place of the formulas that call ours; a formula that could not be evaluated stays.
    """
    changes = Changes()
    if not calculation.holds_own_calls:
        return changes
    container, workbook = package.container, package.workbook
    plain_links(container, workbook, functions, changes, named=calculation.mentions(ADD_IN))
    if constants:
        cells: dict[str, dict[Position, CellRange]] = {}
        for item in calculation.own_cells(outcome.refused):
            area = outcome.spills.get(item.identity, item.area)
            part = package.sheet(item.sheet).entry.part
            cells.setdefault(part, {})[item.source.row, item.source.col] = area
        as_constants(container, workbook, cells, changes)
    data = to_utf8(container.read(workbook.part))[0]
    if kept_on_opening(data) != data:
        changes.change(workbook.part, kept_on_opening)
        changes.notes.append(SETTINGS_NOTE)
    if calculation.holds_volatile_calls and not constants:
        changes.notes.append(VOLATILE_NOTE)
    return changes
