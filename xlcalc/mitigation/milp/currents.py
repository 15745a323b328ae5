"""Groups of equal drives, the currents of their options in every case, and their transfer to a filter.

Currents are engine solutions and residual spectra, one unit at its own bus.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.progress import Progress
from xlcalc.core.spectrum import ComplexArray
from xlcalc.mitigation.offer.drive_options import AS_SCHEDULED, DriveOption
from xlcalc.mitigation.offer.physics import SourceCurrent
from xlcalc.mitigation.problem import LimitCase, Problem
from xlcalc.network.nodal import NodalNetwork
from xlcalc.studies.drives import solve_drives
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.sources import ORDERS, LoadCurrent


@dataclass(frozen=True)
class AlikeDrives:
    """Lines of the schedule that are alike.

    Parameters
    ----------
    drives : tuple of ScheduledDrive
        Same bus, rating, quantity, load in every case, and options.
    options : tuple of DriveOption
        Open to each of them.
    tags : tuple of tuple of str
        For each drive the lines that it stands for: itself, or all that must get the same option.
    """

    drives: tuple[ScheduledDrive, ...]
    options: tuple[DriveOption, ...]
    tags: tuple[tuple[str, ...], ...]

    @property
    def count(self) -> int:
        return len(self.drives)


def alike(problem: Problem) -> tuple[AlikeDrives, ...]:
    """The drives of a problem in groups, in the order of their first appearance."""
    found: dict[object, tuple[list[ScheduledDrive], tuple[DriveOption, ...]]] = {}
    for drive, options in zip(problem.drives, problem.allowed, strict=True):
        names = tuple(option.name for option in options)
        front_end = drive.front_end
        if AS_SCHEDULED not in names:
            front_end = replace(front_end, pulses=6, source_pct=1.0, reactor_pct=0.0, choke_pct=0.0)
        loads = tuple(
            None if (running := case.drive(drive)) is None else running.front_end.load_pct
            for case in problem.cases
        )
        quantity = 0 if problem.equal else drive.quantity
        key = (drive.bus, drive.rated_watts, quantity, front_end, names, loads)
        found.setdefault(key, ([], options))[0].append(drive)
    return tuple(_group(drives, options, problem.equal) for drives, options in found.values())


def _group(drives: list[ScheduledDrive], options: tuple[DriveOption, ...], equal: bool) -> AlikeDrives:
    """The drives one by one, or as one line that stands for all of them."""
    tags = tuple(drive.tag for drive in drives)
    if not equal:
        return AlikeDrives(tuple(drives), options, tuple((tag,) for tag in tags))
    together = replace(drives[0], quantity=sum(drive.quantity for drive in drives))
    return AlikeDrives((together,), options, (tags,))


@dataclass(frozen=True, eq=False)
class OptionCurrents:
    """Currents of the options of one group.

    Parameters
    ----------
    options : tuple of DriveOption
        Those that have a stable solution in every case.
    by_case : tuple of tuple of SourceCurrent or None
        Per option, per case; None where the drive does not run.
    refused : tuple of str
        Options without a solution, and why.
    """

    options: tuple[DriveOption, ...]
    by_case: tuple[tuple[SourceCurrent | None, ...], ...]
    refused: tuple[str, ...] = ()


def option_currents(
    cases: tuple[LimitCase, ...], groups: tuple[AlikeDrives, ...], progress: Progress | None = None
) -> tuple[OptionCurrents, ...]:
    """Currents of all options of all groups.

    Raises
    ------
    InputError
        A value does not suit the front end at its bus; the message names the drive.
    NoSolutionError
        A group is left without an option that has a stable solution; the message says why.
    """
    found = [_case_currents(case, groups, progress, k, len(cases)) for k, case in enumerate(cases)]
    results = []
    for g, group in enumerate(groups):
        kept, currents, refused = [], [], []
        for o, option in enumerate(group.options):
            outcomes = [found[c][g, o] for c in range(len(cases))]
            reasons = [
                f"{option.name} for {group.drives[0].tag} in case {case.name}: {outcome}"
                for case, outcome in zip(cases, outcomes, strict=True)
                if isinstance(outcome, str)
            ]
            if reasons:
                refused += reasons
                continue
            kept.append(option)
            currents.append(tuple(outcome for outcome in outcomes if not isinstance(outcome, str)))
        if not kept:
            raise NoSolutionError(
                f"no option of drive {group.drives[0].tag} has a solution: " + "; ".join(refused)
            )
        results.append(OptionCurrents(tuple(kept), tuple(currents), tuple(refused)))
    return tuple(results)


def fitted(drive: ScheduledDrive, option: DriveOption) -> ScheduledDrive | None:
    """The drive with the option's front end; None where the rectifier engine does not solve it.

    Raises
    ------
    InputError
        The front end refuses a value; the message names the drive.
    """
    try:
        front_end = option.physics.front_end(drive)
    except InputError as problem:
        raise problem.renamed(f"{problem.argument} of drive {drive.tag} with {option.name}") from None
    return None if front_end is None else replace(drive, front_end=front_end)


def _case_currents(
    case: LimitCase, groups: tuple[AlikeDrives, ...], progress: Progress | None, number: int, count: int
) -> dict[tuple[int, int], SourceCurrent | str | None]:
    """By group and option: the current, None for a drive that does not run, or why there is none."""
    found: dict[tuple[int, int], SourceCurrent | str | None] = {}
    engine: dict[tuple[int, int], ScheduledDrive] = {}
    for g, group in enumerate(groups):
        drive = case.drive(group.drives[0])
        for o, option in enumerate(group.options):
            if drive is None:
                found[g, o] = None
                continue
            ready = fitted(drive, option)
            if ready is not None:
                engine[g, o] = replace(ready, tag=f"{drive.tag} with {option.name}")
                continue
            try:
                found[g, o] = option.physics.source(case.network, drive)
            except NoSolutionError as problem:
                found[g, o] = str(problem)
    step = None if progress is None else lambda done, total: progress(number * total + done, count * total)
    results = solve_drives(StudiedPlant(case.network, tuple(engine.values())), step)
    for place, result in zip(engine, results, strict=True):
        usable = result.stable and not result.reason
        found[place] = SourceCurrent(result.load) if usable and result.load is not None else result.reason
    return found


def transfer_ratio(network: NodalNetwork, bus: str, source: str) -> ComplexArray:
    """Amperes drawn at `bus` that act like an ampere drawn at `source` behind it, orders 1 to 50.

    For a load on the bus itself 1: what other loads of the bus take of it is no concern of a filter that
    measures the drives.
    """
    if source == bus:
        return np.ones(ORDERS.size, np.complex128)
    own = network.current_share(bus, bus, ORDERS)
    return np.asarray(network.current_share(bus, source, ORDERS) / own, np.complex128)


def current_arriving(network: NodalNetwork, load: LoadCurrent, bus: str) -> ComplexArray:
    """Current of all units as it arrives at a bus, A in its frame, shape (3, 50)."""
    own = network.current_share(bus, bus, ORDERS)
    return np.asarray(load.at(network, bus) / own, np.complex128)
