"""A radial chain: utility, then any number of transformers in series, each with the bus behind it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from xlcalc.errors import InputError
from xlcalc.network.branches import TransformerBranch
from xlcalc.network.capacitors import Capacitive
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.loads import MotorLoad, StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.topology import Bus
from xlcalc.spectrum import ComplexArray

UTILITY_BUS = "utility"
MAIN_BUS = "main"
SECOND_BUS = "second"

MAX_VOLTAGE_MISMATCH = 0.10


@dataclass(frozen=True)
class Stage:
    """A transformer and the bus it feeds."""

    bus: str
    transformer: Transformer


@dataclass(frozen=True)
class Chain:
    """Utility -> transformer -> bus -> transformer -> bus ... without shunt branches.

    Every ampere drawn at a bus flows through all buses upstream of it.

    Parameters
    ----------
    utility : Utility
        The supply; its terminal is the bus "utility".
    stages : tuple of Stage
        In order from the utility; none for a plant at the utility's voltage.

    Raises
    ------
    InputError
        Two buses of one name, or a transformer whose primary voltage differs from the bus that feeds it by
        more than 10 %.
    """

    utility: Utility
    stages: tuple[Stage, ...] = ()

    def __post_init__(self) -> None:
        for index, name in enumerate(self.buses):
            if name in self.buses[:index]:
                raise InputError("bus", name, "each name once")
        for upstream, stage in zip(self.buses, self.stages, strict=False):
            feeding = self.volts(upstream)
            if abs(stage.transformer.primary_volts / feeding - 1.0) > MAX_VOLTAGE_MISMATCH:
                raise InputError(
                    f"primary_volts of the transformer of bus {stage.bus}",
                    stage.transformer.primary_volts,
                    f"within 10 % of the {feeding:g} V of the bus {upstream} that feeds it",
                )

    @cached_property
    def buses(self) -> tuple[str, ...]:
        return (UTILITY_BUS, *(stage.bus for stage in self.stages))

    def volts(self, bus: str) -> float:
        depth = self._depth(bus)
        return self.stages[depth - 1].transformer.secondary_volts if depth else self.utility.volts

    def shift_deg(self, bus: str) -> float:
        return sum(stage.transformer.phase_shift_deg for stage in self.stages[: self._depth(bus)])

    def impedance(self, bus: str, orders: npt.ArrayLike) -> ComplexArray:
        total = self.utility.impedance(orders)
        for stage in self.stages[: self._depth(bus)]:
            total = total / stage.transformer.ratio**2 + stage.transformer.impedance(orders)
        return np.asarray(total, dtype=np.complex128)

    def transfer_impedance(self, at: str, source: str, orders: npt.ArrayLike) -> ComplexArray:
        common, deeper = sorted((at, source), key=self._depth)
        return np.asarray(self.impedance(common, orders) / self._ratio(common, deeper), np.complex128)

    def current_share(self, pcc: str, source: str, orders: npt.ArrayLike) -> ComplexArray:
        downstream = self._depth(source) >= self._depth(pcc)
        share = 1.0 / self._ratio(pcc, source) if downstream else 0.0
        return np.full(np.shape(orders), share, dtype=np.complex128)

    def zero_sequence_ratio(self, bus: str) -> float:
        """0 behind a transformer whose shift tells of a delta or zigzag winding, otherwise 1."""
        passed = self.stages[: self._depth(bus)]
        return 1.0 if all(stage.transformer.even_clock for stage in passed) else 0.0

    def background_ratio(self, bus: str, orders: npt.ArrayLike) -> ComplexArray:
        ratio = self.utility.volts / self._ratio(UTILITY_BUS, bus) / self.volts(bus)
        return np.full(np.shape(orders), ratio, dtype=np.complex128)

    def short_circuit_impedance(self, bus: str, machines: bool = False) -> complex:
        return complex(self.impedance(bus, 1))

    def _ratio(self, upstream: str, downstream: str) -> float:
        between = self.stages[self._depth(upstream) : self._depth(downstream)]
        return float(np.prod([stage.transformer.ratio for stage in between]))

    def _depth(self, bus: str) -> int:
        try:
            return self.buses.index(bus)
        except ValueError:
            raise InputError("bus", bus, "one of " + ", ".join(self.buses)) from None


def series_plant(utility: Utility, supply: Transformer, second: Transformer | None = None) -> Chain:
    """Utility -> supply transformer -> bus "main" [-> second transformer -> bus "second"].

    Examples
    --------
    The level at the main bus follows 1/S = 1/S_utility + 1/S_transformer where all X/R are equal:

    >>> from xlcalc.network.base import short_circuit_va
    >>> plant = series_plant(Utility(13.8e3, 200e6, 10), Transformer(2.5e6, 5, 10, 13.8e3, 480))
    >>> round(short_circuit_va(plant, "main") / 1e6, 6)
    40.0
    """
    stages = [Stage(MAIN_BUS, supply)]
    if second is not None:
        stages.append(Stage(SECOND_BUS, second))
    return Chain(utility, tuple(stages))


def series_network(
    utility: Utility,
    supply: Transformer,
    second: Transformer | None = None,
    *,
    capacitors: tuple[Capacitive, ...] = (),
    loads: tuple[StaticLoad | MotorLoad, ...] = (),
) -> NodalNetwork:
    """Utility -> supply transformer -> bus "main" [-> second transformer -> bus "second"], as a network.

    Parameters
    ----------
    utility : Utility
        The supply; its terminal is the bus "utility".
    supply, second : Transformer
        Their phase shifts may be any angle.
    capacitors, loads : tuple
        What stands on the buses.

    Raises
    ------
    InputError
        Voltages that do not fit each other, or an element on a bus that is not there.

    Examples
    --------
    The level at the main bus follows 1/S = 1/S_utility + 1/S_transformer where all X/R are equal:

    >>> from xlcalc.network.base import short_circuit_va
    >>> plant = series_network(Utility(13.8e3, 200e6, 10), Transformer(2.5e6, 5, 10, 13.8e3, 480))
    >>> plant.buses, round(short_circuit_va(plant, "main") / 1e6, 6)
    (('utility', 'main'), 40.0)
    """
    nodes = [Bus(UTILITY_BUS, utility.volts), Bus(MAIN_BUS, supply.secondary_volts)]
    branches = [TransformerBranch("supply transformer", UTILITY_BUS, MAIN_BUS, supply)]
    if second is not None:
        nodes.append(Bus(SECOND_BUS, second.secondary_volts))
        branches.append(TransformerBranch("second transformer", MAIN_BUS, SECOND_BUS, second))
    return NodalNetwork(utility, UTILITY_BUS, tuple(nodes), tuple(branches), capacitors, loads)
