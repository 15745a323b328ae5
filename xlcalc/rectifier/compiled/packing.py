"""From a circuit to the record of the kernels: per unit of line voltage and load power."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from xlcalc.rectifier.circuit import Circuit
from xlcalc.rectifier.filtered import shunt_share
from xlcalc.rectifier.kernels.layout import NET

FLOOR = 0.5  # of the line voltage: no bridge on a healthy supply has its bus below it
EASY_VOLTS = 1.3  # bus voltage at which the easing resistance takes the load's power
LEAST_SHARE = 0.01
PHASE_PEAK = math.sqrt(2.0 / 3.0)


@dataclass(frozen=True)
class PackedCircuit:
    """One circuit for the kernels."""

    net: npt.NDArray[np.void]
    bridges: int
    sectors: int
    terms: int
    filtered: bool

    @property
    def shape_key(self) -> tuple[int, ...]:
        """Circuits with equal keys fit into one batch."""
        return self.bridges, self.sectors, self.terms, self.filtered

    def eased(self, share: float) -> PackedCircuit:
        """The same with that share of the load replaced by a resistance, which is always stable.

        A load of constant mean power is reduced to what remains, and to 1 % at least.
        """
        net = self.net.copy()
        if net["mean_power"][0] > 0.0:
            net["mean_power"] *= max(1.0 - share, LEAST_SHARE)
            return replace(self, net=net)
        for name in ("load_power", "load_current", "load_conductance"):
            net[name] *= 1.0 - share
        net["load_conductance"] += share / EASY_VOLTS**2
        return replace(self, net=net)


def smallest_map(circuit: Circuit) -> int:
    """Sectors of 60 degrees after which the circuit repeats itself up to a renaming of phases and rails."""
    parts = circuit.supply.emf_components
    odd = all(order % 2 for order, _, _ in parts)
    if circuit.supply.negative_sequence or any((order - sequence) % 3 for order, sequence, _ in parts):
        return 3 if odd else 6
    return 1 if odd else 2


def pack(circuit: Circuit) -> PackedCircuit:
    supply = circuit.supply
    load = circuit.load
    omega = 2.0 * math.pi * supply.hz
    ohms = circuit.base_ohms
    per_ohm = omega / ohms
    record = np.zeros(1, NET)
    net = record[0]
    resistance, inductance, terms = supply.resistance, supply.inductance, supply.terms
    if circuit.filter is not None:
        resistance, inductance, terms = circuit.filter.seen_from_bridges(supply.rational).partial_fractions()
    net["xs"] = per_ohm * (inductance + circuit.reactor.inductance)
    net["rs"] = (resistance + circuit.reactor.resistance) / ohms
    net["xt"] = per_ohm * inductance
    net["rt"] = resistance / ohms
    net["terms"] = len(terms)
    for t, term in enumerate(terms):
        net["pole"][t] = term.pole / omega
        net["residue"][t] = term.residue / (omega * ohms)
    net["susceptance"] = omega * circuit.dc_link.capacitance * ohms
    net["esr"] = circuit.dc_link.esr / ohms
    if load.kind == "mean power":
        net["mean_power"] = 1.0
    elif load.kind == "power":
        net["load_power"] = 1.0
    elif load.kind == "current":
        net["load_current"] = 1.0 / 1.35
    else:
        net["load_conductance"] = 1.0 / 1.35**2
    net["drop"] = circuit.diode.forward_volts / supply.volts
    net["rd"] = circuit.diode.on_resistance / ohms
    net["floor"] = FLOOR
    emf = emf_vectors(circuit)
    net["sources"] = len(emf)
    orders = sorted(emf)
    passed = shunt_share(circuit, np.array(orders, float))
    for s, (order, share) in enumerate(zip(orders, passed, strict=True)):
        net["order"][s] = order
        net["emf"][s] = share * np.array(emf[order])
    for k, bridge in enumerate(circuit.bridges):
        net["bridge"][k] = (
            per_ohm * bridge.inductance,
            bridge.resistance / ohms,
            per_ohm * bridge.choke_inductance,
            bridge.choke_resistance / ohms,
        )
        for x in range(3):
            angle = math.radians(120.0 * x - bridge.shift_deg)
            net["axis"][k, x] = math.cos(angle), math.sin(angle)
    return PackedCircuit(
        record, len(circuit.bridges), smallest_map(circuit), len(terms), circuit.filter is not None
    )


def emf_vectors(circuit: Circuit) -> dict[int, tuple[complex, complex]]:
    """Peak space-vector components of the source EMF by order, per unit of the line voltage."""
    supply = circuit.supply
    origin = math.radians(supply.angle_deg)
    turn = cmath.exp(1j * origin)
    positive = PHASE_PEAK * turn
    negative = PHASE_PEAK * supply.negative_sequence * turn
    emf = {1: (positive + negative, -1j * positive + 1j * negative)}
    for order, sequence, value in supply.emf_components:
        phasor = PHASE_PEAK * value * cmath.exp(1j * order * origin)
        alpha, beta = emf.get(order, (0j, 0j))
        emf[order] = (alpha + phasor, beta - 1j * sequence * phasor)
    return emf
