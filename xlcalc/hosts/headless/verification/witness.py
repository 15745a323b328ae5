"""What a program that verifies a recalculation has to offer."""

from __future__ import annotations

from pathlib import Path
from typing import Protocol


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
