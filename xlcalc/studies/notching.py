"""Commutation notches that the drives of a plant cut into the voltage of its buses.

All figures are those of IEEE 519: taken from the line-to-line voltages, the depth in percent of the
line-to-line voltage that would be there at that instant, the area as volt seconds missing from it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from xlcalc.core.errors import NoSolutionError
from xlcalc.equipment.notch import AREA, DEPTH, NOTCH_EDITION, Notch, deepest, judge_notch, line_notches
from xlcalc.network.capacitors import CapacitorBank
from xlcalc.network.nodal import NodalNetwork
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.rectifier.drive import BASE_HZ, FrontEnd, solve_front_end
from xlcalc.standards.verdict import Judgement, within
from xlcalc.studies.coupled.commutation import POINTS, BusVoltages, Commutation, bus_voltages
from xlcalc.studies.coupled.orbits import PHASES, BoolArray, commutating_pairs
from xlcalc.studies.drives import solve_drives
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import PlantSolution, solve_coupled

NOTABLE = 0.02
"""Share of the deepest deviation from which a drive is named; weaker drives are left out that together do not
reach it."""

NO_NOTCH = deepest(())

LINE_ANGLES_DEG = (-30.0, 90.0, 210.0)
"""Of the line-to-line voltages ab, bc, ca against phase a."""

HIGHEST_PULSE = 3.0
"""Peak of the line current over that of the rated fundamental: common practice, no source. It bounds what a
drive without a solution could add."""

PLAIN_CAPACITOR_ERROR: Final = 0.1
"""Depth 5 % low and area 8 % high was seen against circuit simulations (plain banks of 100 and 300 kvar)."""


@dataclass(frozen=True, kw_only=True)
class BusNotch:
    """Largest notch at a bus.

    Parameters
    ----------
    bus : str
        The bus.
    volts : float
        Its nominal line-to-line rms voltage.
    tags : tuple of str
        Drives that make the deepest notch together; empty where no drive notches.
    notch : Notch
        Largest depth, area and width, each by itself; NaN where a drive of this bus has no solution.
    doubts : tuple of str
        Why the notch cannot be judged.
    missing : tuple of str
        Drives of other buses without a solution, each a sentence.
    unknown : Notch
        What they could add at most to depth and area.
    remark : str
        What the figures leave out beside that; empty where they do not.
    plain_capacitors : bool
        Whether capacitors without a series reactor stand in the network: depth and area may then be off by
        `PLAIN_CAPACITOR_ERROR`, so that a value this close to its limit is no PASS.
    """

    bus: str
    volts: float
    tags: tuple[str, ...]
    notch: Notch
    doubts: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    unknown: Notch = NO_NOTCH
    remark: str = ""
    plain_capacitors: bool = False

    @property
    def remarks(self) -> str:
        """What qualifies the figures, in one line."""
        return "; ".join(filter(None, (*self.missing, self.remark)))

    def judged(self, system_class: str, edition: str = NOTCH_EDITION) -> Judgement:
        """Against a class of IEEE 519; in doubt where a drive without a solution could change it."""
        judgement = judge_notch(self.notch, system_class, self.volts, edition).doubted(*self.doubts)
        binding = judgement.binding
        if self.plain_capacitors and judgement.passes and binding.ratio > 1.0 - PLAIN_CAPACITOR_ERROR:
            share = 100.0 * PLAIN_CAPACITOR_ERROR
            return judgement.doubted(
                f"{binding.name} is within {share:g} % of its limit, and next to plain capacitors it is not "
                "known more closely"
            )
        if self.doubts or judgement.passes is False or not self.missing:
            return judgement
        limits = {verdict.quantity: verdict.limit for verdict in judgement.verdicts}
        depth = self.notch.depth_pct + self.unknown.depth_pct
        area = 1e6 * (self.notch.area_vs + self.unknown.area_vs)
        if within(depth, limits[DEPTH]) and within(area, limits[AREA]):
            return judgement
        return judgement.doubted(*self.missing)


@lru_cache(maxsize=512)
def per_unit_notch(front_end: FrontEnd, accept_doubt: bool = False) -> Notch:
    """Largest notch of a six-pulse drive at its bus, at 1 V line to line and 1 rad/s.

    `accept_doubt` takes uneven pulses, or one of two states, for what they are; see `rectifier.doubts`.

    Raises
    ------
    NoSolutionError
        The front end has no stable solution, or a doubtful one.
    """
    from xlcalc.rectifier.trace import trace_vectors

    state = solve_front_end(front_end)
    if doubt_of(state) and not accept_doubt:
        raise NoSolutionError(doubt_of(state))
    if front_end.filter is not None:
        return NO_NOTCH
    angle = 2.0 * math.pi * np.arange(POINTS) / POINTS
    _, volts, conducting = trace_vectors(state.circuit, state.orbit_point, angle)
    emf = np.array([phase.samples(POINTS) for phase in state.source_emf])
    at_bus = (np.conj(PHASES)[:, None] * volts).real
    lines = [wave - np.roll(wave, -1, axis=0) for wave in (emf, at_bus)]
    return deepest(line_notches(lines[0], lines[1], commutating_pairs(conducting[0]), BASE_HZ, 1.0))


def bus_notches(
    plant: StudiedPlant, coupled: Callable[[StudiedPlant], PlantSolution] = solve_coupled
) -> tuple[BusNotch, ...]:
    """Largest notch at every bus, in the order of the network's buses.

    Measured in the waveform of the bus voltage that all drives make together. Commutations of drives whose
    voltages are in phase at the bus are one notch where they overlap, from the first to start to the last to
    end; those of other phase shifts, as of 12 pulses, are notches of their own. Capacitors count up to order
    50.

    A drive without a solution leaves its own bus without a notch, one with a doubtful solution without a
    verdict; the others are solved without it.

    Parameters
    ----------
    plant : StudiedPlant
        With a nodal network.
    coupled : callable
        Solves it.
    """
    found = _found(plant, coupled)
    if not (plant.doubts or plant.remarks):
        return found
    return tuple(
        replace(
            one,
            doubts=(*plant.doubts, *one.doubts),
            remark="; ".join(filter(None, (*plant.remarks, one.remark))),
        )
        for one in found
    )


def _found(plant: StudiedPlant, coupled: Callable[[StudiedPlant], PlantSolution]) -> tuple[BusNotch, ...]:
    network = plant.network
    try:
        return _measured(coupled(plant))
    except NoSolutionError as problem:
        failed = {
            result.drive: f"drive {result.drive.tag} has no solution: {result.reason}"
            for result in solve_drives(plant)
            if not result.stable
        }
        lost = {drive.bus for drive in failed}
        if not failed:
            return tuple(_unknown(network, bus, (str(problem),)) for bus in network.buses)
        missing = tuple(drive for drive in plant.drives if drive.bus in lost)
        rest = replace(plant, drives=tuple(drive for drive in plant.drives if drive.bus not in lost))
        try:
            found = _measured(coupled(rest))
        except NoSolutionError as second:
            doubts = (*failed.values(), str(second))
            return tuple(_unknown(network, bus, doubts) for bus in network.buses)
        return tuple(
            _unknown(network, one.bus, tuple(text for drive, text in failed.items() if drive.bus == one.bus))
            if one.bus in lost
            else replace(
                one,
                missing=tuple(failed.values()),
                unknown=_at_most(network, one.bus, missing),
            )
            for one in found
        )


def _unknown(network: NodalNetwork, bus: str, doubts: tuple[str, ...]) -> BusNotch:
    nan = float("nan")
    return BusNotch(
        bus=bus, volts=network.volts(bus), tags=(), notch=Notch(nan, nan, nan, nan), doubts=doubts
    )


def _at_most(network: NodalNetwork, bus: str, drives: Sequence[ScheduledDrive]) -> Notch:
    """Depth and area that drives of other buses add at most: their buses shorted, their current swinging."""
    matrix = network.fault_matrix(machines=True)
    i = network.index(bus)
    depth = area = 0.0
    for drive in drives:
        k = network.index(drive.bus)
        volts = network.volts(drive.bus)
        peak = HIGHEST_PULSE * math.sqrt(2.0 / 3.0) * drive.quantity * drive.rated_watts / volts
        area += 2.0 * peak * abs(matrix[i, k].imag) / (2.0 * math.pi * network.hz)
        share = abs(matrix[i, k].imag / matrix[k, k].imag) * volts / network.volts(bus)
        depth = max(depth, 100.0 * share)
    return Notch(depth, depth, area, 0.0)


def _measured(solution: PlantSolution) -> tuple[BusNotch, ...]:
    waves = bus_voltages(solution)
    network = waves.network
    doubts: dict[str, list[str]] = {}
    for result in solution.drives:
        if result.reason:
            doubts.setdefault(result.drive.bus, []).append(f"drive {result.drive.tag}: {result.reason}")
    remark = ""
    plain = any(bank.reactor_pct == 0.0 for bank in network.capacitors if isinstance(bank, CapacitorBank))
    if network.capacitors:
        remark = "what capacitors fill up is counted up to order 50 only"
    found = []
    for bus in network.buses:
        volts = network.volts(bus)
        undisturbed, actual = (waves.line_volts(part, bus) for part in (waves.undisturbed, waves.volts))
        groups = _in_phase(waves, bus)
        seen = []
        for group in groups:
            others = [part.flags.any(axis=0) for part in groups if part is not group]
            apart = np.any(others, axis=0) if others else None
            notches = line_notches(undisturbed, actual, group.flags, network.hz, volts, apart)
            seen += [(notch, group.bridges) for notch in notches]
        tags: tuple[str, ...] = ()
        most = deepest(tuple(notch for notch, _ in seen))
        if most.depth_pct > 0.0:
            notch, bridges = max(seen, key=lambda item: item[0].depth_pct)
            tags = _taking_part(waves, bus, bridges, notch.deepest_at % waves.volts.shape[1])
        doubt = tuple(doubts.get(bus, ()))
        found.append(
            BusNotch(
                bus=bus,
                volts=volts,
                tags=tags,
                notch=most,
                doubts=doubt,
                remark=remark,
                plain_capacitors=plain,
            )
        )
    return tuple(found)


@dataclass(frozen=True, eq=False)
class _InPhase:
    """Bridges whose voltages are in phase at a bus.

    Parameters
    ----------
    bridges : tuple of Commutation
    flags : array of bool, shape (3, n)
        When each line-to-line voltage of the bus is notched by one of them.
    """

    bridges: tuple[Commutation, ...]
    flags: BoolArray


def _in_phase(waves: BusVoltages, bus: str) -> list[_InPhase]:
    """Bridges by their phase shift against a bus."""
    turned: dict[int, list[Commutation]] = {}
    for one in _noticed(waves, bus):
        ahead = one.shift_deg - waves.network.shift_deg(bus)
        turned.setdefault(round(ahead) % 60, []).append(one)
    found = []
    for bridges in turned.values():
        flags = np.zeros((3, waves.volts.shape[1]), bool)
        for one in bridges:
            for own, pair in _notched(one.shift_deg - waves.network.shift_deg(bus)):
                flags[pair] |= one.pairs[own]
        found.append(_InPhase(tuple(bridges), flags))
    return found


def _noticed(waves: BusVoltages, bus: str) -> list[Commutation]:
    """Bridges without the weakest ones, which together are lost beside the others."""
    reactance = waves.network.fault_matrix(machines=True).imag[waves.network.index(bus)]
    strength = [abs(reactance[waves.network.index(one.bus)]) * one.most for one in waves.commutations]
    order = np.argsort(strength)
    rising = np.cumsum(np.array(strength)[order])
    kept = order[rising > NOTABLE * rising[-1]] if rising.size else order
    return [waves.commutations[k] for k in sorted(kept)]


def _notched(ahead_deg: float) -> list[tuple[int, int]]:
    """Which line-to-line voltages of a bus each pair of phases of a bridge notches most, both of two alike.

    A notch in direction d takes d cos(angle between them) from a line-to-line voltage.
    """
    found = []
    for own, angle in enumerate(LINE_ANGLES_DEG):
        parts = [abs(math.cos(math.radians(angle - ahead_deg - line))) for line in LINE_ANGLES_DEG]
        found += [(own, pair) for pair, part in enumerate(parts) if part > max(parts) - 1e-6]
    return found


def _taking_part(
    waves: BusVoltages, bus: str, together: Sequence[Commutation], point: int
) -> tuple[str, ...]:
    """Drives that commutate at an instant and make a notable part of the deviation there, largest first."""
    matrix = waves.network.fault_matrix(machines=True).imag
    i = waves.network.index(bus)
    parts: dict[tuple[str, ...], float] = {}
    for one in together:
        if one.pairs[:, point].any():
            parts[one.tags] = abs(matrix[i, waves.network.index(one.bus)] * one.rate_at(point))
    largest = max(parts.values(), default=0.0)
    notable = sorted((part, tags) for tags, part in parts.items() if part >= NOTABLE * largest)
    return tuple(tag for _, tags in reversed(notable) for tag in tags)
