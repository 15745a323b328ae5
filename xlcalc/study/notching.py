"""Commutation notches that the drives of a plant cut into the voltage of its buses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from xlcalc.equipment.notch import Notch, deepest, notches
from xlcalc.errors import NoSolutionError
from xlcalc.network.nodal import NodalNetwork
from xlcalc.rectifier.drive import BASE_HZ, FrontEnd, solve_front_end
from xlcalc.spectrum import FloatArray
from xlcalc.study.drives import front_end_on_bus
from xlcalc.study.plant import Drive

WAVEFORM_POINTS = 20_000


@dataclass(frozen=True)
class BusNotch:
    """Largest notch at a bus.

    Parameters
    ----------
    bus : str
        The bus.
    tag : str
        Drive that cuts the deepest notch; empty where no drive notches.
    notch : Notch
        Largest depth, area and width, each by itself; volt seconds at the voltage of the bus.
    """

    bus: str
    tag: str
    notch: Notch


@lru_cache(maxsize=512)
def per_unit_notch(front_end: FrontEnd, accept_doubt: bool = False) -> Notch:
    """Largest notch of a six-pulse drive at its bus, at 1 V line to line and 1 rad/s.

    `accept_doubt` takes uneven pulses, or one of two states, for what they are; see `SteadyState.doubt`.

    Raises
    ------
    NoSolutionError
        The front end has no stable solution, or a doubtful one.
    """
    state = solve_front_end(front_end)
    if state.doubt and not accept_doubt:
        raise NoSolutionError(state.doubt)
    _, current, bus = state.waveform(WAVEFORM_POINTS)
    emf = np.array([phase.samples(WAVEFORM_POINTS) for phase in state.source_emf])
    return deepest(notches(emf, bus, current, BASE_HZ, 1.0))


def one_bridge(front_end: FrontEnd) -> FrontEnd:
    """The drive itself at six pulses; otherwise one of its bridges, on its share of the rating.

    Leakage and the shared line reactor both lie between the bridge and the bus. The other bridges commutate
    at other instants.
    """
    count = front_end.bridges
    if count == 1:
        return front_end
    return replace(
        front_end,
        pulses=6,
        source_pct=front_end.source_pct / count,
        reactor_pct=front_end.reactor_pct / count + front_end.transformer_pct,
        leakage_mismatch_pct=0.0,
    )


def bus_notches(network: NodalNetwork, drives: Sequence[Drive]) -> tuple[BusNotch, ...]:
    """Largest notch at every bus, in the order of `network.buses`.

    Drives of one pulse number on one bus commutate together: their reactances stand in parallel and their
    areas add. Each is solved as if the whole bus were of its kind, which is exact for equal drives. Another
    bus sees the part of the notch that the impedance common to both leaves over: transfer reactance over
    driving-point reactance, each in per unit. What capacitors fill up, and what the turn of a transformer
    between the buses takes off, is left out.

    Raises
    ------
    NoSolutionError
        A drive has no stable solution; the message names it.
    """
    reactance = np.imag(network.fault_matrix(machines=True))
    cycle = BASE_HZ / network.hz
    together: dict[tuple[str, int], list[Drive]] = {}
    for drive in drives:
        together.setdefault((drive.bus, drive.front_end.pulses), []).append(drive)
    groups = [(group, _in_step(network, group)) for group in together.values()]
    found = []
    for bus in network.buses:
        seen = [(group, _seen(network, reactance, bus, group[0], notch)) for group, notch in groups]
        most = deepest(tuple(notch for _, notch in seen))
        volts = network.volts(bus)
        tags = next(
            (
                ", ".join(drive.tag for drive in group)
                for group, notch in seen
                if most.depth_pct and notch.depth_pct == most.depth_pct
            ),
            "",
        )
        in_volts = Notch(
            most.depth_pct, most.crest_depth_pct, volts * cycle * most.area_vs, cycle * most.width_s
        )
        found.append(BusNotch(bus, tags, in_volts))
    return tuple(found)


def _in_step(network: NodalNetwork, drives: Sequence[Drive]) -> Notch:
    """Notch at their bus of drives that commutate together, at 1 V and 1 rad/s."""
    total = sum(drive.quantity * drive.rated_watts for drive in drives)
    admittance, parts = 0.0, []
    for drive in drives:
        alone = one_bridge(front_end_on_bus(network, drive))
        try:
            notch = per_unit_notch(replace(alone, source_pct=alone.source_pct * total / drive.rated_watts))
        except NoSolutionError as problem:
            raise NoSolutionError(f"drive {drive.tag}: {problem}") from None
        share = drive.quantity * drive.rated_watts / total
        ratio = min(notch.depth_pct / 100.0, 1.0 - 1e-9)
        admittance += share * ratio / (1.0 - ratio)
        parts.append((share, notch))
    depth = 100.0 * admittance / (1.0 + admittance)
    highest = max(notch.depth_pct for _, notch in parts)
    scale = depth / highest if highest else 0.0
    return Notch(
        depth,
        scale * max(notch.crest_depth_pct for _, notch in parts),
        sum(share * notch.area_vs for share, notch in parts),
        max(notch.width_s for _, notch in parts),
    )


def _seen(network: NodalNetwork, reactance: FloatArray, bus: str, drive: Drive, notch: Notch) -> Notch:
    i, k = network.index(bus), network.index(drive.bus)
    share = reactance[i, k] / reactance[k, k] * network.volts(drive.bus) / network.volts(bus)
    return Notch(share * notch.depth_pct, share * notch.crest_depth_pct, share * notch.area_vs, notch.width_s)
