"""The window of Calc that the user looks at; runs inside LibreOffice's Python."""

from __future__ import annotations

from typing import Any

SPREADSHEET = "com.sun.star.sheet.SpreadsheetDocument"


def sheet_frame(context: Any) -> Any:
    """Frame of the spreadsheet in front, else of any that is open in a window, else None."""
    desktop = context.ServiceManager.createInstanceWithContext("com.sun.star.frame.Desktop", context)
    frames = [desktop.getFrames().getByIndex(n) for n in range(desktop.getFrames().getCount())]
    candidates = [desktop.getCurrentFrame(), *frames]
    return next((frame for frame in candidates if _shows_a_spreadsheet(frame)), None)


def _shows_a_spreadsheet(frame: Any) -> bool:
    if frame is None or frame.getController() is None or not frame.getContainerWindow().isVisible():
        return False
    model = frame.getController().getModel()
    return model is not None and bool(model.supportsService(SPREADSHEET))
