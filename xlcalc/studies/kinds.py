"""Every kind of drive of a plant alone on its bus: the waveform and spectrum that a reader is shown."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from xlcalc.core.errors import NoSolutionError
from xlcalc.core.spectrum import FloatArray, Spectrum
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.rectifier.drive import FrontEnd, solve_front_ends
from xlcalc.rectifier.result import SteadyState
from xlcalc.rectifier.trace import waveforms
from xlcalc.studies.coupled.coupling import DriveGroup, grouped
from xlcalc.studies.drives import bus_supplies
from xlcalc.studies.plant import StudiedPlant

POINTS = 180
PEAK = math.sqrt(2.0 / 3.0)
"""Peak of rated fundamental current and phase voltage in the per unit of a front end."""
NAMED = 3


@dataclass(frozen=True, kw_only=True, eq=False)
class DriveKind:
    """Drives that share bus, rating and front end, and the line current of one of them.

    Parameters
    ----------
    tags : tuple of str
    units : int
        Drives of this kind, quantities counted.
    bus : str
    rated_watts : float
        Rated DC-link power of one, W.
    front_end : FrontEnd
        As its bus feeds it.
    spectrum : Spectrum or None
        Of the phase with the largest distortion, A rms; None where there is no stable solution.
    cycle : array (3, points)
        Degrees, line current and voltage to neutral at the terminals, per unit of the peak of the rated
        fundamental current and of the nominal voltage; empty without a solution.
    reason : str
        Why there is no solution, or a doubt about it.
    """

    tags: tuple[str, ...]
    units: int
    bus: str
    rated_watts: float
    front_end: FrontEnd
    spectrum: Spectrum | None
    cycle: FloatArray
    reason: str = ""

    @property
    def named(self) -> str:
        """Its tags, the first few by name."""
        more = len(self.tags) - NAMED
        return ", ".join(self.tags[:NAMED]) + (f" and {more} more" if more > 0 else "")

    @property
    def text(self) -> str:
        """What it is, in one line."""
        own = self.front_end
        parts = [f"{self.units} x {self.rated_watts / 1e3:.4g} kW", f"{own.pulses}-pulse"]
        parts += [f"line reactor {own.reactor_pct:.3g} %"] if own.reactor_pct else []
        parts += [f"DC choke {own.choke_pct:.3g} %"] if own.choke_pct else []
        parts += ["passive filter"] if own.filter is not None else []
        return ", ".join((*parts, f"load {own.load_pct:.3g} %, on bus {self.bus}"))


def kinds_of(plant: StudiedPlant) -> tuple[DriveKind, ...]:
    """All kinds of drives of a plant in the order of its schedule, each solved once.

    Raises
    ------
    InputError
        A value does not suit the front end at its bus; the message names the drive.
    """
    groups = grouped(plant.drives)
    supplies = bus_supplies(plant)
    fed = [supplies[group.bus].feeding(group.drives[0]) for group in groups]
    solved = solve_front_ends(fed)
    return tuple(
        _kind(group, front_end, outcome, supplies[group.bus].volts)
        for group, front_end, outcome in zip(groups, fed, solved, strict=True)
    )


def _kind(
    group: DriveGroup, front_end: FrontEnd, outcome: SteadyState | NoSolutionError, volts: float
) -> DriveKind:
    spectrum, cycle, reason = None, np.empty((3, 0)), str(outcome)
    if not isinstance(outcome, NoSolutionError):
        reason = doubt_of(outcome)
        if outcome.stable:
            amps, phase = group.rated_watts / volts, outcome.worst_phase
            degrees, current, terminal = waveforms(outcome, POINTS)
            spectrum = Spectrum(amps * outcome.line_phasors[phase])
            cycle = np.array([degrees, current[phase] / PEAK, terminal[phase] / PEAK])
    return DriveKind(
        tags=tuple(drive.tag for drive in group.drives),
        units=group.units,
        bus=group.bus,
        rated_watts=group.rated_watts,
        front_end=front_end,
        spectrum=spectrum,
        cycle=cycle,
        reason=reason,
    )
