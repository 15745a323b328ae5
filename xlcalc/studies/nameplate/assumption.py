"""A value of drives that nobody gave: what is taken for it, and in which range it lies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError

SHOWN_TAGS: Final = 6
POWER: Final = "rated_watts"
"""The attribute of a drive itself; all others are of its front end."""


@dataclass(frozen=True, kw_only=True)
class Assumption:
    """One assumption, which holds for several drives alike.

    Parameters
    ----------
    name : str
        What it is: "dc choke pct", "link power".
    attribute : str
        Of the front end, or `POWER`.
    tags : tuple of str
        Drives that it is of.
    low, typical, high : float
        In `unit`; of a power, its multiple of what is taken.
    unit : str
    basis : str
        Where the values come from.

    Raises
    ------
    InputError
        The values are not in order.
    """

    name: str
    attribute: str
    tags: tuple[str, ...]
    low: float
    typical: float
    high: float
    unit: str
    basis: str

    def __post_init__(self) -> None:
        for name in ("low", "typical", "high"):
            number(f"{name} of {self.name}", getattr(self, name), unit=self.unit, least=0)
        if not self.low <= self.typical <= self.high:
            raise InputError(f"typical of {self.name}", self.typical, f"{self.low:g} to {self.high:g}")

    @property
    def of(self) -> str:
        """Its drives in words."""
        more = f" and {len(self.tags) - SHOWN_TAGS} more" if len(self.tags) > SHOWN_TAGS else ""
        return ", ".join(self.tags[:SHOWN_TAGS]) + more

    @property
    def text(self) -> str:
        """What is assumed, in words."""
        return (
            f"{self.name} of {self.of} assumed {self.typical:.3g} {self.unit} "
            f"({self.low:.3g} to {self.high:.3g} {self.unit}: {self.basis})"
        )

    def at(self, share: float) -> float:
        """The value that is not exceeded with a probability, of a triangle over low, typical and high.

        Examples
        --------
        >>> choke = Assumption(name="dc choke pct", attribute="choke_pct", tags=("P",), low=2, typical=3,
        ...                    high=5, unit="%", basis="common practice")
        >>> choke.at(0.0), round(choke.at(1 / 3), 9), choke.at(1.0)
        (2.0, 3.0, 5.0)
        """
        width = self.high - self.low
        if width <= 0.0:
            return float(self.typical)
        rise = self.typical - self.low
        if share * width <= rise:
            return float(self.low + (share * width * rise) ** 0.5)
        return float(self.high - ((1.0 - share) * width * (self.high - self.typical)) ** 0.5)
