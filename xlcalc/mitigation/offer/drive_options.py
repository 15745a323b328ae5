"""What can be bought: front ends of drives, and remedies on a bus."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import MAX_ORDER, FloatArray
from xlcalc.mitigation.offer.curves import CostFormula, Curve
from xlcalc.mitigation.offer.economics import Losses
from xlcalc.mitigation.offer.physics import AsScheduled, Physics
from xlcalc.network.capacitors import Capacitive

AS_SCHEDULED = "as scheduled"


@dataclass(frozen=True)
class DriveOption:
    """A front end that a drive may get.

    Parameters
    ----------
    name : str
        Once per table.
    physics : Physics
        What current it draws.
    price : Curve
        Against the drive's rated DC-link power, kW; everything that this option costs more than the plain
        drive, in any currency.
    losses : Losses
        Added losses.
    footprint : Curve
        Added floor area, m2.
    min_kw, max_kw : float
        Ratings for which it can be had, above 0.
    remark : str
        Where price and physics come from.
    place : str
        Where it is written, for messages.

    Raises
    ------
    InputError
        A field is outside its range, or the price leaves a part of the ratings out.
    """

    name: str
    physics: Physics
    price: Curve = field(default_factory=CostFormula)
    losses: Losses = field(default_factory=Losses)
    footprint: Curve = field(default_factory=CostFormula)
    min_kw: float = 0.001
    max_kw: float = 1e5
    remark: str = ""
    place: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise InputError("option", None, "a name")
        number(f"min_kw of {self.name}", self.min_kw, unit="kW", above=0)
        number(f"max_kw of {self.name}", self.max_kw, unit="kW", least=self.min_kw)
        for what, curve in (("price", self.price), ("footprint", self.footprint)):
            gap = curve.gap(self.min_kw, self.max_kw)
            if gap:
                raise InputError(
                    f"{what} of {self.name}",
                    f"without a value {gap}",
                    f"values from {self.min_kw:g} to {self.max_kw:g} kW, the ratings for which it can be had",
                    wrong_kind=True,
                )

    def fits(self, kw: float) -> bool:
        return self.min_kw <= kw <= self.max_kw


def as_scheduled() -> DriveOption:
    """The front end that is there already: costs nothing more."""
    return DriveOption(AS_SCHEDULED, AsScheduled(), remark="bought already")


@dataclass(frozen=True)
class ActiveFilter:
    """An active filter on a bus, described by what it leaves of each order.

    Parameters
    ----------
    name : str
        Once per table.
    rated_amps : float
        rms current that it can compensate, above 0 A. It is not driven beyond: a mix that would need more is
        refused.
    left : tuple of (int, float)
        Order (2 to 50) and percent of the load's current of that order that remains; the other orders pass.
    basis : str
        Where these figures come from and under which conditions they hold.
    price : float
        0 or more.
    loss_watts : float
        Losses in service, 0 W or more; they also count as fundamental current.
    footprint_m2 : float
        0 or more.
    remark : str
        Where the price comes from.

    Raises
    ------
    InputError
        A field is outside its range.
    """

    name: str
    rated_amps: float
    left: tuple[tuple[int, float], ...]
    basis: str
    price: float = 0.0
    loss_watts: float = 0.0
    footprint_m2: float = 0.0
    remark: str = ""

    def __post_init__(self) -> None:
        number(f"rated_amps of {self.name}", self.rated_amps, unit="A", above=0)
        number(f"price of {self.name}", self.price, least=0)
        number(f"loss_watts of {self.name}", self.loss_watts, unit="W", least=0)
        number(f"footprint_m2 of {self.name}", self.footprint_m2, unit="m2", least=0)
        if not self.left:
            raise InputError(f"residual spectrum of {self.name}", "empty", "one order or more")
        if not self.basis.strip():
            raise InputError(f"basis of {self.name}", None, "a text that says where the figures come from")
        orders = [order for order, _ in self.left]
        for order, percent in self.left:
            whole_number(f"order of {self.name}", order, least=2, most=MAX_ORDER)
            number(f"percent left of order {order} by {self.name}", percent, unit="%", least=0, most=100)
            if orders.count(order) > 1:
                raise InputError(f"order of {self.name}", f"{order} twice", "each order once")

    @property
    def taken(self) -> FloatArray:
        """Part of the load's current that it compensates, by order 1..50."""
        share = np.zeros(MAX_ORDER)
        for order, percent in self.left:
            share[order - 1] = 1.0 - percent / 100.0
        return share


@dataclass(frozen=True)
class FilterPlace:
    """A bus that may get one of several active filters.

    Parameters
    ----------
    bus : str
        Where it injects.
    choices : tuple of ActiveFilter
        At most one of them is bought.
    covers : tuple of str
        Buses whose drives it measures; empty for `bus` alone. A bus is covered from one place at most.
    required : bool
        One of them must be bought: a pin.
    """

    bus: str
    choices: tuple[ActiveFilter, ...]
    covers: tuple[str, ...] = ()
    required: bool = False

    @property
    def covered(self) -> tuple[str, ...]:
        return self.covers or (self.bus,)


@dataclass(frozen=True)
class Bank:
    """Capacitor banks or filters that become part of the network; needs a network with shunt branches.

    Parameters
    ----------
    name : str
        Once per table.
    elements : tuple of Capacitive
        What is added.
    price, loss_watts, footprint_m2 : float
        Of all of them together, 0 or more.
    remark : str
        Where the price comes from.
    """

    name: str
    elements: tuple[Capacitive, ...]
    price: float = 0.0
    loss_watts: float = 0.0
    footprint_m2: float = 0.0
    remark: str = ""

    def __post_init__(self) -> None:
        if not self.elements:
            raise InputError(f"elements of {self.name}", "empty", "one bank or filter or more")
        number(f"price of {self.name}", self.price, least=0)
        number(f"loss_watts of {self.name}", self.loss_watts, unit="W", least=0)
        number(f"footprint_m2 of {self.name}", self.footprint_m2, unit="m2", least=0)
