"""Capacitor banks and filters that a bus may get, before they have a bus; and the mixes of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.mitigation.offer.drive_options import ActiveFilter, Bank, DriveOption
from xlcalc.network.capacitors import Capacitive, CapacitorBank, CTypeFilter, DampedFilter, TunedFilter

PLAIN, DETUNED = "capacitor bank", "detuned bank"

FILTERS: Final[dict[str, type[TunedFilter | DampedFilter | CTypeFilter]]] = {
    "tuned filter": TunedFilter,
    "damped filter": DampedFilter,
    "c-type filter": CTypeFilter,
}

BANK_KINDS: Final = (PLAIN, DETUNED, *FILTERS)
MOST_BANKS: Final = 12
"""Mixes of banks; each is a network of its own, which is solved and searched."""


@dataclass(frozen=True)
class BankOption:
    """A bank or filter that may stand on a bus.

    Parameters
    ----------
    name : str
        Once per table.
    kind : str
        One of `BANK_KINDS`.
    rated_var : float
        Of the capacitors at their own rated voltage, above 0 var.
    rated_volts : float, optional
        Of the capacitors; None for the bus voltage.
    reactor_pct : float, optional
        Series reactor of a detuned bank, percent of the capacitor's reactance.
    tuned_order, quality : float, optional
        Of a filter; see `xlcalc.network.capacitors`.
    price, loss_watts, footprint_m2 : float
        0 or more.
    remark : str
        Where the price comes from.

    Raises
    ------
    InputError
        A field is missing, out of range, or none of this kind.
    """

    name: str
    kind: str
    rated_var: float
    rated_volts: float | None = None
    reactor_pct: float | None = None
    tuned_order: float | None = None
    quality: float | None = None
    price: float = 0.0
    loss_watts: float = 0.0
    footprint_m2: float = 0.0
    remark: str = ""

    def __post_init__(self) -> None:
        if self.kind not in BANK_KINDS:
            raise InputError(f"kind of {self.name}", self.kind, "one of " + ", ".join(BANK_KINDS))
        number(f"price of {self.name}", self.price, least=0)
        number(f"loss_watts of {self.name}", self.loss_watts, unit="W", least=0)
        number(f"footprint_m2 of {self.name}", self.footprint_m2, unit="m2", least=0)
        needed = {PLAIN: None, DETUNED: "reactor_pct"}.get(self.kind, "tuned_order")
        for field in ("reactor_pct", "tuned_order", "quality"):
            given = getattr(self, field)
            if field == needed and given is None:
                raise InputError(f"{field} of {self.name}", None, f"a value, because it is a {self.kind}")
            used = field == needed or (field == "quality" and self.kind in FILTERS)
            if given is not None and not used:
                raise InputError(f"{field} of {self.name}", given, f"blank, because it is a {self.kind}")
        self.element("any bus", 1000.0)

    def element(self, bus: str, volts: float) -> Capacitive:
        """The branch that it is on a bus of nominal voltage `volts`."""
        name = f"{self.name} on {bus}"
        rated = volts if self.rated_volts is None else self.rated_volts
        if self.kind == PLAIN:
            return CapacitorBank(name, bus, self.rated_var, rated)
        if self.kind == DETUNED:
            return CapacitorBank(name, bus, self.rated_var, rated, reactor_pct=float(self.reactor_pct or 0.0))
        quality = {} if self.quality is None else {"quality": self.quality}
        order = float(self.tuned_order or 0.0)
        return FILTERS[self.kind](name, bus, self.rated_var, rated, tuned_order=order, **quality)


def banks_of(places: Sequence[tuple[str, float, Sequence[BankOption]]]) -> tuple[Bank, ...]:
    """Every mix of at most one bank per place, the empty one left out.

    Parameters
    ----------
    places : sequence of (str, float, sequence of BankOption)
        Bus, its nominal voltage, and what it may get.

    Raises
    ------
    InputError
        More mixes than can be searched, or capacitors whose rated voltage does not suit the bus.

    Examples
    --------
    One of two at one bus, one at another: 3 x 2 - 1 mixes, by hand

    >>> small, large = (BankOption(name, "detuned bank", 1e5, reactor_pct=7.0) for name in ("S", "L"))
    >>> [bank.name for bank in banks_of((("A", 400.0, (small, large)), ("B", 400.0, (small,))))]
    ['S on B', 'S on A', 'S on A and S on B', 'L on A', 'L on A and S on B']
    """
    choices: list[list[tuple[BankOption, str, float] | None]] = []
    for bus, volts, offered in places:
        for option in offered:
            rated = option.rated_volts
            if rated is not None and not 0.9 * volts <= rated <= 2.0 * volts:
                valid = f"0.9 to 2 times the {volts:g} V of bus {bus}"
                raise InputError(f"rated voltage of {option.name}", f"{rated:g} V", valid)
        choices.append([None, *((option, bus, volts) for option in offered)])
    count = 1
    for offered_here in choices:
        count *= len(offered_here)
    if count - 1 > MOST_BANKS:
        raise InputError("banks offered", f"{count - 1} mixes", f"up to {MOST_BANKS}; offer fewer per bus")
    banks = []
    for mix in product(*choices):
        chosen = [item for item in mix if item is not None]
        if not chosen:
            continue
        elements = tuple(option.element(bus, volts) for option, bus, volts in chosen)
        options = [option for option, _, _ in chosen]
        banks.append(
            Bank(
                name=" and ".join(element.name for element in elements),
                elements=elements,
                price=sum(option.price for option in options),
                loss_watts=sum(option.loss_watts for option in options),
                footprint_m2=sum(option.footprint_m2 for option in options),
                remark="; ".join(dict.fromkeys(option.remark for option in options if option.remark)),
            )
        )
    return tuple(banks)


@dataclass(frozen=True)
class OptionTable:
    """What can be bought.

    Parameters
    ----------
    drive_options : tuple of DriveOption
    filters : tuple of ActiveFilter
    banks : tuple of BankOption
    """

    drive_options: tuple[DriveOption, ...]
    filters: tuple[ActiveFilter, ...]
    banks: tuple[BankOption, ...] = ()
