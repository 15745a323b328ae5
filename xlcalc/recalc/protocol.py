"""What the headless host needs to know of a worksheet function, and of a program that verifies."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Protocol

from xlcalc.schema.values import Value


class EvaluatedFunction(Protocol):
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


class Witness(Protocol):
    """Another program that computes workbooks."""

    @property
    def name(self) -> str:
        """Program and version."""

    @property
    def functions(self) -> frozenset[str]:
        """Names of its worksheet functions in capitals."""

    def compute(self, source: Path, target: Path) -> None:
        """Compute an .xlsx file anew and save the result as another; raises `InputError` where it cannot."""
