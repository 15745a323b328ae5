"""Both ends of what is open of a network: the level of its supply, and what linear load is to harmonics.

Next to a resonance the latter decides the result.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from xlcalc.core.spectrum import MAX_ORDER
from xlcalc.network.branches import Line
from xlcalc.network.loads import LoadModel, StaticLoad
from xlcalc.network.nodal import NodalNetwork

AS_GIVEN: Final = "as given"
LEAST_SUPPLY: Final = "minimum supply"
"""Name of the network as given on the least short-circuit level of its utility."""
NEAR_ORDERS: Final = 1.2 * MAX_ORDER
"""Resonances up to here raise orders that are judged; the margin is for what the estimate leaves out."""


def load_ends(network: NodalNetwork) -> dict[str, NodalNetwork]:
    """The network at each level of its supply, its static loads as given, all in parallel, all open.

    Parameters
    ----------
    network : NodalNetwork
        With its load models as they were given, which come first.

    Returns
    -------
    dict of str to NodalNetwork
        By a plain phrase. Static loads only as they are where there is none, or no capacitance that resonates
        with the sources at an order that is judged: then they shunt a little of each harmonic and amplify
        none.
    """
    found = {}
    for supply, at_level in supply_levels(network).items():
        found[supply] = at_level
        if not resonates(at_level):
            continue
        for model, text in ((LoadModel.PARALLEL, "parallel R and L"), (LoadModel.NONE, "open")):
            loads = tuple(
                replace(load, model=model) if isinstance(load, StaticLoad) else load for load in network.loads
            )
            if loads != network.loads:
                name = f"static loads {text}" if supply == AS_GIVEN else f"{supply}, static loads {text}"
                found[name] = replace(at_level, loads=loads)
    return found


def supply_levels(network: NodalNetwork) -> dict[str, NodalNetwork]:
    """The network as given, and on the least short-circuit level of its utility where it states another."""
    utility = network.utility
    if utility.least_va is None:
        return {AS_GIVEN: network}
    least = replace(utility, short_circuit_va=utility.least_va, least_va=None)
    return {AS_GIVEN: network, LEAST_SUPPLY: replace(network, utility=least)}


def resonates(network: NodalNetwork) -> bool:
    """Whether capacitors, or cables long enough, can resonate with the sources at an order that is judged.

    Capacitors always count. For cables the order is ``sqrt(S_sc / Q_c)``, with the charging of all cables and
    the lowest fault level of the buses they end on, which puts it too low rather than too high.
    """
    leading = any(isinstance(load, StaticLoad) and load.var < 0.0 for load in network.loads)
    if network.capacitors or leading:
        return True
    cables = [line for line in network.branches if isinstance(line, Line) and line.charging > 0.0]
    if not cables:
        return False
    var = sum(line.charging * line.parallel * network.volts(line.to_bus) ** 2 for line in cables)
    level = min(network.short_circuit_va(bus) for line in cables for bus in (line.from_bus, line.to_bus))
    return math.sqrt(level / var) < NEAR_ORDERS
