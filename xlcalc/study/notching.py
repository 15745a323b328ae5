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
def per_unit_notch(front_end: FrontEnd) -> Notch:
    """Largest notch of a six-pulse drive at its bus, at 1 V line to line and 1 rad/s.

    Raises
    ------
    NoSolutionError
        The front end has no stable solution.
    """
    state = solve_front_end(front_end)
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

    Each drive is solved on its bus; another bus sees the part of the notch that the impedance common to both
    leaves over: transfer reactance over driving-point reactance, each in per unit. What capacitors fill up,
    and what the turn of a transformer between the buses takes off, is left out; both lie on the safe side.

    Raises
    ------
    NoSolutionError
        A drive has no stable solution; the message names it.
    """
    reactance = np.imag(network.fault_matrix(machines=True))
    cycle = BASE_HZ / network.hz
    at_own_bus = {drive.tag: _solved(network, drive) for drive in drives}
    found = []
    for bus in network.buses:
        seen = [(drive.tag, _seen(network, reactance, bus, drive, at_own_bus[drive.tag])) for drive in drives]
        most = deepest(tuple(notch for _, notch in seen))
        volts = network.volts(bus)
        tag = next((tag for tag, notch in seen if most.depth_pct and notch.depth_pct == most.depth_pct), "")
        in_volts = Notch(
            most.depth_pct, most.crest_depth_pct, volts * cycle * most.area_vs, cycle * most.width_s
        )
        found.append(BusNotch(bus, tag, in_volts))
    return tuple(found)


def _solved(network: NodalNetwork, drive: Drive) -> Notch:
    try:
        return per_unit_notch(one_bridge(front_end_on_bus(network, drive)))
    except NoSolutionError as problem:
        raise NoSolutionError(f"drive {drive.tag}: {problem}") from None


def _seen(network: NodalNetwork, reactance: FloatArray, bus: str, drive: Drive, notch: Notch) -> Notch:
    i, k = network.index(bus), network.index(drive.bus)
    share = reactance[i, k] / reactance[k, k] * network.volts(drive.bus) / network.volts(bus)
    return Notch(share * notch.depth_pct, share * notch.crest_depth_pct, share * notch.area_vs, notch.width_s)
