"""What current a front end draws: from the rectifier engine, or from a stated residual spectrum.

A front end that the rectifier engine solves, with or without a passive filter ahead of it, gives a
`FrontEnd`; any other gives its line currents by itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Literal, Protocol

import numpy as np

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, FloatArray, Spectrum
from xlcalc.network.nodal import NodalNetwork
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.rectifier.passive_filter import FilterRating
from xlcalc.studies.plant import ScheduledDrive
from xlcalc.studies.sources import LoadCurrent


def _no_unknown_angle() -> FloatArray:
    return np.zeros(MAX_ORDER)


@dataclass(frozen=True, eq=False)
class SourceCurrent:
    """Current of one unit of a drive.

    Parameters
    ----------
    load : LoadCurrent
        The part whose angles are known.
    unknown_angle : array of float, shape (50,)
        Magnitudes by order whose angles are not known, A; they add to everything with their magnitude.
    """

    load: LoadCurrent
    unknown_angle: FloatArray = field(default_factory=_no_unknown_angle)


class Physics(Protocol):
    """The electrical side of an option."""

    def front_end(self, drive: ScheduledDrive) -> FrontEnd | None:
        """What the rectifier engine solves on the drive's bus; None where `source` gives the current."""
        ...

    def source(self, network: NodalNetwork, drive: ScheduledDrive) -> SourceCurrent:
        """Current of one unit.

        Raises
        ------
        NoSolutionError
            There is none at this load; the message says why.
        """
        ...


@dataclass(frozen=True)
class DiodeFrontEnd:
    """A diode front end with its reactors.

    Parameters
    ----------
    pulses : int
        6, 12, 18, ... 48.
    reactor_pct, choke_pct : float
        Line reactor and DC choke in percent of the drive's base.
    transformer_pct : float, optional
        Leakage of the phase-shifting windings; None keeps the drive's.
    filter : FilterRating, optional
        Passive filter ahead of it, solved as a circuit together with the bridges.

    Raises
    ------
    InputError
        A field outside the range of `FrontEnd`.
    """

    pulses: int = 6
    reactor_pct: float = 0.0
    choke_pct: float = 0.0
    transformer_pct: float | None = None
    filter: FilterRating | None = None

    def __post_init__(self) -> None:
        leakage = 5.0 if self.transformer_pct is None else self.transformer_pct
        FrontEnd(
            self.pulses,
            1.0,
            self.reactor_pct,
            self.choke_pct,
            transformer_pct=leakage,
            filter=self.filter,
        )

    def front_end(self, drive: ScheduledDrive) -> FrontEnd:
        leakage = drive.front_end.transformer_pct if self.transformer_pct is None else self.transformer_pct
        return replace(
            drive.front_end,
            pulses=self.pulses,
            reactor_pct=self.reactor_pct,
            choke_pct=self.choke_pct,
            transformer_pct=leakage,
            filter=self.filter,
        )

    def source(self, network: NodalNetwork, drive: ScheduledDrive) -> SourceCurrent:
        raise NotImplementedError("the rectifier engine solves this front end")


@dataclass(frozen=True)
class AsScheduled:
    """The front end that the schedule names: a drive that is bought already."""

    def front_end(self, drive: ScheduledDrive) -> FrontEnd:
        return drive.front_end

    def source(self, network: NodalNetwork, drive: ScheduledDrive) -> SourceCurrent:
        raise NotImplementedError("the rectifier engine solves this front end")


@dataclass(frozen=True)
class ResidualLine:
    """One order at one load.

    Parameters
    ----------
    load_pct : float
        Load in percent of the rating, above 0 to 200.
    order : int
        2 to 50.
    percent : float
        0 to 100 %, of what `Residual.percent_of` says.
    degrees : float, optional
        Against the phase-a fundamental voltage; None where it is not known.
    """

    load_pct: float
    order: int
    percent: float
    degrees: float | None = None

    def __post_init__(self) -> None:
        number("load_pct", self.load_pct, unit="%", above=0, most=200)
        whole_number("order", self.order, least=2, most=MAX_ORDER)
        number("percent", self.percent, unit="%", least=0, most=100)
        if self.degrees is not None:
            number("degrees", self.degrees, unit="degrees")


@dataclass(frozen=True)
class Residual:
    """A front end that draws nearly sinusoidal current: its residual spectrum against load.

    Between two loads amperes are interpolated; outside the loads of the table there is no current to be told.
    The fundamental is in phase with the voltage.

    Parameters
    ----------
    lines : tuple of ResidualLine
        Each load and order once.
    percent_of : {'rated', 'load'}
        Percent of the rated fundamental, or of that at the load.
    basis : str
        Where the figures come from and under which conditions they hold.
    others : {'not given', 'zero'}
        What orders are that no line names: the search counts them as zero, but a mix that passes with them
        has no verdict unless they are said to be zero.

    Raises
    ------
    InputError
        No line, a load and order twice, another `percent_of` or `others`, or no basis.
    """

    lines: tuple[ResidualLine, ...]
    percent_of: Literal["rated", "load"]
    basis: str
    others: Literal["not given", "zero"] = "not given"

    def __post_init__(self) -> None:
        if self.others not in ("not given", "zero"):
            raise InputError("orders not listed", self.others, "not given or zero")
        if not self.lines:
            raise InputError("residual spectrum", "empty", "one line or more")
        if self.percent_of not in ("rated", "load"):
            raise InputError("percent_of", self.percent_of, "rated or load")
        if not self.basis.strip():
            raise InputError("basis", None, "a text that says where the residual spectrum comes from")
        places = [(line.load_pct, line.order) for line in self.lines]
        twice = next((place for place in places if places.count(place) > 1), None)
        if twice is not None:
            raise InputError(
                "residual spectrum", f"order {twice[1]} at {twice[0]:g} % twice", "each load and order once"
            )

    @property
    def missing_orders(self) -> tuple[int, ...]:
        """Orders from 2 to 50 whose current nobody gave."""
        listed = {line.order for line in self.lines}
        orders = range(2, MAX_ORDER + 1)
        return () if self.others == "zero" else tuple(order for order in orders if order not in listed)

    @property
    def loads_pct(self) -> tuple[float, ...]:
        return tuple(sorted({line.load_pct for line in self.lines}))

    def front_end(self, drive: ScheduledDrive) -> None:
        return None

    def source(self, network: NodalNetwork, drive: ScheduledDrive) -> SourceCurrent:
        volts = network.volts(drive.bus)
        rated = drive.rated_watts / (math.sqrt(3.0) * volts)
        load_pct = drive.front_end.load_pct
        low, high = self.loads_pct[0], self.loads_pct[-1]
        if not low <= load_pct <= high:
            raise NoSolutionError(
                f"its residual spectrum covers {low:g} to {high:g} % load, not {load_pct:g} %"
            )
        known, unknown_angle = self._amps(rated, load_pct)
        known[0] = rated * load_pct / 100.0
        load = LoadCurrent.balanced(drive.tag, drive.bus, Spectrum(known), drive.quantity)
        return SourceCurrent(load, unknown_angle)

    def _amps(self, rated: float, load_pct: float) -> tuple[np.ndarray, FloatArray]:
        loads = np.array(self.loads_pct)
        known = np.zeros((loads.size, MAX_ORDER), complex)
        unknown_angle = np.zeros((loads.size, MAX_ORDER))
        for line in self.lines:
            k = int(np.searchsorted(loads, line.load_pct))
            base = rated if self.percent_of == "rated" else rated * line.load_pct / 100.0
            amps = base * line.percent / 100.0
            if line.degrees is None:
                unknown_angle[k, line.order - 1] = amps
            else:
                known[k, line.order - 1] = amps * np.exp(1j * np.radians(line.degrees))
        weights = np.array([np.interp(load_pct, loads, row) for row in np.eye(loads.size)])
        return weights @ known, weights @ unknown_angle


def unlisted_text(named: Iterable[tuple[str, Physics]]) -> str:
    """Which front ends have a spectrum with orders that nobody gave; empty where none has.

    Parameters
    ----------
    named : iterable of (str, Physics)
        Name of an option and what it draws.
    """
    parts = []
    for name, physics in dict.fromkeys(named):
        if not isinstance(physics, Residual) or not physics.missing_orders:
            continue
        highest = max(line.order for line in physics.lines)
        lacks = [order for order in physics.missing_orders if order < highest]
        parts.append(
            f"the spectrum of {name} ends at order {highest}"
            + (f" and lacks order {lacks[0]}" + (" and others" if lacks[1:] else "") if lacks else "")
        )
    if not parts:
        return ""
    return f"{', '.join(parts)}: give them, or set 'orders not listed' to zero"
