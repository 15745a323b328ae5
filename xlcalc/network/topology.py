"""What must hold before a plant can be solved: names, connections, voltages, and shifts that agree."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.network.branches import Branch, Line, TransformerBranch
from xlcalc.network.three_winding import WINDINGS, WindingPair

MAX_VOLTAGE_MISMATCH = 0.10
SAME_SHIFT_DEG = 1e-6


@dataclass(frozen=True)
class Bus:
    """A bus and its nominal line-to-line rms voltage, V."""

    name: str
    volts: float

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise InputError("bus", self.name, "a name that is not blank", wrong_kind=True)
        number(f"volts of bus {self.name}", self.volts, unit="V", above=0)


def check_names(kind: str, names: Iterable[str]) -> None:
    """Raises `InputError` where a name is blank or comes twice."""
    seen: set[str] = set()
    for name in names:
        if not name.strip():
            raise InputError(f"name of a {kind}", name, "a name that is not blank", wrong_kind=True)
        if name in seen:
            raise InputError(f"name of a {kind}", name, "each name once", wrong_kind=True)
        seen.add(name)


def check_bus(argument: str, bus: str, known: Mapping[str, float]) -> None:
    """Raises `InputError` for a bus that does not exist."""
    if bus not in known:
        raise InputError(argument, bus, "one of " + ", ".join(known), wrong_kind=True)


def check_volts(argument: str, volts: float, bus: str, known: Mapping[str, float]) -> None:
    """Raises `InputError` where a rated voltage differs from that of the bus by more than 10 %."""
    if abs(volts / known[bus] - 1.0) > MAX_VOLTAGE_MISMATCH:
        raise InputError(argument, volts, f"within 10 % of the {known[bus]:g} V of bus {bus}")


def check_branch(branch: Branch, known: Mapping[str, float]) -> None:
    """Raises `InputError` where the ends of a branch do not exist, are one bus, or have other voltages."""
    check_bus(f"from_bus of {branch.name}", branch.from_bus, known)
    check_bus(f"to_bus of {branch.name}", branch.to_bus, known)
    if branch.from_bus == branch.to_bus:
        raise InputError(f"to_bus of {branch.name}", branch.to_bus, "another bus than its from_bus")
    if isinstance(branch, WindingPair):
        for winding, bus in ((branch.first, branch.from_bus), (branch.second, branch.to_bus)):
            volts = branch.transformer.volts[winding]
            check_volts(f"{WINDINGS[winding]} volts of {branch.unit}", volts, bus, known)
    elif isinstance(branch, TransformerBranch):
        rated = branch.transformer
        check_volts(f"primary_volts of {branch.name}", rated.primary_volts, branch.from_bus, known)
        check_volts(f"secondary_volts of {branch.name}", rated.secondary_volts, branch.to_bus, known)
    elif isinstance(branch, Line):
        check_volts(f"voltage at the from_bus of {branch.name}", known[branch.from_bus], branch.to_bus, known)


def connected(start: str, branches: Iterable[Branch], without: str | None = None) -> set[str]:
    """Buses that branches join to `start`, itself included; a bus `without` is passed by none."""
    neighbours = _neighbours(branches)
    reached = {start}
    frontier = [start]
    while frontier:
        for branch in neighbours.get(frontier.pop(), ()):
            for bus in (branch.from_bus, branch.to_bus):
                if bus not in reached and bus != without:
                    reached.add(bus)
                    frontier.append(bus)
    return reached


def check_connected(buses: Sequence[str], start: str, branches: Iterable[Branch]) -> None:
    """Raises `InputError` that names the buses which no branch joins to the supply."""
    reached = connected(start, branches)
    lost = [bus for bus in buses if bus not in reached]
    if lost:
        raise InputError(
            f"bus {lost[0]}",
            "an island" + (f" with {', '.join(lost[1:])}" if lost[1:] else ""),
            f"joined to the supply at bus {start} by lines or transformers",
            wrong_kind=True,
        )


def phase_shifts(start: str, branches: Sequence[Branch]) -> dict[str, float]:
    """Angle by which the voltage of each bus leads that of `start`, -180 to 180 degrees.

    Raises
    ------
    InputError
        Two ways to one bus give different angles: a loop of transformers whose vector groups contradict. The
        message names the branch that closes the loop.
    """
    neighbours = _neighbours(branches)
    shifts = {start: 0.0}
    frontier = [start]
    while frontier:
        bus = frontier.pop(0)
        for branch in neighbours.get(bus, ()):
            forward = branch.from_bus == bus
            other = branch.to_bus if forward else branch.from_bus
            angle = _wrapped(shifts[bus] + (branch.shift_deg if forward else -branch.shift_deg))
            if other not in shifts:
                shifts[other] = angle
                frontier.append(other)
            elif abs(_wrapped(angle - shifts[other])) > SAME_SHIFT_DEG:
                expected = _wrapped(shifts[branch.to_bus] - shifts[branch.from_bus])
                raise InputError(
                    f"phase shift of {branch.name}",
                    f"{branch.shift_deg:g} degrees",
                    f"{expected:g} degrees, as the rest of its loop from {branch.from_bus} to "
                    f"{branch.to_bus} has; the vector groups contradict",
                    wrong_kind=True,
                )
    return shifts


def _neighbours(branches: Iterable[Branch]) -> dict[str, list[Branch]]:
    found: dict[str, list[Branch]] = {}
    for branch in branches:
        found.setdefault(branch.from_bus, []).append(branch)
        found.setdefault(branch.to_bus, []).append(branch)
    return found


def _wrapped(degrees: float) -> float:
    """The same angle, above -180 to 180 degrees."""
    return 180.0 - (180.0 - degrees) % 360.0
