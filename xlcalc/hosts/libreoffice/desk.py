"""Messages of the add-in to the user of a window; runs inside LibreOffice's Python."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from xlcalc.hosts.libreoffice.bridge import FunctionBridge
from xlcalc.hosts.libreoffice.progress import Progress, QuietLine, StatusBar, sheet_frame
from xlcalc.hosts.libreoffice.reason import locked_sheets, reason, selected

TITLE = "xlcalc"
WARNING_BAR = 2


def bridge(context: Any, when_idle: Callable[[Callable[[], None]], None]) -> FunctionBridge:
    """The bridge, with progress in the status bar."""
    return FunctionBridge(Progress(QuietLine(StatusBar(context)), when_idle))


def reason_of_selected(context: Any, functions: FunctionBridge) -> str:
    """Reason of the error in the cell that is selected in the window in front."""
    frame = sheet_frame(context)
    if frame is None:
        return "No spreadsheet is open."
    document = frame.getController().getModel()
    return reason(document, selected(document), functions)


def reason_in(document: Any, sheet: str, cell: str, functions: FunctionBridge) -> str:
    """Reason of the error in a cell."""
    area = document.Sheets.getByName(sheet).getCellRangeByName(cell)
    return reason(document, area.getCellByPosition(0, 0), functions)


def warn_of_locked_sheets(document: Any, names: tuple[str, ...]) -> None:
    """Show above the sheet which array formulas could not be resolved, where there is a window."""
    controller = document.getCurrentController()
    if names and controller is not None:
        text = locked_sheets(names)
        controller.appendInfobar("xlcalc.locked", TITLE, text, WARNING_BAR, (), True)
