"""A plant with its drives."""

from __future__ import annotations

from dataclasses import dataclass

from xlcalc.checks import number, whole_number
from xlcalc.errors import InputError
from xlcalc.network.base import Network
from xlcalc.network.elements import LinearLoad
from xlcalc.rectifier.drive import FrontEnd


@dataclass(frozen=True)
class Drive:
    """One line of a drive schedule.

    Parameters
    ----------
    tag : str
        Name, once per plant.
    rated_watts : float
        Rated DC-link power, the base of all percent values of the front end; above 0 W.
    front_end : FrontEnd
        Pulses, reactors, load and so on. Its source reactance, unbalance and background are those of the
        plant's bus and are set by the study; unbalance and background must be left at zero here.
    bus : str
        Bus that feeds it.
    quantity : int
        Number of identical drives that run in step.

    Raises
    ------
    InputError
        A field is outside its range.
    """

    tag: str
    rated_watts: float
    front_end: FrontEnd
    bus: str = "main"
    quantity: int = 1

    def __post_init__(self) -> None:
        if not self.tag.strip():
            raise InputError("tag", self.tag, "a name that is not blank")
        number(f"rated_watts of {self.tag}", self.rated_watts, unit="W", above=0)
        whole_number(f"quantity of {self.tag}", self.quantity, least=1)
        if self.front_end.unbalance_pct != 0.0:
            raise InputError(
                f"unbalance_pct of {self.tag}", self.front_end.unbalance_pct, "0; the utility carries it"
            )
        if any(pct != 0.0 for _, pct, _ in self.front_end.background):
            raise InputError(
                f"background of {self.tag}", self.front_end.background, "empty; the utility carries it"
            )


@dataclass(frozen=True)
class Plant:
    """A network with its drives and linear loads.

    Parameters
    ----------
    network : Network
        A chain, or anything that offers the same answers.
    drives : tuple of Drive
        Each tag once.
    linear_loads : tuple of LinearLoad
        Loads that draw fundamental current only.
    remarks, doubts : tuple of str
        What its inputs make a reader of a verdict know, and why no verdict may rest on them; plain sentences.

    Raises
    ------
    InputError
        A tag twice, or a bus that the network does not have.
    """

    network: Network
    drives: tuple[Drive, ...]
    linear_loads: tuple[LinearLoad, ...] = ()
    remarks: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        seen: set[str] = set()
        for drive in self.drives:
            if drive.tag in seen:
                raise InputError("tag", drive.tag, "each tag once")
            seen.add(drive.tag)
            self._check_bus(f"bus of {drive.tag}", drive.bus)
        for load in self.linear_loads:
            self._check_bus("bus of the linear load", load.bus)

    def _check_bus(self, argument: str, bus: str) -> None:
        if bus not in self.network.buses:
            raise InputError(argument, bus, "one of " + ", ".join(self.network.buses))
