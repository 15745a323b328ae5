"""Ratings that do not fit what they stand on: only a slip of the unit or of the cell explains them.

All bounds are common practice, no source. What a value usually is by itself: `xlcalc.core.plausible`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from xlcalc.core.errors import InputError
from xlcalc.core.plausible import SMALLER
from xlcalc.network.branches import TransformerBranch
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.three_winding import WindingPair

LOW_VOLTAGE_KV = 1.0
MEDIUM_VOLTAGE_KV = 52.0
HIGH_VOLTAGE_KV = 100.0
"""Every usual low voltage typed in V is above this."""

MOST_AMPS = {LOW_VOLTAGE_KV: 10_000.0, MEDIUM_VOLTAGE_KV: 20_000.0, math.inf: 10_000.0}
"""Rated current of one element by the voltage up to which it holds."""

LEAST_KVA_ABOVE_KV: Final = {HIGH_VOLTAGE_KV: 5_000.0, 300.0: 30_000.0}
"""Smallest rating that stands on a voltage from this one on."""
LEAST_MEDIUM_VOLTAGE_KVA = 5.0
MOST_FAULT_AMPS = 200_000.0
LEAST_FAULT_AMPS: Final = {MEDIUM_VOLTAGE_KV: 500.0, LOW_VOLTAGE_KV: 100.0}
"""Smallest short-circuit current of a utility above this voltage."""
IDEAL_MVA = 1e6
"""Short-circuit level that stands for a supply without impedance."""
MOST_DRIVE_KV = 36.0
LEAST_MEDIUM_VOLTAGE_DRIVE_KW: Final = 75.0
"""Drives for more than 1 kV are made from 150 kW or so."""
MEANT: Final = "(if it is meant, write the voltage of the bus with its unit, as text)"
MOST_LOAD_SHARE = 1.5
"""One load over the rating of what feeds it."""
MOST_TOTAL_SHARE = 1.5
"""All loads together over the rating of what feeds them: in a study they run at the same time."""
MOST_OUTPUT = 1.1
"""Output of a generator over its rating."""
MOST_STEP_UP = 2.0
"""Secondary over primary voltage of the transformer that supplies a site."""
SLIP_OF_UNIT = 100.0
"""From this ratio on, a load that is too large is probably typed in the smaller unit."""


def check_rating(argument: str, unit: str, kilo: float, kv: float, supply_mva: float) -> None:
    """A rating in kVA, kW or kvar against its voltage and the short-circuit level of the supply.

    Parameters
    ----------
    argument : str
        What an error names.
    unit : str
        Unit of the rating, with the k.
    kilo : float
        The rating.
    kv : float
        Nominal voltage, kV.
    supply_mva : float
        Short-circuit level of the utility, MVA.

    Raises
    ------
    InputError
        The current is more than one element carries, or the rating more than the supply gives at a fault.
    """
    most_amps = next(amps for level, amps in MOST_AMPS.items() if kv <= level)
    bounds = (
        (most_amps * math.sqrt(3.0) * kv, f"at {kv:g} kV"),
        (1e3 * supply_mva, f"on a supply of {supply_mva:g} MVA short-circuit level"),
    )
    for most, where in bounds:
        if kilo > most:
            raise InputError(argument, kilo, f"up to {most:.0f} {unit} {where}; is it in {unit[1:]}?")


def check_high_voltage(argument: str, kv: float, kilo: float, what: str) -> None:
    """A voltage that is too high for what stands on it.

    Raises
    ------
    InputError
        100 kV and more with a rating below 5 MVA, 300 kV and more with one below 30 MVA.
    """
    for level, least in LEAST_KVA_ABOVE_KV.items():
        if kv >= level and kilo < least:
            raise InputError(argument, kv, f"below {level:g} kV, because {what} stands on it; is it in V?")


def check_not_mega(argument: str, kva: float, kv: float) -> None:
    """A transformer that is too small for its primary voltage.

    Raises
    ------
    InputError
        Below 5 kVA above 1 kV.
    """
    if kv > LOW_VOLTAGE_KV and kva < LEAST_MEDIUM_VOLTAGE_KVA:
        raise InputError(
            argument, kva, f"{LEAST_MEDIUM_VOLTAGE_KVA:g} kVA or more at {kv:g} kV; is it in MVA?"
        )


def check_fault_level(argument: str, mva: float, kv: float) -> None:
    """A short-circuit level whose current no switchgear breaks, or that no utility is as weak as.

    Raises
    ------
    InputError
        Above 200 kA, an ideal supply excepted; below 100 A above 1 kV, below 500 A above 52 kV.
    """
    most = MOST_FAULT_AMPS * math.sqrt(3.0) * kv / 1e3
    if most < mva < IDEAL_MVA:
        raise InputError(argument, mva, f"up to {most:.0f} MVA at {kv:g} kV; is it in kVA?")
    amps = next((amps for level, amps in LEAST_FAULT_AMPS.items() if kv > level), 0.0)
    least = amps * math.sqrt(3.0) * kv / 1e3
    if mva < least:
        valid = f"{least:.3g} MVA or more at {kv:g} kV; are kV and MVA swapped, or is it in GVA?"
        raise InputError(argument, mva, valid)


def check_step_up(argument: str, volts: float, primary_kv: float) -> None:
    """The voltage behind a supply transformer.

    Raises
    ------
    InputError
        More than twice that ahead of it.
    """
    most = 1e3 * MOST_STEP_UP * primary_kv
    if volts > most:
        raise InputError(argument, volts, f"up to {most:g} V behind a supply of {primary_kv:g} kV")


def check_load(argument: str, value: float, unit: str, kilo: float, feeding_kva: float) -> None:
    """One load against the rating of what feeds it.

    Parameters
    ----------
    argument : str
        What an error names.
    value : float
        The load as it was typed, in `unit`.
    unit : str
        Such as kW or hp.
    kilo : float
        The power that it draws, kW or kVA.
    feeding_kva : float
        As `feeding_kva` gives it.

    Raises
    ------
    InputError
        More than 1.5 times that rating.
    """
    if kilo <= MOST_LOAD_SHARE * feeding_kva:
        return
    most = value * MOST_LOAD_SHARE * feeding_kva / kilo
    hint = f"is it in {SMALLER[unit]}" if unit in SMALLER else "is one of the two in another unit"
    hint = hint if kilo > SLIP_OF_UNIT * feeding_kva else "is one of the two in another unit"
    bound = f"up to {most:.4g} {unit}, {MOST_LOAD_SHARE:g} times the {feeding_kva:g} kVA of what feeds it"
    raise InputError(argument, value, f"{bound}; {hint}?")


def check_output(argument: str, value: float, output: tuple[float, float], kva: float) -> None:
    """Output of a generator, kW and kvar, of which `value` is the larger, against its rating.

    Raises
    ------
    InputError
        Above 1.1 times the rating.
    """
    if math.hypot(*output) > MOST_OUTPUT * kva:
        valid = f"with the other output up to {MOST_OUTPUT:g} times the rating of {kva:g} kVA"
        raise InputError(argument, value, valid)


def suits_voltage(kilo: float, kv: float) -> bool:
    """Whether drives of a rating are made for a voltage: for more than 1 kV none below 75 kW."""
    return kv <= LOW_VOLTAGE_KV or kilo >= LEAST_MEDIUM_VOLTAGE_DRIVE_KW


def check_drive_bus(argument: str, bus: str, kilo: float, kv: float) -> None:
    """One drive against the voltage of its bus.

    Parameters
    ----------
    argument : str
        What an error names.
    bus : str
    kilo : float
        Power of its DC link, kW.
    kv : float
        Nominal voltage of the bus, kV.

    Raises
    ------
    InputError
        Below 75 kW above 1 kV.
    """
    if not suits_voltage(kilo, kv):
        raise InputError(argument, bus, f"a bus of up to 1 kV for {kilo:.3g} kW, not of {kv:g} kV {MEANT}")


def check_total(argument: str, kva: float, total_kw: float) -> None:
    """All loads behind a transformer against its rating.

    Raises
    ------
    InputError
        More than 1.5 times the rating.
    """
    if total_kw > MOST_TOTAL_SHARE * kva:
        least = total_kw / MOST_TOTAL_SHARE
        valid = (
            f"{least:.4g} kVA or more, as it feeds {total_kw:.4g} kW: a study takes all loads to run at the "
            "same time, drives at their load in percent; is it in MVA?"
        )
        raise InputError(argument, kva, valid)


def feeding_kva(network: NodalNetwork) -> Mapping[str, float]:
    """Rating of the transformers and generators that feed each bus; infinite where the utility does.

    Buses that cables join count as one. A bus behind nothing that is rated counts as fed by the utility.
    """
    group = _joined(network)
    rated: dict[str, float] = {}
    for bus, _, kva in _sources(network):
        rated[group[bus]] = rated.get(group[bus], 0.0) + kva
    rated[group[network.utility_bus]] = math.inf
    return {bus: rated.get(name, math.inf) for bus, name in group.items()}


def transformer_totals(
    network: NodalNetwork, loads: Iterable[tuple[str, float]]
) -> Iterator[tuple[tuple[str, ...], float, float]]:
    """Names and rating of the sources of each group of buses that no utility feeds, and its loads in kW.

    Parameters
    ----------
    network : NodalNetwork
    loads : iterable of (str, float)
        Bus and kW; loads behind a further transformer are not part of the group ahead of it.
    """
    group, feeding = _joined(network), feeding_kva(network)
    totals: dict[str, float] = {}
    for bus, kw in loads:
        if bus in group:
            totals[group[bus]] = totals.get(group[bus], 0.0) + kw
    for name, total in totals.items():
        names = tuple(known for bus, known, _ in _sources(network) if group[bus] == name)
        if not math.isinf(feeding[name]):
            yield names, feeding[name], total


def other_loads(network: NodalNetwork) -> list[tuple[str, float]]:
    """Bus and kW of the static loads and motors of a network."""
    return [(load.bus, load.watts / 1e3) for load in network.loads]


def _joined(network: NodalNetwork) -> dict[str, str]:
    """A name for each group of buses that cables join, by bus."""
    group = {bus: bus for bus in network.buses}
    for cable in network.branches:
        if not isinstance(cable, TransformerBranch | WindingPair):
            kept, gone = group[cable.from_bus], group[cable.to_bus]
            group = {bus: kept if name == gone else name for bus, name in group.items()}
    return group


def _sources(network: NodalNetwork) -> Iterator[tuple[str, str, float]]:
    """Bus, name and kVA of every transformer, at its secondaries, and generator."""
    for branch in network.branches:
        if isinstance(branch, TransformerBranch):
            yield branch.to_bus, branch.name, branch.transformer.rating_va / 1e3
    for unit in network.three_winding:
        yield from ((bus, unit.name, unit.rating_va / 1e3) for bus in unit.buses[1:] if bus in network.buses)
    for generator in network.generators:
        yield generator.bus, generator.name, generator.rating_va / 1e3
