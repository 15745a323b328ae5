"""The same network with some of it switched off."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from xlcalc.core.errors import InputError
from xlcalc.network.branches import Branch
from xlcalc.network.elements import Utility
from xlcalc.network.nodal import UTILITY, NodalNetwork
from xlcalc.network.three_winding import WindingPair
from xlcalc.network.topology import connected


def switched(network: NodalNetwork, off: Iterable[str]) -> NodalNetwork:
    """The network without the named elements and buses.

    Parameters
    ----------
    network : NodalNetwork
        The whole network.
    off : iterable of str
        Names of elements or buses that are out of service; a bus takes along all that stands on it. "utility"
        leaves the plant to its generators: the largest one in service becomes the supply, holds its terminal
        voltage, and brings no background distortion.

    Returns
    -------
    NodalNetwork
        Buses that are left without supply are gone if nothing stands on them.

    Raises
    ------
    InputError
        An unknown name, no generator in the utility's place, or an element on a bus without supply.
    """
    names = set(off)
    units = (unit.name for unit in network.three_winding)
    known = {UTILITY, *network.buses, *units, *(element.name for element in network.elements)}
    for name in sorted(names - known):
        raise InputError(
            "element out of service", name, "one of " + ", ".join(sorted(known)), wrong_kind=True
        )
    reduced = _without(network, names)
    if UTILITY in names or network.utility_bus in names:
        reduced = _on_generators(reduced)
    live = connected(reduced["utility_bus"], reduced["branches"])
    for shunt in (*reduced["capacitors"], *reduced["loads"], *reduced["generators"]):
        if shunt.bus not in live:
            raise InputError(
                f"bus of {shunt.name}",
                shunt.bus,
                "a bus with supply; take it out of service too",
                wrong_kind=True,
            )
    reduced["nodes"] = tuple(node for node in reduced["nodes"] if node.name in live)
    reduced["branches"] = tuple(b for b in reduced["branches"] if b.from_bus in live)
    return replace(network, **reduced)


def _without(network: NodalNetwork, names: set[str]) -> dict[str, Any]:
    def kept(elements: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(e for e in elements if e.name not in names and e.bus not in names)

    return {
        "utility": network.utility,
        "utility_bus": network.utility_bus,
        "holds_terminal": network.holds_terminal,
        "island_generator": network.island_generator,
        "nodes": tuple(node for node in network.nodes if node.name not in names),
        "branches": tuple(_opened(b, names) for b in network.branches if not names & _belongings(b)),
        "capacitors": kept(network.capacitors),
        "loads": kept(network.loads),
        "generators": kept(network.generators),
    }


def _belongings(branch: Branch) -> set[str]:
    """Names that take a branch out of service."""
    own = {branch.name, branch.from_bus, branch.to_bus}
    return own | {branch.unit} if isinstance(branch, WindingPair) else own


def _opened(branch: Branch, names: set[str]) -> Branch:
    """The branch; between two windings the plain short-circuit impedance where the third has no bus."""
    if isinstance(branch, WindingPair) and names & set(branch.transformer.buses):
        return replace(branch, third_open=True)
    return branch


def _on_generators(reduced: dict[str, Any]) -> dict[str, Any]:
    if not reduced["generators"]:
        raise InputError(
            "utility", "out of service", "in service, because no generator takes its place", wrong_kind=True
        )
    leading = max(reduced["generators"], key=lambda generator: generator.rating_va)
    return {
        **reduced,
        "utility": Utility(
            leading.rated_volts, leading.short_circuit_va, leading.x_over_r, unknown=frozenset()
        ),
        "utility_bus": leading.bus,
        "holds_terminal": True,
        "island_generator": leading,
        "generators": tuple(g for g in reduced["generators"] if g is not leading),
    }
