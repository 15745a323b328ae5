"""A limit on the time that one workbook may take."""

from __future__ import annotations

import time

from xlcalc.progress import Progress


class TimeLimitError(Exception):
    """A recalculation took longer than it may; nothing was written."""

    def __init__(self, seconds: float) -> None:
        super().__init__(f"it takes longer than the {seconds:g} s allowed; nothing was changed")
        self.seconds = seconds


def within(seconds: float, progress: Progress | None = None) -> Progress:
    """A progress callback for `recalculate` that stops the evaluation after a time.

    The clock starts now. The evaluation is looked at about twenty times a second; a single call of a
    worksheet function, reading and writing are not interrupted.

    Parameters
    ----------
    seconds : float
        Longest time, s; above 0.
    progress : callable, optional
        Called as well.

    Raises
    ------
    TimeLimitError
        By the callback; the workbook is then as it was.
    """
    end = time.monotonic() + seconds

    def tick(done: int, expected: int) -> None:
        if time.monotonic() > end:
            raise TimeLimitError(seconds)
        if progress is not None:
            progress(done, expected)

    return tick
