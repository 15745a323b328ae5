"""A solved plant as tables."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from xlcalc.network.resonance import Resonance
from xlcalc.spectrum import MAX_ORDER, ComplexArray
from xlcalc.study.solution import PlantSolution


def bus_table(solution: PlantSolution) -> pd.DataFrame:
    """One row per bus, indexed by name, the supply first.

    Columns: kv (nominal), v1_pct (fundamental, percent of nominal), shift_deg, short_circuit_mva (supply
    alone), thdv_pct (worst phase, percent of its fundamental), largest_order, largest_pct (the order with the
    largest voltage and its percent of nominal).
    """
    rows = []
    for bus in solution.network.buses:
        nominal = solution.network.volts(bus) / math.sqrt(3.0)
        volts = np.abs(solution.flow.bus_volts(bus)).max(axis=0)
        order = int(np.argmax(volts[1:])) + 2
        level = 3.0 * nominal**2 / abs(solution.network.short_circuit_impedance(bus))
        rows.append(
            {
                "bus": bus,
                "kv": solution.network.volts(bus) / 1e3,
                "v1_pct": 100.0 * volts[0] / nominal,
                "shift_deg": solution.network.shift_deg(bus),
                "short_circuit_mva": level / 1e6,
                "thdv_pct": solution.thdv_pct(bus),
                "largest_order": order,
                "largest_pct": 100.0 * volts[order - 1] / nominal,
            }
        )
    return pd.DataFrame(rows).set_index("bus")


def bus_order_table(solution: PlantSolution) -> pd.DataFrame:
    """Voltage of every bus by order: largest phase, percent of nominal; rows orders 1..50, columns buses."""
    nominal = {bus: solution.network.volts(bus) / math.sqrt(3.0) for bus in solution.network.buses}
    return _by_order(
        {bus: 100.0 * solution.flow.bus_volts(bus) / nominal[bus] for bus in solution.network.buses}
    )


def branch_order_table(solution: PlantSolution) -> pd.DataFrame:
    """Current of every branch at its `to` end by order: largest phase, A; rows orders 1..50."""
    flow = solution.flow
    return _by_order({branch.name: flow.branch_current(branch.name) for branch in solution.network.branches})


def capacitor_order_table(solution: PlantSolution) -> pd.DataFrame:
    """Current of every bank and filter by order: largest phase, A; rows orders 1..50."""
    flow = solution.flow
    return _by_order({c.name: flow.capacitor_current(c.name) for c in solution.network.capacitors})


def resonance_table(found: tuple[Resonance, ...]) -> pd.DataFrame:
    """One row per resonance: kind, order, ohms, amplification, characteristic, distance_pct."""
    columns = ["kind", "order", "ohms", "amplification", "characteristic", "distance_pct"]
    return pd.DataFrame([{name: getattr(r, name) for name in columns} for r in found], columns=columns)


def _by_order(phases: dict[str, ComplexArray]) -> pd.DataFrame:
    index = pd.Index(range(1, MAX_ORDER + 1), name="order")
    return pd.DataFrame({name: np.abs(rows).max(axis=0) for name, rows in phases.items()}, index=index)
