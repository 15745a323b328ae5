"""The caution that stands with every result."""

from __future__ import annotations

from typing import Final

CAUTION: Final = (
    "Results are estimates of a preliminary study. Verify them by measurement; qualified persons, local "
    "codes and licensed practice decide."
)
