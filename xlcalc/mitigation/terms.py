"""On which terms to choose, and what the user fixed beforehand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from xlcalc.mitigation.offer.economics import Economics
from xlcalc.mitigation.problem import CAPACITOR_STANDARD


@dataclass(frozen=True)
class PinTerms:
    """Drives by tag or bus, and the options that remain; `place` for messages."""

    tags: tuple[str, ...]
    bus: str
    options: tuple[str, ...]
    place: str


@dataclass(frozen=True)
class FilterTerms:
    """A bus that may get an active filter or a capacitor bank of some that are offered."""

    bus: str
    covers: tuple[str, ...]
    offer: tuple[str, ...]
    required: bool
    place: str


@dataclass(frozen=True)
class CaseTerms:
    """What a case changes."""

    name: str
    site: Mapping[str, object] = field(default_factory=dict)
    settings: Mapping[str, object] = field(default_factory=dict)
    off: tuple[str, ...] = ()
    load_pct: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Terms:
    """Everything that the user decides beside plant and options.

    Parameters
    ----------
    name : str
        Where this is written, for messages.
    economics : Economics
    margin_pct : float
        By how much every value must stay below its limit, percent of the limit.
    margins_pct : mapping of str to float
        The same for single PCCs by bus, in its place.
    pcc : tuple of str
        Buses that are judged; empty for the one that site or network name.
    offer : tuple of str
        Options that drives may get; empty for all.
    raise_other_limits, rely_on_coupling : bool
        See `PccOptions` and `ChoiceOptions`.
    keep_scheduled, equal_drives : bool
        See `Problem`.
    pins, filters, cases
        What is fixed, where remedies may stand, and which states must hold.
    capacitor_standard : str
        By which a bank is judged, see `Problem`.
    margin_place : str
        Where the margin is written, for messages.
    """

    name: str
    economics: Economics
    margin_pct: float = 0.0
    pcc: tuple[str, ...] = ()
    offer: tuple[str, ...] = ()
    raise_other_limits: bool = False
    rely_on_coupling: bool = True
    keep_scheduled: bool = True
    equal_drives: bool = True
    pins: tuple[PinTerms, ...] = ()
    filters: tuple[FilterTerms, ...] = ()
    cases: tuple[CaseTerms, ...] = ()
    margins_pct: Mapping[str, float] = field(default_factory=dict)
    capacitor_standard: str = CAPACITOR_STANDARD
    margin_place: str = "margin pct"
