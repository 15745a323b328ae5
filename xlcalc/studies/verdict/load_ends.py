"""Both ends of what linear load may be to harmonics: next to a resonance they decide the result."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from xlcalc.network.branches import Line
from xlcalc.network.loads import LoadModel, StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.spectrum import MAX_ORDER

AS_GIVEN: Final = "as given"
NEAR_ORDERS: Final = 1.2 * MAX_ORDER
"""Resonances up to here raise orders that are judged; the margin is for what the estimate leaves out."""


def load_ends(network: NodalNetwork) -> dict[str, NodalNetwork]:
    """The network by what its static loads are to harmonics: as given, all in parallel, all open.

    Parameters
    ----------
    network : NodalNetwork
        With its load models as they were given, which come first.

    Returns
    -------
    dict of str to NodalNetwork
        Only the network as it is where it holds no static load, or no capacitance that resonates with the
        sources at an order that is judged: then loads shunt a little of each harmonic and amplify none.
    """
    found = {AS_GIVEN: network}
    if resonates(network):
        for model, name in ((LoadModel.PARALLEL, "parallel R and L"), (LoadModel.NONE, "open")):
            loads = tuple(
                replace(load, model=model) if isinstance(load, StaticLoad) else load for load in network.loads
            )
            if loads != network.loads:
                found[name] = replace(network, loads=loads)
    return found


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
