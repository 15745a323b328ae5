"""Steps of setting up or checking a host, as the user reads them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Step:
    """What was looked at or done, whether it is in order, and what to do where it is not."""

    what: str
    good: bool
    advice: str = ""
