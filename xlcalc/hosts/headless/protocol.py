"""What the headless host needs to know of a worksheet function."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from xlcalc.schema.values import Value


class WorksheetFunction(Protocol):
    """A declared function: called with one list of raw values, gives a raw value, never raises."""

    @property
    def name(self) -> str: ...

    @property
    def min_args(self) -> int: ...

    @property
    def max_args(self) -> int | None: ...

    @property
    def volatile(self) -> bool: ...

    @property
    def shape(self) -> object | None:
        """None for a function that gives one value."""

    def __call__(self, raw: Sequence[Value]) -> Value: ...
