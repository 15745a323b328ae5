"""The nodal plant that the tables of a sheet describe, solved once per operating state."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray, Spectrum
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.resonance import Resonance, Scan, impedance_scan, resonances
from xlcalc.network.three_winding import WINDINGS, WindingPair
from xlcalc.schema.assembly.fitting import check_estimated, drives_kva
from xlcalc.schema.assembly.judging import pcc_options
from xlcalc.schema.assembly.network import _out_of_service, known_bus, plant_of
from xlcalc.schema.kinds import one_of
from xlcalc.schema.tables import Tables, Values
from xlcalc.standards import ieee519
from xlcalc.standards.supply_presets import TYPICAL, supply_preset
from xlcalc.standards.verdict import FAIL, NO_VERDICT, PASS, within
from xlcalc.studies.pcc import PccResult
from xlcalc.studies.solution import PlantSolution
from xlcalc.studies.sources import most_distorted
from xlcalc.studies.verdict.assessment import Assessment
from xlcalc.studies.verdict.assumed_supply import unknown_part
from xlcalc.studies.verdict.load_ends import load_ends
from xlcalc.studies.verdict.remarks import spectrum_doubts
from xlcalc.worksheet.functions.plant import assessments

SCAN_STEP = 0.1


def solution_of(tables: Tables, drives: Sequence[Values], settings: Values) -> PlantSolution:
    """The solved plant; equal inputs are solved once."""
    return assessments.solution_of(plant_of(tables, drives, settings), settings)


def assessment_of(tables: Tables, drives: Sequence[Values], bus: str, settings: Values) -> Assessment:
    """A bus judged as the PCC, with the demand current of its row.

    Raises
    ------
    InputError
        No such bus.
    NoSolutionError
        The case leaves the bus without supply.
    """
    plant = plant_of(tables, drives, settings)
    supplied_bus(plant.network, tables, bus)
    demand = next(row["demand amps"] for row in tables["buses"] if row["name"] == bus)
    options = pcc_options(bus, demand, settings)
    check_estimated(settings, plant.network.volts(bus) / 1e3, _rated_kva(tables, drives))
    return assessments.assessment_of(plant, options, settings)


def _rated_kva(tables: Tables, drives: Sequence[Values]) -> float:
    """Ratings of all transformers, loads and drives, whatever is in service."""
    transformers = (*tables["transformers"], *tables["three-winding transformers"])
    loads = sum(row["kw"] / row["pf"] for row in tables["loads"])
    volts = {row["name"]: 1e3 * row["kv"] for row in tables["buses"]}
    return float(loads + sum(row["kva"] for row in transformers)) + drives_kva(drives, volts)


def load_end_solutions(tables: Tables, drives: Sequence[Values], settings: Values) -> list[PlantSolution]:
    """The plant with its loads as given and, where that matters, with as much and as little damping."""
    plant = plant_of(tables, drives, settings)
    found = []
    for end in load_ends(plant.network).values():
        near = replace(plant, network=replace(end, loads=plant.network.loads))
        found.append(assessments.solution_of(replace(plant, network=end), settings, near))
    return found


def assumed_background(network: NodalNetwork, bus: str, settings: Values) -> FloatArray:
    """Background at a bus that is assumed where none is given, percent of nominal, orders 1..50."""
    part = unknown_part(network.utility, supply_preset(settings["supply"] or TYPICAL))
    found = np.zeros(MAX_ORDER)
    for order, pct in part.background:
        found[order - 1] = pct * abs(complex(network.background_ratio(bus, [order])[0]))
    return found


def supplied_bus(network: NodalNetwork, tables: Tables, bus: str) -> None:
    """Raises where a bus is not in the tables, or not supplied in this case."""
    if bus in network.buses:
        return
    if any(row["name"] == bus for row in tables["buses"]):
        raise NoSolutionError(f"bus {bus} is not supplied in this case")
    known_bus(network, bus)


@lru_cache(maxsize=32)
def scan_of(network: NodalNetwork, bus: str) -> Scan:
    """Impedance from order 1 to 50."""
    known_bus(network, bus)
    return impedance_scan(network, bus, step=SCAN_STEP)


@lru_cache(maxsize=32)
def resonances_of(network: NodalNetwork, bus: str) -> tuple[Resonance, ...]:
    """Resonances from order 1 to 50."""
    known_bus(network, bus)
    return resonances(network, bus)


def is_off(network: NodalNetwork, tables: Tables, name: str) -> bool:
    """Whether the tables hold this element or bus, and the case leaves it out."""
    listed = {row["name"] for rows in tables.values() for row in rows if "name" in row}
    units = {unit.name: unit for unit in network.three_winding}
    gone = listed - set(units) - {element.name for element in network.elements} - set(network.buses)
    unit, winding = split_winding(name)
    if unit in units and name not in listed - set(units):
        return units[unit].buses[winding] not in network.buses
    return name in gone or unit in gone


def split_winding(name: str) -> tuple[str, int]:
    """Transformer and winding of a name such as "T3 secondary"; without a winding the primary one."""
    for number, winding in enumerate(WINDINGS):
        if name.endswith(f" {winding}"):
            return name.removesuffix(f" {winding}"), number
    return name, 0


def leading_generator(network: NodalNetwork, tables: Tables, settings: Values) -> str:
    """The generator that is the supply because the utility is gone; blank where the utility feeds."""
    if settings["generators"] != "alone":
        return ""
    running = {generator.name for generator in network.generators}
    gone = [row["name"] for row in tables["generators"] if row["bus"] == network.utility_bus]
    off = _out_of_service(settings)
    return next((str(name) for name in gone if name not in running and name not in off), "")


def supply_amps(solution: PlantSolution) -> Spectrum:
    """Current of the supply, worst phase."""
    solution.require_all_orders()
    return _worst(solution.flow.inflow(solution.network.utility_bus))


def amps_of(solution: PlantSolution, element: str) -> Spectrum:
    """Current of a transformer or cable at its far end, of a capacitor, load or generator; worst phase."""
    solution.require_all_orders()
    flow, network = solution.flow, solution.network
    branches, capacitors, machines = (
        [item.name for item in group]
        for group in (network.branches, network.capacitors, (*network.loads, *network.generators))
    )
    if element in branches:
        return _worst(flow.branch_current(element))
    if element in capacitors:
        return _worst(flow.capacitor_current(element))
    if element in machines:
        return _worst(flow.machine_current(element))
    units = [unit.name for unit in network.three_winding]
    unit, winding = split_winding(element)
    if unit in units:
        return _worst(flow.winding_current(unit, winding))
    pairs = {pair.name for pair in network.branches if isinstance(pair, WindingPair)}
    names = [*units, *(name for name in branches if name not in pairs), *capacitors, *machines]
    raise InputError("element", element, one_of(names, element), wrong_kind=True)


def volts_of(solution: PlantSolution, place: str) -> Spectrum:
    """Line-to-line voltage of a bus, or across the capacitors of a bank; the most distorted of the three."""
    solution.require_all_orders()
    flow, network = solution.flow, solution.network
    capacitors = [capacitor.name for capacitor in network.capacitors]
    if place in network.buses:
        phases = flow.bus_volts(place)
    elif place in capacitors:
        phases = flow.capacitor_volts(place)
    else:
        raise InputError("place", place, one_of([*network.buses, *capacitors], place), wrong_kind=True)
    return _worst(np.asarray(phases - np.roll(phases, -1, axis=0)))


def _worst(phases: ComplexArray) -> Spectrum:
    return Spectrum(phases[most_distorted(phases)])


def fundamental_pct(solution: PlantSolution, bus: str) -> float:
    """Fundamental voltage of a bus in percent of nominal, lowest phase."""
    volts = np.abs(solution.flow.bus_volts(bus)[:, 0])
    return float(100.0 * math.sqrt(3.0) * volts.min() / solution.network.volts(bus))


def bus_word(
    pcc: PccResult, largest: float, by_order: list[float], assumed: FloatArray, network: NodalNetwork
) -> str:
    """No verdict where a background that nobody gave, added to what the plant makes, exceeds a limit.

    Nor where the bus carries a zero sequence of loads with their own spectrum.
    """
    if not within(largest, 1.0):
        return FAIL
    limit = ieee519.voltage_limit(pcc.kv, edition=pcc.edition).value
    together = pcc.voltage_pct[1:] + assumed[1:]
    kept = all(within(value, most) for value, most in zip(together, by_order, strict=True))
    kept = kept and within(float(np.linalg.norm(together)), limit)
    return PASS if kept and not spectrum_doubts(network, pcc.bus) else NO_VERDICT
