"""Drives that are alike in everything the choice depends on: only how many of them get an option matters."""

from __future__ import annotations

from dataclasses import dataclass, replace

from xlcalc.mitigation.options import AS_SCHEDULED, DriveOption
from xlcalc.mitigation.problem import Problem
from xlcalc.study.plant import Drive


@dataclass(frozen=True)
class Group:
    """Lines of the schedule that are alike.

    Parameters
    ----------
    drives : tuple of Drive
        Same bus, rating, quantity, load in every case, and options.
    options : tuple of DriveOption
        Open to each of them.
    """

    drives: tuple[Drive, ...]
    options: tuple[DriveOption, ...]

    @property
    def count(self) -> int:
        return len(self.drives)


def alike(problem: Problem) -> tuple[Group, ...]:
    """The drives of a problem in groups, in the order of their first appearance."""
    found: dict[object, tuple[list[Drive], tuple[DriveOption, ...]]] = {}
    for drive, options in zip(problem.drives, problem.allowed, strict=True):
        names = tuple(option.name for option in options)
        front_end = drive.front_end
        if AS_SCHEDULED not in names:
            front_end = replace(front_end, pulses=6, source_pct=1.0, reactor_pct=0.0, choke_pct=0.0)
        loads = tuple(
            None if (running := case.drive(drive)) is None else running.front_end.load_pct
            for case in problem.cases
        )
        key = (drive.bus, drive.rated_watts, drive.quantity, front_end, names, loads)
        found.setdefault(key, ([], options))[0].append(drive)
    return tuple(Group(tuple(drives), options) for drives, options in found.values())
