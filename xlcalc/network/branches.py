"""What joins two buses: transformers between voltage levels, cables and lines within one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import ComplexArray
from xlcalc.network.elements import Transformer, series_impedance

TwoPort = tuple[ComplexArray, ComplexArray, ComplexArray]
"""Admittances y11, y12 = y21, y22 by order, siemens, without the transformer's phase shift."""


class Branch(Protocol):
    """A branch between two buses."""

    @property
    def name(self) -> str: ...

    @property
    def from_bus(self) -> str: ...

    @property
    def to_bus(self) -> str: ...

    @property
    def shift_deg(self) -> float:
        """Angle by which the voltage of `to_bus` leads that of `from_bus` (positive sequence)."""
        ...

    @property
    def passes_zero_sequence(self) -> bool:
        """Whether zero-sequence voltage at one end appears at the other."""
        ...

    def two_port(self, orders: npt.ArrayLike, resistance_exponent: float = 0.0) -> TwoPort: ...


@dataclass(frozen=True)
class TransformerBranch:
    """A transformer in its place.

    Parameters
    ----------
    name : str
        Once per plant.
    from_bus, to_bus : str
        Buses of the primary and the secondary winding.
    transformer : Transformer
        Rating, impedance, voltages and phase shift.
    tap_pct : float
        Off-nominal tap on the primary winding: the ratio is (1 + tap/100) times the rated one; -20 to 20 %.
    zero_sequence : bool, optional
        Whether zero-sequence voltage reaches the secondary: only where both star points are earthed or led
        out. None decides by the phase shift: odd multiples of 30 degrees tell of a delta or zigzag winding.
    """

    name: str
    from_bus: str
    to_bus: str
    transformer: Transformer
    tap_pct: float = 0.0
    zero_sequence: bool | None = None

    def __post_init__(self) -> None:
        number(f"tap_pct of {self.name}", self.tap_pct, unit="%", least=-20, most=20)

    @property
    def shift_deg(self) -> float:
        return self.transformer.phase_shift_deg

    @property
    def passes_zero_sequence(self) -> bool:
        return self.transformer.even_clock if self.zero_sequence is None else self.zero_sequence

    @property
    def ratio(self) -> float:
        """Primary over secondary voltage at no load."""
        return self.transformer.ratio * (1.0 + self.tap_pct / 100.0)

    def two_port(self, orders: npt.ArrayLike, resistance_exponent: float = 0.0) -> TwoPort:
        y = 1.0 / self.transformer.impedance(orders, resistance_exponent)
        return y / self.ratio**2, -y / self.ratio, y


@dataclass(frozen=True)
class Line:
    """A cable or an overhead line.

    With a charging susceptance it is the equivalent pi of a uniform line, exact at every order.

    Parameters
    ----------
    name : str
        Once per plant.
    from_bus, to_bus : str
        Buses of one nominal voltage.
    resistance, reactance : float
        Of one conductor per phase over its whole length, ohm at the fundamental; 0 or more, not both 0.
    charging : float
        Susceptance of one conductor per phase over its whole length, siemens at the fundamental; 0 or more.
    parallel : int
        Conductors per phase, 1 or more.

    Raises
    ------
    InputError
        A field is outside its range, or resistance and reactance are both zero.
    """

    name: str
    from_bus: str
    to_bus: str
    resistance: float
    reactance: float
    charging: float = 0.0
    parallel: int = 1

    def __post_init__(self) -> None:
        number(f"resistance of {self.name}", self.resistance, unit="ohm", least=0)
        number(f"reactance of {self.name}", self.reactance, unit="ohm", least=0)
        number(f"charging of {self.name}", self.charging, unit="S", least=0)
        whole_number(f"parallel of {self.name}", self.parallel, least=1)
        if self.resistance + self.reactance == 0.0:
            raise InputError(
                f"impedance of {self.name}", 0.0, "above 0 ohm; give two buses without impedance one name"
            )

    @property
    def shift_deg(self) -> float:
        return 0.0

    @property
    def passes_zero_sequence(self) -> bool:
        return True

    def two_port(self, orders: npt.ArrayLike, resistance_exponent: float = 0.0) -> TwoPort:
        z: ComplexArray = series_impedance(self.resistance, self.reactance, orders, resistance_exponent)
        if self.charging == 0.0:
            y = self.parallel / z
            return y, -y, y
        shunt = 1j * np.asarray(orders, dtype=float) * self.charging
        angle = np.sqrt(z * shunt).astype(np.complex128)
        characteristic = np.sqrt(z / shunt).astype(np.complex128)
        across = self.parallel / (characteristic * np.sinh(angle))
        own = self.parallel / (characteristic * np.tanh(angle))
        return np.asarray(own), np.asarray(-across), np.asarray(own)
