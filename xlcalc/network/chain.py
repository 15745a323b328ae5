"""The network of a plant whose transformers stand one behind the other."""

from __future__ import annotations

from xlcalc.network.branches import TransformerBranch
from xlcalc.network.capacitors import Capacitive
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.nodal import Load, NodalNetwork
from xlcalc.network.topology import Bus

UTILITY_BUS = "utility"
MAIN_BUS = "main"
SECOND_BUS = "second"


def series_network(
    utility: Utility,
    supply: Transformer | None = None,
    second: Transformer | None = None,
    *,
    capacitors: tuple[Capacitive, ...] = (),
    loads: tuple[Load, ...] = (),
) -> NodalNetwork:
    """Utility [-> supply transformer -> bus "main" [-> second transformer -> bus "second"]].

    Parameters
    ----------
    utility : Utility
        The supply; its terminal is the bus "utility".
    supply, second : Transformer, optional
        Their phase shifts may be any angle. A second one needs a first.
    capacitors, loads : tuple
        What stands on the buses.

    Raises
    ------
    InputError
        Voltages that do not fit each other, or an element on a bus that is not there.

    Examples
    --------
    The level at the main bus follows 1/S = 1/S_utility + 1/S_transformer where all X/R are equal:

    >>> plant = series_network(Utility(13.8e3, 200e6, 10), Transformer(2.5e6, 5, 10, 13.8e3, 480))
    >>> plant.buses, round(plant.short_circuit_va("main") / 1e6, 6)
    (('utility', 'main'), 40.0)
    """
    nodes, branches = [Bus(UTILITY_BUS, utility.volts)], []
    if supply is not None:
        nodes.append(Bus(MAIN_BUS, supply.secondary_volts))
        branches.append(TransformerBranch("supply transformer", UTILITY_BUS, MAIN_BUS, supply))
    if second is not None:
        nodes.append(Bus(SECOND_BUS, second.secondary_volts))
        branches.append(TransformerBranch("second transformer", MAIN_BUS, SECOND_BUS, second))
    return NodalNetwork(
        utility=utility,
        utility_bus=UTILITY_BUS,
        nodes=tuple(nodes),
        branches=tuple(branches),
        capacitors=capacitors,
        loads=loads,
    )
