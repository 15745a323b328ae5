"""What a study asks of a network, whatever its shape."""

from __future__ import annotations

from typing import Protocol

import numpy.typing as npt

from xlcalc.network.elements import Utility
from xlcalc.spectrum import ComplexArray


class Network(Protocol):
    """Buses with their impedances and transfers, per phase and free of transformer phase shifts.

    Phase shifts are told separately by `shift_deg`, because they turn positive and negative sequence in
    opposite directions while impedances are the same for both. Orders may be any array of numbers; results
    have its shape.
    """

    @property
    def utility(self) -> Utility: ...

    @property
    def buses(self) -> tuple[str, ...]:
        """Names; the first is the utility's terminal."""
        ...

    def volts(self, bus: str) -> float:
        """Nominal line-to-line rms voltage."""
        ...

    def shift_deg(self, bus: str) -> float:
        """Angle by which the voltage of the bus leads the utility's (positive sequence)."""
        ...

    def impedance(self, bus: str, orders: npt.ArrayLike) -> ComplexArray:
        """Driving-point impedance, ohm at the bus's own voltage."""
        ...

    def transfer_impedance(self, at: str, source: str, orders: npt.ArrayLike) -> ComplexArray:
        """Volts at bus `at` per ampere drawn at bus `source`."""
        ...

    def current_share(self, pcc: str, source: str, orders: npt.ArrayLike) -> ComplexArray:
        """Amperes into the plant through bus `pcc` per ampere drawn at bus `source`."""
        ...

    def background_ratio(self, bus: str, orders: npt.ArrayLike) -> ComplexArray:
        """Volts at the bus per volt of the utility's EMF, each in per unit of its nominal voltage."""
        ...

    def zero_sequence_ratio(self, bus: str) -> float:
        """Part of the utility's zero-sequence voltage that reaches the bus, 0 or 1."""
        ...

    def short_circuit_impedance(self, bus: str, machines: bool = False) -> complex:
        """Fundamental ohm behind a fault at the bus: of the supply alone, or with the plant's machines."""
        ...


def short_circuit_va(network: Network, bus: str) -> float:
    """Three-phase short-circuit level that the supply gives at a bus, VA."""
    return network.volts(bus) ** 2 / abs(network.short_circuit_impedance(bus))
