"""Voltages and currents of a nodal network for given load currents, orders 1 to 50."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray
from xlcalc.network.loads import SpectrumLoad
from xlcalc.network.nodal import STANDARD_ORDERS, NodalNetwork, inverse
from xlcalc.network.sequence import components, frame_turn, natural_sequence, phases_of
from xlcalc.network.three_winding import WindingPair

POSITIVE, NEGATIVE = 0, 1
SEQUENCES = (1, -1)

MAX_ROUNDS = 200
TOLERANCE = 1e-11


@dataclass(frozen=True, eq=False)
class Flow:
    """What flows in a network. Arrays hold positive and negative sequence by order, in the utility's frame.

    Parameters
    ----------
    network : NodalNetwork
        The network.
    emf : array of complex, shape (2, 50)
        EMF of the utility, volts to neutral.
    volts : array of complex, shape (2, 50, buses)
        Bus voltages, volts to neutral.
    drawn : array of complex, shape (2, 50, buses)
        Currents of the harmonic sources at their buses, A.
    """

    network: NodalNetwork
    emf: ComplexArray
    volts: ComplexArray
    drawn: ComplexArray

    def bus_volts(self, bus: str) -> ComplexArray:
        """Phases a, b, c by order, volts to neutral in the frame of the bus, shape (3, 50).

        Zero-sequence background of the utility is counted where no winding on the way blocks it.
        """
        phases = self._phases(self.volts[:, :, self.network.index(bus)], bus)
        nominal = self.network.volts(bus) / math.sqrt(3.0) * self.network.zero_sequence_ratio(bus)
        return phases + nominal * self._zero_sequence

    def inflow(self, bus: str) -> ComplexArray:
        """Line currents from the supply into a bus and what lies behind it, A in its frame, shape (3, 50)."""
        return self._phases(self.network.inflow(bus, STANDARD_ORDERS, self.volts, self.emf), bus)

    def branch_current(self, name: str, at_secondary: bool = True) -> ComplexArray:
        """Currents through a branch towards its `to_bus`, A at that end, shape (3, 50).

        Parameters
        ----------
        name : str
            The branch.
        at_secondary : bool
            The end where the current is taken: `to_bus`, else `from_bus`.
        """
        branch = next((b for b in self.network.branches if b.name == name), None)
        if branch is None:
            raise self._unknown(name, "branches")
        own, across, other = branch.two_port(STANDARD_ORDERS, self.network.resistance_exponent)
        near = self.volts[:, :, self.network.index(branch.from_bus)]
        far = self.volts[:, :, self.network.index(branch.to_bus)]
        if at_secondary:
            return self._phases(-(across * near + other * far), branch.to_bus)
        return self._phases(own * near + across * far, branch.from_bus)

    def winding_current(self, name: str, winding: int) -> ComplexArray:
        """Currents of one winding of a three-winding transformer, A at its bus, shape (3, 50).

        Parameters
        ----------
        name : str
            The transformer.
        winding : int
            0 primary: from the bus into the transformer; 1 secondary, 2 tertiary: out of it into the bus.
        """
        unit = next((u for u in self.network.three_winding if u.name == name), None)
        if unit is None:
            raise self._unknown(name, "branches")
        bus = unit.buses[winding]
        total = np.zeros((2, MAX_ORDER), np.complex128)
        for pair in self.network.branches:
            if (
                not isinstance(pair, WindingPair)
                or pair.unit != name
                or bus not in (pair.from_bus, pair.to_bus)
            ):
                continue
            own, across, other = pair.two_port(STANDARD_ORDERS, self.network.resistance_exponent)
            near = self.volts[:, :, self.network.index(pair.from_bus)]
            far = self.volts[:, :, self.network.index(pair.to_bus)]
            total += own * near + across * far if pair.from_bus == bus else across * near + other * far
        return self._phases(total if winding == 0 else -total, bus)

    def capacitor_current(self, name: str) -> ComplexArray:
        """Line currents into a capacitor bank or filter, A, shape (3, 50)."""
        capacitor = next((c for c in self.network.capacitors if c.name == name), None)
        if capacitor is None:
            raise self._unknown(name, "capacitors")
        volts = self.volts[:, :, self.network.index(capacitor.bus)]
        return self._phases(volts * capacitor.admittance(STANDARD_ORDERS), capacitor.bus)

    def capacitor_volts(self, name: str) -> ComplexArray:
        """Voltages across the capacitors of a bank, V per phase of the star equivalent, shape (3, 50)."""
        current = self.capacitor_current(name)
        capacitor = next(c for c in self.network.capacitors if c.name == name)
        return current * capacitor.capacitor_impedance(STANDARD_ORDERS)

    def machine_current(self, name: str) -> ComplexArray:
        """Line currents drawn by a load or generator, A, shape (3, 50)."""
        machine = next((m for m in (*self.network.loads, *self.network.generators) if m.name == name), None)
        if machine is None:
            raise self._unknown(name, "loads")
        nominal = self.network.volts(machine.bus)
        volts = self.volts[:, :, self.network.index(machine.bus)]
        exponent = self.network.resistance_exponent
        current = volts * machine.admittance(nominal, STANDARD_ORDERS, exponent)
        if machine.constant_power:
            current[POSITIVE, 0] = np.conj(machine.power / (3.0 * volts[POSITIVE, 0]))
            if isinstance(machine, SpectrumLoad):
                turn = sequence_turn(self.network.shift_deg(machine.bus))
                current += machine.currents(volts[POSITIVE, 0]) * turn
        else:
            current[POSITIVE, 0] = np.conj(machine.power) / nominal**2 * volts[POSITIVE, 0]
        return self._phases(current, machine.bus)

    def _phases(self, sequences: ComplexArray, bus: str) -> ComplexArray:
        return phases_in_frame(sequences, self.network.shift_deg(bus))

    @cached_property
    def _zero_sequence(self) -> ComplexArray:
        zero = np.zeros(MAX_ORDER, np.complex128)
        for order, pct, deg in self.network.utility.background:
            if natural_sequence(order) == 0:
                zero[order - 1] = pct / 100.0 * np.exp(1j * math.radians(deg))
        return zero

    def _unknown(self, name: str, kind: str) -> InputError:
        known = {"branches": self.network.branches, "capacitors": self.network.capacitors}.get(
            kind, (*self.network.loads, *self.network.generators)
        )
        return InputError("name", name, "one of " + ", ".join(element.name for element in known))


def phases_in_frame(sequences: ComplexArray, shift_deg: float) -> ComplexArray:
    """Phases a, b, c in the frame of a bus from both sequences in the utility's frame.

    Parameters
    ----------
    sequences : array of complex, shape (2, 50)
    shift_deg : float
        Angle by which the bus leads the utility.

    Returns
    -------
    array of complex, shape (3, 50)
    """
    turned = np.zeros((3, sequences.shape[1]), np.complex128)
    for k, sequence in enumerate(SEQUENCES):
        orders = np.arange(1, sequences.shape[1] + 1)
        turned[k + 1] = sequences[k] * frame_turn(orders, sequence, -shift_deg)
    return phases_of(turned)


def sequence_turn(shift_deg: float) -> ComplexArray:
    """From the frame of a bus to that of the utility, shape (2, 50)."""
    return np.array([frame_turn(STANDARD_ORDERS, sequence, shift_deg) for sequence in SEQUENCES])


def sequences_of(phases: ComplexArray, shift_deg: float) -> ComplexArray:
    """The way back: both sequences in the utility's frame, shape (2, 50), of phases in that of a bus."""
    orders = np.arange(1, phases.shape[1] + 1)
    both = components(phases)[1:]
    turns = [frame_turn(orders, sequence, shift_deg) for sequence in SEQUENCES]
    return np.asarray(both * np.array(turns), np.complex128)


class FlowSolver:
    """Solves one network for any number of load currents; the matrices are set up once."""

    def __init__(self, network: NodalNetwork) -> None:
        self.network = network
        self.impedance = network.impedance_matrix
        self._emf = supply_emf(network)
        self._supply = network.supply_admittance(STANDARD_ORDERS)
        self.fundamental_impedance = inverse(self._running_matrix())[0]
        self._powers = np.zeros(len(network.buses), np.complex128)
        for machine in (*network.loads, *network.generators):
            if machine.constant_power:
                self._powers[network.index(machine.bus)] += machine.power
        self._start: ComplexArray = np.array(
            [network.volts(b) / math.sqrt(3.0) for b in network.buses], complex
        )
        self._open = np.einsum("hb,sh->shb", self.impedance[:, :, 0] * self._supply[:, None], self._emf)

    def solve(self, drawn: ComplexArray) -> Flow:
        """The flow for currents drawn at the buses.

        Parameters
        ----------
        drawn : array of complex, shape (2, 50, buses)
            Both sequences by order, A in the utility's frame.

        Raises
        ------
        NoSolutionError
            The fundamental voltages find no balance: the network cannot supply the loads.
        """
        fundamental, held = self._fundamental_volts(drawn[POSITIVE, 0])
        drawn = drawn + self._of_spectrum_loads(fundamental)
        volts = self._open - np.einsum("hab,shb->sha", self.impedance, drawn)
        emf = self._emf.copy()
        volts[POSITIVE, 0], emf[POSITIVE, 0] = fundamental, held
        return Flow(self.network, emf, volts, drawn)

    def _of_spectrum_loads(self, volts: ComplexArray) -> ComplexArray:
        """Harmonics of the loads with their own spectrum, in the utility's frame, shape (2, 50, buses)."""
        drawn = np.zeros((2, MAX_ORDER, len(self.network.buses)), np.complex128)
        for load in self.network.spectrum_loads:
            k = self.network.index(load.bus)
            drawn[:, :, k] += load.currents(volts[k]) * sequence_turn(self.network.shift_deg(load.bus))
        return drawn

    def _fundamental_volts(self, drawn: ComplexArray) -> tuple[ComplexArray, complex]:
        emf = complex(self._emf[POSITIVE, 0])
        nominal = abs(emf)
        volts = self._start
        supply = self.fundamental_impedance[:, 0] * self._supply[0]
        for _ in range(MAX_ROUNDS):
            loads = np.conj(self._powers / (3.0 * volts))
            rest = self.fundamental_impedance @ (drawn + loads)
            if self.network.holds_terminal:
                emf = complex((nominal + rest[0]) / supply[0])
            following = supply * emf - rest
            change = float(np.max(np.abs(following - volts) / np.abs(self._start)))
            volts = following
            if not math.isfinite(change) or np.any(np.abs(volts) < 0.3 * np.abs(self._start)):
                break
            if change < TOLERANCE:
                return volts, emf
        raise NoSolutionError(
            "the fundamental voltages find no balance: the loads are more than the network can supply"
        )

    def _running_matrix(self) -> ComplexArray:
        """Nodal matrix at the positive-sequence fundamental; constant powers count as currents."""
        network = self.network
        matrix = network.branch_matrix(1)
        matrix[:, 0, 0] += network.supply_admittance(1)
        for capacitor in network.capacitors:
            k = network.index(capacitor.bus)
            matrix[:, k, k] += capacitor.admittance(1)
        for load in network.loads:
            if not load.constant_power:
                k = network.index(load.bus)
                matrix[:, k, k] += np.conj(load.power) / network.volts(load.bus) ** 2
        return matrix


def supply_emf(network: NodalNetwork) -> ComplexArray:
    """EMF of the utility by sequence and order, volts to neutral, shape (2, 50)."""
    utility = network.utility
    emf = np.zeros((2, MAX_ORDER), np.complex128)
    nominal = utility.volts / math.sqrt(3.0)
    emf[POSITIVE, 0] = nominal
    emf[NEGATIVE, 0] = (
        nominal * utility.unbalance_pct / 100.0 * np.exp(1j * math.radians(utility.unbalance_deg))
    )
    for order, pct, deg in utility.background:
        sequence = natural_sequence(order)
        if sequence:
            row = SEQUENCES.index(sequence)
            emf[row, order - 1] = nominal * pct / 100.0 * np.exp(1j * math.radians(deg))
    return emf
