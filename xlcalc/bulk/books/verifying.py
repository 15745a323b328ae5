"""The program that verifies recalculations: one running instance for as many workbooks as there are."""

from __future__ import annotations

import atexit
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

from xlcalc.hosts.libreoffice.calculator import Calculator


@contextmanager
def witness_if(wanted: bool) -> Iterator[Calculator | None]:
    """LibreOffice for as long as it is needed, where it is wanted.

    Raises
    ------
    InputError
        It is not installed, or cannot be used.
    """
    if not wanted:
        yield None
        return
    with Calculator() as calculator:
        yield calculator


@cache
def witness_of_process() -> Calculator:
    """The LibreOffice of this process, which ends with it."""
    calculator = Calculator()
    atexit.register(calculator.stop)
    return calculator


def check_verifying() -> None:
    """Raise `InputError` where there is no LibreOffice that can be used."""
    with Calculator():
        pass
