"""Why a cell of Calc shows an error; runs inside LibreOffice's Python.

Calc keeps the error value of a cell and drops its reason. So the formula of the cell is entered once more and
the functions it calls are heard. Where none of them refused, the cells with errors that it depends on follow.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from xlcalc.hosts.libreoffice.bridge import FunctionBridge
from xlcalc.hosts.libreoffice.cells import located
from xlcalc.hosts.libreoffice.identifiers import SERVICE
from xlcalc.hosts.libreoffice.reopen import array_around, mark_unchanged, with_open_sheet

ERROR_RESULT = 4
UNKNOWN_NAME = 525
MOST_CELLS = 200
OWN = "HD_"


def reason(document: Any, cell: Any, bridge: FunctionBridge) -> str:
    """The reason of the error in a cell, with the cell where it arises, or why there is no verdict in it."""
    if not cell.getError():
        own = document.Sheets.getByIndex(cell.getCellAddress().Sheet)
        formula = cell.getFormula().upper()
        ours = OWN in formula or SERVICE.upper() in formula
        heard = _heard(document, own, cell, bridge) if ours else []
        return f"{_name(cell)}: " + "\n".join(heard) if heard else f"{_name(cell)} shows no error."
    waiting: list[Any] = [cell]
    seen: set[str] = set()
    while waiting and len(seen) < MOST_CELLS:
        current = waiting.pop()
        name = _name(current)
        if name in seen:
            continue
        seen.add(name)
        own = document.Sheets.getByIndex(current.getCellAddress().Sheet)
        if current.getError() == UNKNOWN_NAME and own.isProtected():
            return f"{name}: {locked_sheets((own.Name,))}"
        heard = _heard(document, own, current, bridge)
        if heard:
            return f"{name}: " + "\n".join(heard)
        waiting += reversed(list(_failing_precedents(document, current)))
    return (
        f"No function of xlcalc refused anything in {_name(cell)} or in the cells it depends on: "
        "look at its own formula."
    )


def locked_sheets(names: tuple[str, ...]) -> str:
    """What to do about array formulas that a password keeps from being resolved."""
    return (
        f"array formulas on {', '.join(names)} show #NAME? because the sheet is protected with a password: "
        "take the protection off, save as .xlsx, and open the file again"
    )


def selected(document: Any) -> Any:
    """First cell of the selection."""
    area = document.getCurrentSelection()
    if hasattr(area, "getRangeAddresses"):
        area = area.getByIndex(0)
    address = area.getRangeAddress()
    sheet = document.Sheets.getByIndex(address.Sheet)
    return sheet.getCellByPosition(address.StartColumn, address.StartRow)


def _heard(document: Any, sheet: Any, cell: Any, bridge: FunctionBridge) -> list[str]:
    with _unnoticed(document), bridge.listening() as heard:
        with_open_sheet(sheet, lambda: _enter_again(sheet, cell))
        cell.getError()
    return list(dict.fromkeys(located(document, cell, name, error).reason for name, error in heard))


@contextmanager
def _unnoticed(document: Any) -> Iterator[None]:
    """No step of its own to undo, nothing to save, and no cell but the one that is read is computed."""
    modified, undo = document.isModified(), document.getUndoManager()
    had_steps = undo.isUndoPossible()
    if had_steps:
        undo.enterHiddenUndoContext()
    document.addActionLock()
    try:
        yield
    finally:
        document.removeActionLock()
        if had_steps:
            undo.leaveUndoContext()
        else:
            undo.clear()
        if not modified:
            mark_unchanged(document)


def _enter_again(sheet: Any, cell: Any) -> None:
    text = cell.getFormula()
    if text.startswith("{"):
        array_around(sheet, cell).setArrayFormula(text.strip("{}"))
    else:
        cell.setFormula(text)


def _failing_precedents(document: Any, cell: Any) -> Iterator[Any]:
    for address in cell.queryPrecedents(False).getRangeAddresses():
        sheet = document.Sheets.getByIndex(address.Sheet)
        area = sheet.getCellRangeByPosition(
            address.StartColumn, address.StartRow, address.EndColumn, address.EndRow
        )
        for failing in area.queryFormulaCells(ERROR_RESULT).getRangeAddresses():
            yield sheet.getCellByPosition(failing.StartColumn, failing.StartRow)


def _name(cell: Any) -> str:
    return str(cell.AbsoluteName).replace("$", "").lstrip("=")
