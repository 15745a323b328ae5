"""What sizes line reactor, DC choke and filter of every drive of a plant."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.studies.coupled.coupling import grouped
from xlcalc.studies.drives import BusSupply, bus_supplies
from xlcalc.studies.duty.front_end import LINES_PCT, Magnetics, magnetics
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant

LOW_LINE_PCT: Final = LINES_PCT[0]


@dataclass(frozen=True, eq=False)
class DriveMagnetics:
    """One line of the schedule, its coils sized for one unit at rated load or above.

    Parameters
    ----------
    drive : ScheduledDrive
    volts : float
        Nominal voltage of its bus, V.
    nominal, low : Magnetics or None
        At nominal line voltage and at 90 %; None without a solution.
    reason : str
        Why there is none; empty otherwise.
    """

    drive: ScheduledDrive
    volts: float
    nominal: Magnetics | None
    low: Magnetics | None
    reason: str = ""


def drive_magnetics(plant: StudiedPlant) -> list[DriveMagnetics]:
    """Every drive of a plant on its bus, at its load or its rating, whichever is more.

    Each is taken alone on the impedance of its bus, with the unbalance and background of the supply.
    """
    supplies = bus_supplies(plant)
    return [_sized(drive, supplies[drive.bus], plant.network.hz) for drive in plant.drives]


def of_each_kind(plant: StudiedPlant) -> StudiedPlant:
    """The plant with one drive for all that share bus, rating and front end, named after the first."""
    kinds = []
    for group in grouped(plant.drives):
        first, more = group.drives[0], len(group.drives) - 1
        tag = f"{first.tag} and {more} more" if more else first.tag
        kinds.append(replace(first, tag=tag, quantity=group.units))
    return replace(plant, drives=tuple(kinds))


def _sized(drive: ScheduledDrive, supply: BusSupply, hz: float) -> DriveMagnetics:
    fed = supply.feeding(drive)
    front_end = replace(fed, load_pct=max(100.0, fed.load_pct))
    found: list[Magnetics | None] = []
    reasons = []
    for line in (100.0, LOW_LINE_PCT):
        try:
            sized = magnetics(front_end, supply.volts, drive.rated_watts, hz, line)
            doubt = doubt_of(sized.state)
        except NoSolutionError as problem:
            sized, doubt = None, str(problem)
        if doubt:
            reasons.append(f"at {line:g} % line voltage: {doubt}")
        found.append(None if doubt else sized)
    return DriveMagnetics(drive, supply.volts, found[0], found[1], "; ".join(reasons))
