"""A plant's network of any shape, solved by its nodal admittance matrix at every order at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray
from xlcalc.network.branches import Branch, Line, TransformerBranch
from xlcalc.network.capacitors import Capacitive
from xlcalc.network.elements import Utility
from xlcalc.network.loads import Generator, MotorLoad, SpectrumLoad, StaticLoad
from xlcalc.network.three_winding import ThreeWindingTransformer, WindingPair
from xlcalc.network.topology import (
    Bus,
    check_branch,
    check_bus,
    check_connected,
    check_names,
    check_volts,
    connected,
    phase_shifts,
)

UTILITY = "utility"
"""Name of the public supply where elements are switched by name."""

STANDARD_ORDERS = np.arange(1, MAX_ORDER + 1)
Load = StaticLoad | MotorLoad | SpectrumLoad


@dataclass(frozen=True)
class NodalNetwork:
    """Buses, branches, shunts and sources of a plant.

    Impedances are per phase and the same for positive and negative sequence; phase shifts of transformers are
    kept apart by `shift_deg`. Machines count with their subtransient or locked-rotor impedance, static loads
    with their load model, at every order that is asked for.

    Parameters
    ----------
    utility : Utility
        The supply that sets the angle reference, with background distortion and unbalance.
    utility_bus : str
        Its terminal.
    nodes : tuple of Bus
        All buses, each name once.
    branches : tuple of TransformerBranch, Line or WindingPair
        Each name once among all elements. A three-winding transformer stands here as its `pairs`.
    capacitors : tuple of CapacitorBank, TunedFilter, DampedFilter or CTypeFilter
    loads : tuple of StaticLoad, MotorLoad or SpectrumLoad
    generators : tuple of Generator
        Generators in parallel with the utility.
    hz : float
        Fundamental frequency, 10 to 400 Hz.
    resistance_exponent : float
        Resistances of supply, transformers, lines and machines grow with the order to this power: 0 constant
        (default), 0.5 full skin effect, 1 constant X/R.
    holds_terminal : bool
        The fundamental voltage of the utility bus is nominal, as a voltage regulator keeps it; otherwise the
        EMF behind the short-circuit impedance is.
    island_generator : Generator, optional
        The one that stands in the utility's place and takes what the others leave, whatever its output says.

    Raises
    ------
    InputError
        A name twice, an unknown bus, an island, a voltage that does not fit its bus, or a loop of
        transformers whose phase shifts contradict; the message names the element.
    """

    utility: Utility
    utility_bus: str
    nodes: tuple[Bus, ...]
    branches: tuple[TransformerBranch | Line | WindingPair, ...] = ()
    capacitors: tuple[Capacitive, ...] = ()
    loads: tuple[Load, ...] = ()
    generators: tuple[Generator, ...] = ()
    hz: float = 60.0
    resistance_exponent: float = 0.0
    holds_terminal: bool = False
    island_generator: Generator | None = None

    def __post_init__(self) -> None:
        number("hz", self.hz, unit="Hz", least=10, most=400)
        number("resistance_exponent", self.resistance_exponent, least=0, most=1)
        check_names("bus", [node.name for node in self.nodes])
        units = [unit.name for unit in self.three_winding]
        check_names("network element", [*units, *(element.name for element in self.elements)])
        if any(element.name == UTILITY for element in self.elements):
            raise InputError("name of a network element", UTILITY, "another name; this one is the supply's")
        known = self._volts
        check_bus("utility_bus", self.utility_bus, known)
        check_volts("volts of the utility", self.utility.volts, self.utility_bus, known)
        for branch in self.branches:
            check_branch(branch, known)
        for shunt in (*self.capacitors, *self.loads, *self.generators):
            check_bus(f"bus of {shunt.name}", shunt.bus, known)
        for generator in self.generators:
            check_volts(f"rated_volts of {generator.name}", generator.rated_volts, generator.bus, known)
        for capacitor in self.capacitors:
            nominal = known[capacitor.bus]
            if not 0.9 * nominal <= capacitor.rated_volts <= 2.0 * nominal:
                raise InputError(
                    f"rated_volts of {capacitor.name}",
                    capacitor.rated_volts,
                    f"0.9 to 2 times the {nominal:g} V of bus {capacitor.bus}",
                )
        check_connected(self.buses, self.utility_bus, self.branches)
        object.__setattr__(self, "_shifts", phase_shifts(self.utility_bus, self.branches))

    @property
    def elements(
        self,
    ) -> tuple[TransformerBranch | Line | WindingPair | Capacitive | Load | Generator, ...]:
        """Everything that has a name, the utility excepted."""
        return (*self.branches, *self.capacitors, *self.loads, *self.generators)

    @property
    def spectrum_loads(self) -> tuple[SpectrumLoad, ...]:
        """Loads with their own spectrum."""
        return tuple(load for load in self.loads if isinstance(load, SpectrumLoad))

    @property
    def three_winding(self) -> tuple[ThreeWindingTransformer, ...]:
        """Three-winding transformers, each once."""
        pairs = (branch for branch in self.branches if isinstance(branch, WindingPair))
        return tuple(dict.fromkeys(pair.transformer for pair in pairs))

    @cached_property
    def buses(self) -> tuple[str, ...]:
        """Names; the first is the utility's terminal."""
        others = (node.name for node in self.nodes if node.name != self.utility_bus)
        return (self.utility_bus, *others)

    @cached_property
    def position(self) -> dict[str, int]:
        """Row of each bus in the matrices."""
        return {bus: k for k, bus in enumerate(self.buses)}

    @cached_property
    def _volts(self) -> dict[str, float]:
        return {node.name: node.volts for node in self.nodes}

    def index(self, bus: str) -> int:
        """Row of a bus in the matrices.

        Raises
        ------
        InputError
            No bus of this name.
        """
        check_bus("bus", bus, self.position)
        return self.position[bus]

    def volts(self, bus: str) -> float:
        """Nominal line-to-line rms voltage."""
        check_bus("bus", bus, self._volts)
        return self._volts[bus]

    def shift_deg(self, bus: str) -> float:
        """Angle by which the voltage of the bus leads the utility's (positive sequence)."""
        check_bus("bus", bus, self._volts)
        shifts: dict[str, float] = self.__dict__["_shifts"]
        return shifts[bus]

    def supply_admittance(self, orders: npt.ArrayLike) -> ComplexArray:
        """Of the utility at its bus, siemens per phase."""
        return np.asarray(1.0 / self.utility.impedance(orders, self.resistance_exponent), np.complex128)

    def branch_matrix(self, orders: npt.ArrayLike) -> ComplexArray:
        """Admittances of the branches alone, shape (orders, buses, buses)."""
        h = np.atleast_1d(np.asarray(orders, dtype=float))
        matrix = np.zeros((h.size, len(self.buses), len(self.buses)), np.complex128)
        for branch in self.branches:
            i, j = self.position[branch.from_bus], self.position[branch.to_bus]
            own, across, other = branch.two_port(h, self.resistance_exponent)
            matrix[:, i, i] += own
            matrix[:, j, j] += other
            matrix[:, i, j] += across
            matrix[:, j, i] += across
        return matrix

    def admittance_matrix(self, orders: npt.ArrayLike) -> ComplexArray:
        """The nodal matrix at harmonic orders, siemens, shape (orders, buses, buses)."""
        h = np.atleast_1d(np.asarray(orders, dtype=float))
        matrix = self.branch_matrix(h)
        matrix[:, 0, 0] += self.supply_admittance(h)
        for capacitor in self.capacitors:
            k = self.position[capacitor.bus]
            matrix[:, k, k] += capacitor.admittance(h)
        for shunt in (*self.loads, *self.generators):
            k = self.position[shunt.bus]
            matrix[:, k, k] += shunt.admittance(self._volts[shunt.bus], h, self.resistance_exponent)
        return matrix

    @cached_property
    def impedance_matrix(self) -> ComplexArray:
        """Volts at each bus per ampere drawn at each bus, orders 1..50, shape (50, buses, buses)."""
        return inverse(self.admittance_matrix(STANDARD_ORDERS))

    @cached_property
    def _fault_matrices(self) -> dict[bool, ComplexArray]:
        """Impedance matrix at the fundamental of the sources alone, with and without machines."""
        supply = self.branch_matrix(1)
        supply[:, 0, 0] += self.supply_admittance(1)
        machines = supply.copy()
        for machine in (*self.loads, *self.generators):
            if isinstance(machine, MotorLoad | Generator):
                k = self.position[machine.bus]
                volts = self._volts[machine.bus]
                machines[:, k, k] += machine.admittance(volts, 1, self.resistance_exponent)
        return {False: inverse(supply)[0], True: inverse(machines)[0]}

    def fault_matrix(self, machines: bool = True) -> ComplexArray:
        """Fundamental impedance matrix of the sources without capacitors and static loads, ohm."""
        return self._fault_matrices[machines]

    def short_circuit_impedance(self, bus: str, machines: bool = False) -> complex:
        """Fundamental impedance behind a three-phase fault at a bus, ohm at its own voltage.

        The supply alone, as the ratio Isc/IL wants it, or with generators and motors.
        """
        k = self.index(bus)
        return complex(self.fault_matrix(machines)[k, k])

    def short_circuit_va(self, bus: str) -> float:
        """Three-phase short-circuit level that the supply alone gives at a bus, VA."""
        return self.volts(bus) ** 2 / abs(self.short_circuit_impedance(bus))

    def impedance(self, bus: str, orders: npt.ArrayLike) -> ComplexArray:
        """Driving-point impedance per phase, ohm at the bus's own voltage; the shape is that of `orders`."""
        return self.transfer_impedance(bus, bus, orders)

    def transfer_impedance(self, at: str, source: str, orders: npt.ArrayLike) -> ComplexArray:
        """Volts at bus `at` per ampere drawn at bus `source`, free of phase shifts.

        Parameters
        ----------
        at, source : str
            Names of buses.
        orders : array_like of float, shape (h,)

        Returns
        -------
        array of complex, shape (h,)
            Ohm.
        """
        columns = self._columns(source, orders)
        return np.asarray(columns[..., self.index(at)].reshape(np.shape(orders)), np.complex128)

    def current_share(self, pcc: str, source: str, orders: npt.ArrayLike) -> ComplexArray:
        """Amperes into the plant through bus `pcc` per ampere drawn at bus `source`.

        Parameters
        ----------
        pcc, source : str
            Names of buses.
        orders : array_like of float, shape (h,)

        Returns
        -------
        array of complex, shape (h,)
        """
        h = np.atleast_1d(np.asarray(orders, dtype=float))
        volts = -self._columns(source, orders)
        flow = self.inflow(pcc, h.ravel(), volts)
        return np.asarray(flow.reshape(np.shape(orders)), np.complex128)

    def background_ratio(self, bus: str, orders: npt.ArrayLike) -> ComplexArray:
        """Volts at the bus per volt of the utility's EMF, each in per unit of its nominal voltage."""
        per_ampere = self.transfer_impedance(bus, self.utility_bus, orders)
        ratio = per_ampere * self.supply_admittance(orders) * self.utility.volts / self.volts(bus)
        return np.asarray(ratio, np.complex128)

    def zero_sequence_ratio(self, bus: str) -> float:
        """1 where zero-sequence voltage of the utility reaches the bus, 0 behind a winding that blocks it."""
        check_bus("bus", bus, self._volts)
        return 1.0 if bus in self._zero_sequence_reach else 0.0

    @cached_property
    def _zero_sequence_reach(self) -> set[str]:
        return connected(self.utility_bus, [b for b in self.branches if b.passes_zero_sequence])

    def inflow(
        self, bus: str, orders: npt.ArrayLike, volts: ComplexArray, emf: npt.ArrayLike = 0.0
    ) -> ComplexArray:
        """Amperes from the supply into a bus and what lies behind it.

        The supply side of a bus is every branch that leads to the utility without passing the bus again.

        Parameters
        ----------
        bus : str
            The bus.
        orders : array, shape (n,)
            Orders.
        volts : array of complex, shape (..., n, buses)
            Volts to neutral at all buses, in the frame of the utility.
        emf : array of complex, shape (..., n)
            EMF of the utility, volts to neutral; only the utility bus asks for it.
        """
        k = self.index(bus)
        h = np.asarray(orders, dtype=float)
        if k == 0:
            return np.asarray(self.supply_admittance(h) * (np.asarray(emf) - volts[..., 0]), np.complex128)
        total = np.zeros(volts.shape[:-1], np.complex128)
        for branch in self.supply_branches(bus):
            own, across, other = branch.two_port(h, self.resistance_exponent)
            far = branch.from_bus if branch.to_bus == bus else branch.to_bus
            near = other if branch.to_bus == bus else own
            total -= near * volts[..., k] + across * volts[..., self.position[far]]
        return total

    def supply_branches(self, bus: str) -> list[Branch]:
        """Branches at a bus that lead to the utility without passing the bus again."""
        upstream = connected(self.utility_bus, self.branches, without=bus)
        return [
            branch
            for branch in self.branches
            if (branch.from_bus == bus and branch.to_bus in upstream)
            or (branch.to_bus == bus and branch.from_bus in upstream)
        ]

    def _columns(self, source: str, orders: npt.ArrayLike) -> ComplexArray:
        """Column of the impedance matrix that belongs to a bus, shape (orders, buses)."""
        h = np.atleast_1d(np.asarray(orders, dtype=float)).ravel()
        k = self.index(source)
        if np.all((h == np.round(h)) & (h >= 1) & (h <= MAX_ORDER)):
            return self.impedance_matrix[h.astype(int) - 1, :, k]
        if np.any(h <= 0.0):
            raise InputError("orders", float(h.min()), "above 0")
        unit = np.zeros((h.size, len(self.buses), 1), np.complex128)
        unit[:, k] = 1.0
        return solved(self.admittance_matrix(h), unit)[..., 0]


def inverse(matrices: ComplexArray) -> ComplexArray:
    """Inverses of a stack of matrices.

    Raises
    ------
    NoSolutionError
        A matrix is singular.
    """
    return solved(matrices, np.broadcast_to(np.eye(matrices.shape[-1]), matrices.shape))


def solved(matrices: ComplexArray, right: npt.NDArray[np.float64] | ComplexArray) -> ComplexArray:
    """Solutions of a stack of linear systems.

    Raises
    ------
    NoSolutionError
        A matrix is singular: a resonance without any damping falls exactly on an order.
    """
    try:
        return np.asarray(np.linalg.solve(matrices, right.astype(np.complex128)), np.complex128)
    except np.linalg.LinAlgError:
        raise NoSolutionError(
            "the nodal matrix is singular: an undamped resonance falls exactly on an order"
        ) from None
