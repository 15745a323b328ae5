"""What of a load's current an active filter on another bus measures."""

from __future__ import annotations

import numpy as np

from xlcalc.network.nodal import NodalNetwork
from xlcalc.spectrum import ComplexArray
from xlcalc.study.sources import ORDERS, LoadCurrent


def arriving_share(network: NodalNetwork, bus: str, source: str) -> ComplexArray:
    """Amperes drawn at `bus` that act like an ampere drawn at `source` behind it, orders 1 to 50.

    For a load on the bus itself 1: what other loads of the bus take of it is no concern of a filter that
    measures the drives.
    """
    if source == bus:
        return np.ones(ORDERS.size, np.complex128)
    own = network.current_share(bus, bus, ORDERS)
    return np.asarray(network.current_share(bus, source, ORDERS) / own, np.complex128)


def arriving(network: NodalNetwork, load: LoadCurrent, bus: str) -> ComplexArray:
    """Current of all units as it arrives at a bus, A in its frame, shape (3, 50)."""
    own = network.current_share(bus, bus, ORDERS)
    return np.asarray(load.at(network, bus) / own, np.complex128)
