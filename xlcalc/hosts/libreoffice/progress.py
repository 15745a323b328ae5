"""What a long recalculation is at, in the status bar of Calc; runs inside LibreOffice's Python.

Calc tells neither how many cells it will compute nor when it has done so. Its queue of events is worked off
after the recalculation, so an event put there at the first call marks the end. Without a window, and while a
document is being loaded, Calc has no status bar of a document and nothing is shown.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, Protocol

LONG_SECONDS = 1.0


class StatusLine(Protocol):
    """A line of text that the user sees."""

    def show(self, text: str) -> None: ...

    def clear(self) -> None: ...


class Progress:
    """Follows the calls of one recalculation and shows progress where they take long.

    Parameters
    ----------
    line : StatusLine
        Where the text goes.
    when_idle : callable
        Takes what to do once the recalculation is over.
    clock : callable, optional
        Seconds.
    """

    def __init__(
        self,
        line: StatusLine,
        when_idle: Callable[[Callable[[], None]], None],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._line, self._when_idle, self._clock = line, when_idle, clock
        self._since: float | None = None
        self._count = 0
        self._shown = False
        self._longest: dict[str, float] = {}

    def run(self, name: str, work: Callable[[], Any]) -> Any:
        """Do one call; its name is shown before it where the recalculation or this function takes long."""
        begin = self._clock()
        if self._since is None:
            self._since, self._count = begin, 0
            self._when_idle(self._over)
        spent = begin - self._since
        if max(spent, self._longest.get(name, 0.0)) >= LONG_SECONDS:
            self._shown = True
            self._line.show(f"xlcalc: computing {name} ({self._count} calls done, {spent:.0f} s)")
        try:
            return work()
        finally:
            self._count += 1
            self._longest[name] = max(self._longest.get(name, 0.0), self._clock() - begin)

    def _over(self) -> None:
        self._since = None
        if self._shown:
            self._shown = False
            self._line.clear()


class StatusBar:
    """The status bar of the window in front.

    The indicator is made with a factory that does not work off events: with the usual one the user could edit
    a cell in the middle of its recalculation. An indicator does not keep its factory alive.
    """

    def __init__(self, context: Any) -> None:
        self._context = context
        self._indicator: Any = None
        self._factory: Any = None

    def show(self, text: str) -> None:
        if self._indicator is None:
            frame = sheet_frame(self._context)
            if frame is None:
                return
            self._factory = self._context.ServiceManager.createInstanceWithArgumentsAndContext(
                "com.sun.star.task.StatusIndicatorFactory", (frame, True, True), self._context
            )
            self._indicator = self._factory.createStatusIndicator()
            self._indicator.start(text, 0)
        self._indicator.setText(text)

    def clear(self) -> None:
        if self._indicator is not None:
            self._indicator.end()
            self._indicator = self._factory = None


class QuietLine:
    """A line that gives up where the program refuses it: showing progress must not cost a value."""

    def __init__(self, line: StatusLine) -> None:
        self._line: StatusLine | None = line

    def show(self, text: str) -> None:
        self._try(lambda line: line.show(text))

    def clear(self) -> None:
        self._try(lambda line: line.clear())

    def _try(self, work: Callable[[StatusLine], None]) -> None:
        if self._line is not None:
            try:
                work(self._line)
            except Exception:
                self._line = None


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
