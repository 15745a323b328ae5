"""A plant with its drives."""

from __future__ import annotations

from dataclasses import dataclass, replace

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError
from xlcalc.network.nodal import NodalNetwork
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.nameplate.assumption import Assumption


@dataclass(frozen=True)
class ScheduledDrive:
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
class StudiedPlant:
    """A network with its drives.

    Parameters
    ----------
    network : NodalNetwork
        Supply, buses and everything on them but the drives.
    drives : tuple of ScheduledDrive
        Each tag once.
    remarks, doubts : tuple of str
        What its inputs make a reader of a verdict know, and why no verdict may rest on them; plain sentences.
    unknowns : tuple of Assumption
        What nameplates leave open of the drives, which have typical values there.

    Raises
    ------
    InputError
        A tag twice, or a bus that the network does not have.
    """

    network: NodalNetwork
    drives: tuple[ScheduledDrive, ...]
    remarks: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    unknowns: tuple[Assumption, ...] = ()

    def __post_init__(self) -> None:
        seen: set[str] = set()
        for drive in self.drives:
            if drive.tag in seen:
                raise InputError("tag", drive.tag, "each tag once")
            seen.add(drive.tag)
            if drive.bus not in self.network.buses:
                valid = "one of " + ", ".join(self.network.buses)
                raise InputError(f"bus of {drive.tag}", drive.bus, valid)

    @property
    def drawn_kw(self) -> list[tuple[str, float]]:
        """Bus and DC-link power of every drive as it runs, all units together."""
        return [(d.bus, d.quantity * d.rated_watts * d.front_end.load_pct / 1e5) for d in self.drives]


def without_mitigation(plant: StudiedPlant) -> StudiedPlant:
    """The plant with no line reactor, DC choke or filter at any drive; pulse numbers stay."""
    return replace(
        plant,
        drives=tuple(
            replace(drive, front_end=replace(drive.front_end, reactor_pct=0.0, choke_pct=0.0, filter=None))
            for drive in plant.drives
        ),
    )
