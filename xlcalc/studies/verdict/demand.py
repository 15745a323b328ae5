"""The maximum demand current of a PCC: whether a typed one can be right, and what stands for a blank one."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

from xlcalc.core.errors import NoSolutionError
from xlcalc.network.branches import Branch, TransformerBranch
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.three_winding import WindingPair
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solution import PlantSolution

ESTIMATED: Final = "estimated"

BELOW_FUNDAMENTAL: Final = 0.005
"""Share by which a typed current may lie below the fundamental of the study: it is rounded when typed."""

ABOVE_RATING: Final = 1.5
"""Share of the rating of what feeds the PCC above which a typed current is taken for a slip; common practice,
no source: transformers run above their rating for hours, not by half for a demand interval."""


@dataclass(frozen=True, kw_only=True)
class Demand:
    """The demand current by which a PCC is judged.

    Parameters
    ----------
    amps : float
        Maximum demand current I_L, A rms at the PCC.
    basis : "typed" or "estimated"
    doubts : tuple of str
        Why a typed current can hardly be right, each a plain sentence.
    """

    amps: float
    basis: Literal["typed", "estimated"]
    doubts: tuple[str, ...] = ()


def demand_of(
    plant: StudiedPlant,
    network: NodalNetwork,
    bus: str,
    typed: float | None,
    fundamental: float,
    largest: float | None = None,
) -> Demand:
    """The demand current of a PCC, held against what flows there and against what feeds it.

    Parameters
    ----------
    plant : StudiedPlant
        Its drives count where nothing rated feeds the PCC.
    network : NodalNetwork
    bus : str
        The PCC.
    typed : float or None
        What was typed, A; None for blank.
    fundamental : float
        Fundamental at the PCC in this case, A.
    largest : float, optional
        The largest fundamental at the PCC over all cases of the study, A.
    """
    most = max(fundamental, largest or 0.0)
    if typed is None:
        return Demand(amps=most, basis="estimated")
    doubts = []
    if typed < (1.0 - BELOW_FUNDAMENTAL) * most:
        of = "the study" if most > fundamental else "this case"
        doubts.append(
            f"IL typed {amps_text(typed)} is below the fundamental current of {of}, {amps_text(most)}, at "
            f"the PCC {bus}{_other_level(network, bus, typed, most, math.inf)}"
        )
    rated = rated_amps(plant, network, bus)
    bound = ABOVE_RATING * max(rated or math.inf, most)
    if typed > bound:
        hint = _other_level(network, bus, typed, most, bound) or ": is it amperes of another voltage level?"
        doubts.append(
            f"IL typed {amps_text(typed)} is above {ABOVE_RATING:g} times the rated current of what feeds "
            f"the PCC {bus}, {amps_text(rated or most)}{hint}"
        )
    return Demand(amps=typed, basis="typed", doubts=tuple(doubts))


def rated_amps(plant: StudiedPlant, network: NodalNetwork, bus: str) -> float | None:
    """Rated current of what feeds a bus, A at its voltage.

    Transformers between the bus and the supply; where there are none, as at the utility, the transformers
    just behind the bus and the loads and drives on it. Cables have no rating here and lead on to what lies
    beyond them. None where nothing with a rating is found.

    Parameters
    ----------
    plant : StudiedPlant
    network : NodalNetwork
        In the state that is judged.
    bus : str

    Returns
    -------
    float or None
    """
    va = _feeding_va(network, bus)
    if va is None:
        va = sum(_supplied_va(plant, network, bus))
    return va / (math.sqrt(3.0) * network.volts(bus)) if va else None


def _feeding_va(network: NodalNetwork, bus: str) -> float | None:
    """Rating of the transformers that feed a bus; None where it hangs on the utility without any."""
    total, waiting, seen, units = 0.0, [bus], {bus}, set()
    while waiting:
        at = waiting.pop()
        if network.index(at) == 0:
            return None
        for branch in network.supply_branches(at):
            rating = _rating_va(branch)
            if rating is not None:
                total += 0.0 if _unit(branch) in units else rating
                units.add(_unit(branch))
                continue
            far = branch.from_bus if branch.to_bus == at else branch.to_bus
            if far not in seen:
                seen.add(far)
                waiting.append(far)
    return total


def _supplied_va(plant: StudiedPlant, network: NodalNetwork, bus: str) -> Iterator[float]:
    """Ratings of what hangs on a bus, seen away from the supply; cables lead on."""
    upstream = [] if network.index(bus) == 0 else network.supply_branches(bus)
    reached, waiting, units = {bus}, [bus], set()
    while waiting:
        at = waiting.pop()
        for branch in network.branches:
            if at not in (branch.from_bus, branch.to_bus) or branch in upstream:
                continue
            rating = _rating_va(branch)
            if rating is not None:
                if _unit(branch) not in units:
                    units.add(_unit(branch))
                    yield rating
                continue
            far = branch.from_bus if branch.to_bus == at else branch.to_bus
            if far not in reached:
                reached.add(far)
                waiting.append(far)
    yield from (abs(load.power) for load in network.loads if load.bus in reached)
    for drive in plant.drives:
        if drive.bus in reached:
            yield drive.rated_watts * drive.quantity * max(1.0, drive.front_end.load_pct / 100.0)


def _rating_va(branch: Branch) -> float | None:
    if isinstance(branch, TransformerBranch):
        return branch.transformer.rating_va
    return branch.transformer.rating_va if isinstance(branch, WindingPair) else None


def _unit(branch: Branch) -> str:
    return branch.unit if isinstance(branch, WindingPair) else branch.name


def _other_level(network: NodalNetwork, bus: str, typed: float, least: float, most: float) -> str:
    """Which other voltage level of the plant the typed amperes would fit; blank where none."""
    here = network.volts(bus)
    for volts in sorted({network.volts(name) for name in network.buses} - {here}):
        amps = typed * volts / here
        if (1.0 - BELOW_FUNDAMENTAL) * least <= amps <= most:
            return (
                f": is it amperes of another voltage level? {amps_text(typed)} at {volts / 1e3:g} kV are "
                f"{amps_text(amps)} at the {here / 1e3:g} kV of the PCC"
            )
    return ""


def amps_text(amps: float) -> str:
    """Amperes to three digits.

    Examples
    --------
    >>> amps_text(62.756), amps_text(1804.2)
    ('62.8 A', '1804 A')
    """
    return f"{amps:.0f} A" if amps >= 1000.0 else f"{amps:.3g} A"


def largest_amps(
    plants: Iterable[StudiedPlant], options: PccOptions, solve: Callable[[StudiedPlant], PlantSolution]
) -> float | None:
    """The largest fundamental at a PCC over the cases of a study, A; None where none has current there.

    Parameters
    ----------
    plants : iterable of StudiedPlant
        As each case runs them.
    options : PccOptions
    solve : callable
        Gives the solution of a plant or raises `NoSolutionError`, which leaves the case out.
    """
    most = 0.0
    for plant in plants:
        if options.pcc not in plant.network.buses:
            continue
        try:
            pcc = solve(plant).pcc(replace(options, demand_amps=1.0))
        except NoSolutionError:
            continue
        most = max(most, 0.0 if pcc.is_dead else pcc.fundamental_amps)
    return most or None
