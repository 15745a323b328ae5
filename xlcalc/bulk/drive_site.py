"""What a drive schedule needs to know of a site, whether a chain of transformers or a network of buses."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol


class DriveSite(Protocol):
    """A site with buses that may feed drives."""

    @property
    def name(self) -> str:
        """Name in the column ``site`` of a schedule."""
        ...

    @property
    def study(self) -> Mapping[str, object]:
        """Title and remarks for the results."""
        ...

    @property
    def bus_volts(self) -> Mapping[str, float]:
        """Nominal volts of the buses that may feed a drive."""
        ...

    @property
    def bus_names(self) -> tuple[str, ...]:
        """Names that a schedule may use for them."""
        ...

    def bus_of(self, name: str) -> str | None:
        """The bus that a name in the schedule means."""
        ...

    def bus_for(self, volts: float | None) -> str | None:
        """The bus of a drive for which the schedule names none; None where only a name can tell."""
        ...
