"""Added losses over a year: energy and cost from a stated load profile and tariff."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError

HOURS_PER_YEAR = 8784.0
"""Of a leap year: the most that a profile may add up to."""


@dataclass(frozen=True)
class LoadBlock:
    """Hours of a year at one load and one price.

    Parameters
    ----------
    load_pu : float
        Load current per unit of the one for which the added loss is known, 0 to 2.
    hours : float
        Hours per year, 0 to 8784.
    price_per_kwh : float
        Price of energy in these hours, 0 or more, in the currency of the result.

    Raises
    ------
    InputError
        A field is outside its range.
    """

    load_pu: float
    hours: float
    price_per_kwh: float = 0.0

    def __post_init__(self) -> None:
        number("load_pu", self.load_pu, least=0, most=2)
        number("hours", self.hours, unit="h", least=0, most=HOURS_PER_YEAR)
        number("price_per_kwh", self.price_per_kwh, least=0)

    def kwh(self, watts: float) -> float:
        """Energy of a loss that grows with the square of the load, kWh."""
        return watts / 1000.0 * self.load_pu**2 * self.hours


def added_energy_kwh(added_watts: float, profile: Iterable[LoadBlock]) -> float:
    """Energy of an added loss in a year, kWh: ``P sum of (load^2 hours)``.

    The shape of the current spectrum is taken as that of the stated load at all loads. A drive's distortion
    in percent rises as its load falls, so that part-load losses are understated.

    Parameters
    ----------
    added_watts : float
        Added loss at a load of 1 per unit, 0 W or more.
    profile : iterable of LoadBlock
        One block or more, at most 8784 hours together.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    2 kW; 4000 h at full and 2000 h at half load: 2 x (4000 + 500) kWh, by hand

    >>> added_energy_kwh(2000.0, [LoadBlock(1.0, 4000.0), LoadBlock(0.5, 2000.0)])
    9000.0
    """
    watts = number("added_watts", added_watts, unit="W", least=0)
    return sum(block.kwh(watts) for block in _checked(profile))


def added_cost(added_watts: float, profile: Iterable[LoadBlock]) -> float:
    """Cost of an added loss in a year, in the currency of the prices.

    Parameters
    ----------
    added_watts, profile
        As in `added_energy_kwh`, with prices.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    >>> added_cost(2000.0, [LoadBlock(1.0, 4000.0, 0.2), LoadBlock(0.5, 2000.0, 0.1)])
    1700.0
    """
    watts = number("added_watts", added_watts, unit="W", least=0)
    return sum(block.kwh(watts) * block.price_per_kwh for block in _checked(profile))


def _checked(profile: Iterable[LoadBlock]) -> tuple[LoadBlock, ...]:
    blocks = tuple(profile)
    if not blocks:
        raise InputError("profile", "empty", "one block or more")
    hours = sum(block.hours for block in blocks)
    if hours > HOURS_PER_YEAR:
        raise InputError("profile", f"of {hours:g} h together", f"at most {HOURS_PER_YEAR:g} h in a year")
    return blocks
