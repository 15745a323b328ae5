"""Line currents of the drives of a plant, each distinct front end solved once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice

import numpy as np

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.progress import Progress
from xlcalc.core.spectrum import Spectrum
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.sequence import frame_turn, natural_sequence
from xlcalc.rectifier.circuit import MAX_BACKGROUND_ORDER
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.rectifier.drive import FrontEnd, solve_front_ends
from xlcalc.rectifier.result import SteadyState
from xlcalc.studies.pcc import turned_background
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.sources import LoadCurrent


@dataclass(frozen=True)
class DriveResult:
    """One drive as the study solved it.

    Parameters
    ----------
    drive : ScheduledDrive
        The schedule line.
    source_pct, source_xr : float
        Reactance of the supply at its bus in percent of the drive's base, and its X/R.
    load : LoadCurrent or None
        Line currents of one unit in amperes at its own bus, angles against that bus's voltage; None without
        a solution.
    stable : bool
        True where the solution is the one that a running drive settles to.
    reason : str
        Why there is no stable solution, or a remark on it; empty otherwise.
    """

    drive: ScheduledDrive
    source_pct: float
    source_xr: float
    load: LoadCurrent | None
    stable: bool
    reason: str = ""

    @property
    def spectrum(self) -> Spectrum | None:
        """Spectrum of one unit in the phase with the largest distortion, A rms at its own bus."""
        return None if self.load is None else Spectrum(self.load.phases[self.load.worst_phase])

    def at(self, network: NodalNetwork, pcc: str) -> tuple[Spectrum, Spectrum, Spectrum]:
        """Phases a, b, c of all units together as they flow through the PCC, A rms at the PCC's voltage.

        Raises
        ------
        NoSolutionError
            The drive has no solution.
        """
        if self.load is None:
            raise NoSolutionError(f"drive {self.drive.tag}: {self.reason}")
        a, b, c = (Spectrum(row) for row in self.load.at(network, pcc))
        return a, b, c


def solve_drives(plant: StudiedPlant, progress: Progress | None = None) -> tuple[DriveResult, ...]:
    """Solve all drives of a plant.

    Parameters
    ----------
    plant : StudiedPlant
        Network and drives.
    progress : callable, optional
        Called as ``progress(done, total)`` with the number of distinct front ends solved.

    Returns
    -------
    tuple of DriveResult
        In the order of the schedule.

    Raises
    ------
    InputError
        A value does not suit the front end at its bus; the message names the drive.
    """
    (drives,) = solve_drives_of([plant], progress)
    return drives


def solve_drives_of(
    plants: Sequence[StudiedPlant], progress: Progress | None = None
) -> list[tuple[DriveResult, ...]]:
    """The same for several plants in one go, each distinct front end of all of them solved once."""
    on_bus = []
    for plant in plants:
        supplies = bus_supplies(plant)
        on_bus.append([supplies[drive.bus].feeding(drive) for drive in plant.drives])
    outcomes = iter(solve_front_ends([one for several in on_bus for one in several], progress=progress))
    return [
        tuple(map(partial(_result, plant.network), plant.drives, several, islice(outcomes, len(several))))
        for plant, several in zip(plants, on_bus, strict=True)
    ]


def unsolved_text(drives: Sequence[DriveResult]) -> str:
    """Which drives have no solution and why, and what still holds; empty where all have one."""
    failed = [f"drive {result.drive.tag}: {result.reason}" for result in drives if not result.stable]
    others = len(drives) - len(failed)
    if not failed:
        return ""
    holds = {
        0: "",
        1: "; the spectrum of the other one, alone on its bus, still holds",
    }.get(others, f"; the spectra of the other {others}, each alone on its bus, still hold")
    return "; ".join(failed) + holds


@dataclass(frozen=True)
class BusSupply:
    """The supply at a bus as a front end sees it.

    Parameters
    ----------
    volts : float
        Nominal line-to-line rms voltage.
    impedance : complex
        Fundamental ohm behind the bus, the plant's machines included.
    unbalance_pct, unbalance_deg, background
        As in `FrontEnd`.
    """

    volts: float
    impedance: complex
    unbalance_pct: float
    unbalance_deg: float
    background: tuple[tuple[int, float, float], ...]

    @classmethod
    def at(cls, network: NodalNetwork, bus: str) -> BusSupply:
        """The supply at a bus of a network."""
        utility = network.utility
        turn = math.degrees(np.angle(complex(frame_turn(1, -1, -network.shift_deg(bus)))))
        background = tuple(
            (order, 100.0 * abs(phasor), math.degrees(np.angle(phasor)))
            for order, phasor in turned_background(network, bus)
            if natural_sequence(order) and phasor and order <= MAX_BACKGROUND_ORDER
        )
        return cls(
            network.volts(bus),
            network.short_circuit_impedance(bus, machines=True),
            utility.unbalance_pct,
            utility.unbalance_deg + turn if utility.unbalance_pct else 0.0,
            background,
        )

    def feeding(self, drive: ScheduledDrive) -> FrontEnd:
        """The drive's front end with source reactance, unbalance and background of this bus.

        Raises
        ------
        InputError
            The front end refuses a value; the message names the drive.
        """
        base = self.volts**2 / drive.rated_watts
        try:
            return replace(
                drive.front_end,
                source_pct=100.0 * self.impedance.imag / base,
                source_xr=self.impedance.imag / self.impedance.real,
                unbalance_pct=self.unbalance_pct,
                unbalance_deg=self.unbalance_deg,
                background=self.background,
            )
        except InputError as problem:
            raise problem.renamed(f"{problem.argument} of drive {drive.tag}") from None


def bus_supplies(plant: StudiedPlant) -> dict[str, BusSupply]:
    """The supply at each bus of a plant that feeds a drive."""
    return {bus: BusSupply.at(plant.network, bus) for bus in {drive.bus for drive in plant.drives}}


def front_end_on_bus(network: NodalNetwork, drive: ScheduledDrive) -> FrontEnd:
    """The drive's front end as its bus feeds it; raises as `BusSupply.feeding`."""
    return BusSupply.at(network, drive.bus).feeding(drive)


def _result(
    network: NodalNetwork, drive: ScheduledDrive, front_end: FrontEnd, outcome: SteadyState | NoSolutionError
) -> DriveResult:
    if isinstance(outcome, NoSolutionError):
        return DriveResult(
            drive=drive,
            source_pct=front_end.source_pct,
            source_xr=front_end.source_xr,
            load=None,
            stable=False,
            reason=str(outcome),
        )
    amps_per_unit = drive.rated_watts / network.volts(drive.bus)
    load = LoadCurrent(drive.tag, drive.bus, amps_per_unit * outcome.line_phasors, drive.quantity)
    return DriveResult(
        drive=drive,
        source_pct=front_end.source_pct,
        source_xr=front_end.source_xr,
        load=load,
        stable=outcome.stable,
        reason=doubt_of(outcome),
    )
