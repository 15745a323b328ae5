"""What happens between a Calc cell and a worksheet function; runs inside LibreOffice's Python.

Calc hands numbers, texts, ranges as tuples of row tuples, and None for an argument left out. It takes back a
number, a text, rows, NaN for #NUM! and an exception for #VALUE!. Errors in arguments never arrive here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from xlcalc.hosts.libreoffice.progress import Progress
from xlcalc.hosts.memo import Memo
from xlcalc.schema.tables import as_grid
from xlcalc.schema.values import CellError, ErrorCode, Grid, Refused, Scalar, Value
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.registry import WorksheetFunction

Cell = float | str | bool
Rows = tuple[tuple[Cell, ...], ...]
Raw = Any


class ErrorValue(RuntimeError):
    """Raised to make Calc show #VALUE!."""


class FunctionBridge:
    """Offers the functions of the registry as methods of a UNO component, equal calls computed once.

    Parameters
    ----------
    progress : Progress, optional
        Told of every call that is computed.
    """

    def __init__(self, progress: Progress | None = None) -> None:
        self._memo = Memo()
        self._progress = progress
        self._heard: list[tuple[str, CellError]] | None = None

    def method(self, name: str) -> Callable[..., Cell | Rows]:
        """Method of the component class for a function by name."""
        function = FUNCTIONS[name]
        array = function.shape is not None

        def call(component: object, *given: Raw) -> Cell | Rows:
            result = self._result(function, given)
            if self._heard is not None:
                self._heard += [(name, error) for error in _reasons(result)]
            return _rows(function, given, result) if array else _single(result)

        return call

    @contextmanager
    def listening(self) -> Iterator[list[tuple[str, CellError]]]:
        """Errors that functions give meanwhile, or for which they give a text, each with the function."""
        heard: list[tuple[str, CellError]] = []
        self._heard = heard
        try:
            yield heard
        finally:
            self._heard = None

    def _result(self, function: WorksheetFunction, given: tuple[Raw, ...]) -> Value:
        if function.volatile:
            return self._computed(function, given)
        return self._memo.result(function.name, given, lambda: self._computed(function, given))

    def _computed(self, function: WorksheetFunction, given: tuple[Raw, ...]) -> Value:
        def work() -> Value:
            return function([_value(item) for item in given])

        return work() if self._progress is None else self._progress.run(function.name, work)


def _reasons(result: Value) -> list[CellError]:
    if isinstance(result, Refused):
        return [result.error]
    cells = [cell for row in result for cell in row] if isinstance(result, list) else [result]
    return [cell for cell in cells if isinstance(cell, CellError) and cell.reason]


def _value(raw: Raw) -> Value:
    if isinstance(raw, tuple):
        return [[_scalar(cell) for cell in row] for row in raw]
    return _scalar(raw)


def _scalar(raw: Raw) -> Scalar:
    if raw is None or raw == "":
        return None
    return raw if isinstance(raw, str | bool) else float(raw)


def _single(result: Value) -> Cell:
    if isinstance(result, CellError):
        if result.code is ErrorCode.NUM:
            return math.nan
        raise ErrorValue(result.reason)
    assert not isinstance(result, list)
    return "" if result is None else str(result) if isinstance(result, str) else result


def _rows(function: WorksheetFunction, given: Sequence[Raw], result: Value) -> Rows:
    """An array result; an error fills every cell of it, so that no cell of it can be taken for a value."""
    if isinstance(result, CellError):
        wrong = _single(result)
        assert function.shape is not None
        longest = max((len(item) for item in given if isinstance(item, tuple)), default=1)
        row = (wrong,) * len(function.shape.columns)
        return (row,) * (function.shape.rows or longest)
    grid: Grid = as_grid(result)
    return tuple(tuple(_single(cell) for cell in row) for row in grid)
