"""Distortion at the point of common coupling, and its verdict by IEEE 519."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from typing import Final

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray, Spectrum
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.sequence import frame_turn, natural_sequence
from xlcalc.standards import ieee519
from xlcalc.standards.ieee519 import Installation
from xlcalc.standards.ieee519_multiplier import HeldOrders, held_orders_multiplier
from xlcalc.standards.loader import Limit, weakest
from xlcalc.standards.verdict import Judgement, Verdict
from xlcalc.studies.sources import Summation, most_distorted

CURRENT = "current harmonic"
TDD = "TDD"
VOLTAGE = "voltage harmonic"
VOLTAGE_THD = "voltage THD"

DEAD: Final = 1e-9
"""Share of the short-circuit current below which no current flows. Rounding leaves 1e-17 to 1e-12 of it at a
dead bus; the smallest drive on an ideal supply of 1,000,000 MVA draws 1e-8 of it."""


@dataclass(frozen=True)
class PccOptions:
    """Where and how the distortion is judged.

    Parameters
    ----------
    pcc : str
        Bus that is the point of common coupling.
    edition : str
        Edition of IEEE 519: "1992", "2014" or "2022".
    demand_amps : float, optional
        Maximum demand current at the PCC, above 0 A; None takes the fundamental of all loads.
    summation : Summation
        How the harmonics of the loads, and the background voltage, add up.
    raise_other_limits : bool
        Apply the higher limits that IEEE 519 allows on the other orders where the low orders of a higher
        pulse number are held below a quarter of their limits. The TDD limit stays.
    installation : Installation
        Power generation has the first row of the current limits whatever Isc/IL is.
    inverter_pct : float, optional
        Inverter-based generation of the site, percent of its annual average load, 0 % or more: edition 2022
        has no verdict on the currents from 10 % on.

    Raises
    ------
    InputError
        Unknown edition, summation or installation, a demand current of 0 A or less, or a share below 0 %.
    """

    pcc: str = "utility"
    edition: str = ieee519.DEFAULT_EDITION
    demand_amps: float | None = None
    summation: Summation = Summation.PHASOR
    raise_other_limits: bool = False
    _: KW_ONLY
    installation: Installation = Installation.LOAD
    inverter_pct: float | None = None

    def __post_init__(self) -> None:
        if self.edition not in ieee519.editions():
            raise InputError("edition", self.edition, "one of " + ", ".join(ieee519.editions()))
        if self.demand_amps is not None:
            number("demand_amps", self.demand_amps, unit="A", above=0)
        for name, words in (("summation", Summation), ("installation", Installation)):
            try:
                object.__setattr__(self, name, words(getattr(self, name)))
            except ValueError:
                raise InputError(name, getattr(self, name), "one of " + ", ".join(words)) from None
        ieee519.left_to_others(self.inverter_pct, self.edition)

    @property
    def row_ratio(self) -> float | None:
        """Isc/IL of the row that is prescribed; None where it is that of the PCC."""
        return ieee519.FIRST_ROW_RATIO if self.installation is Installation.GENERATION else None


@dataclass(frozen=True)
class PccResult:
    """Currents and voltages at the PCC, orders 1..50.

    Where the supply is unbalanced the three phases differ: every order is judged by its largest phase, TDD
    and THD by the phase where they are largest.

    Parameters
    ----------
    bus : str
        The PCC.
    volts : float
        Nominal line-to-line rms voltage.
    short_circuit_amps, fundamental_amps, demand_amps : float
        Three-phase short-circuit current, fundamental of all loads (positive sequence) and maximum demand
        current I_L, A rms.
    currents, harmonic_volts : array of complex, shape (3, 50)
        Amperes into the plant and harmonic volts per phase; the fundamental of `harmonic_volts` is zero.
    edition : str
        Edition of IEEE 519.
    raise_other_limits : bool
        As in `PccOptions`.
    row_ratio : float, optional
        Isc/IL by which the row of the limit table is chosen, where it is not the actual one but that across
        an edge nearby, or that of the first row for power generation.
    left_to_others : str
        Why the edition leaves the currents to other standards; empty where it does not.
    """

    bus: str
    volts: float
    short_circuit_amps: float
    fundamental_amps: float
    demand_amps: float
    currents: ComplexArray
    harmonic_volts: ComplexArray
    edition: str
    raise_other_limits: bool = False
    row_ratio: float | None = None
    left_to_others: str = ""

    @property
    def isc_il(self) -> float:
        return self.short_circuit_amps / self.demand_amps

    @property
    def is_dead(self) -> bool:
        """Whether what flows is the rounding of numbers that would cancel."""
        return self.fundamental_amps < DEAD * self.short_circuit_amps

    @property
    def judged_ratio(self) -> float:
        """Isc/IL as the limit table is entered with it."""
        return self.isc_il if self.row_ratio is None else self.row_ratio

    @property
    def kv(self) -> float:
        return self.volts / 1000.0

    @property
    def worst_phase(self) -> int:
        """Index of the phase with the largest TDD."""
        return most_distorted(self.currents)

    @property
    def current(self) -> Spectrum:
        """Spectrum of the phase with the largest TDD, A rms."""
        return Spectrum(self.currents[self.worst_phase])

    @cached_property
    def current_amps(self) -> FloatArray:
        """Largest phase current by order, A rms, shape (50,)."""
        return np.asarray(np.abs(self.currents).max(axis=0))

    @cached_property
    def current_pct(self) -> FloatArray:
        """Largest phase current by order, percent of the demand current, shape (50,)."""
        return 100.0 * self.current_amps / self.demand_amps

    @cached_property
    def voltage_pct(self) -> FloatArray:
        """Largest phase voltage by order, percent of nominal, shape (50,); zero at the fundamental."""
        return np.asarray(self.phase_voltage_pct.max(axis=0))

    @property
    def phase_current_pct(self) -> FloatArray:
        """Currents of each phase, percent of the demand current, shape (3, 50)."""
        return 100.0 * np.abs(self.currents) / self.demand_amps

    @property
    def phase_voltage_pct(self) -> FloatArray:
        """Harmonic voltages of each phase, percent of nominal, shape (3, 50); zero at the fundamental."""
        return np.asarray(np.abs(self._relative_volts))

    @property
    def phase_tdd_pct(self) -> FloatArray:
        """TDD of each phase, shape (3,)."""
        return np.asarray(np.linalg.norm(self.phase_current_pct[:, 1:], axis=1))

    @property
    def phase_thdv_pct(self) -> FloatArray:
        """Orders 2..50 of the voltage of each phase, percent of nominal, shape (3,)."""
        return np.asarray(np.linalg.norm(self._relative_volts, axis=1))

    @property
    def tdd_pct(self) -> float:
        return self.current.tdd_pct(self.demand_amps)

    @property
    def thdv_pct(self) -> float:
        """Orders 2..50 of the voltage, percent of nominal."""
        return float(self.phase_thdv_pct.max())

    @property
    def limit_row(self) -> str:
        """The row of the current table that applies."""
        return ieee519.current_row_text(self.judged_ratio, self.kv, self.edition)

    @cached_property
    def judgement(self) -> Judgement:
        """Every order and total against IEEE 519."""
        ratio, kv, edition = self.judged_ratio, self.kv, self.edition
        verdicts = [
            Verdict.against(TDD, None, self.tdd_pct, ieee519.tdd_limit(ratio, kv, edition)),
            Verdict.against(VOLTAGE_THD, None, self.thdv_pct, ieee519.voltage_limit(kv, edition=edition)),
        ]
        for h in range(2, MAX_ORDER + 1):
            current = self.current_limit(h)
            voltage = ieee519.voltage_limit(kv, h, edition)
            verdicts.append(Verdict.against(CURRENT, h, self.current_pct[h - 1], current))
            verdicts.append(Verdict.against(VOLTAGE, h, self.voltage_pct[h - 1], voltage))
        return Judgement(tuple(verdicts), (self.left_to_others,) if self.left_to_others else ())

    def current_limit(self, order: int) -> Limit:
        """Limit of one order, raised where that was asked for and its condition holds."""
        limit = ieee519.current_limit(order, self.judged_ratio, self.kv, self.edition)
        if self.held_orders is None:
            return limit
        factor = self.held_orders.on(order)
        if factor == 1.0:
            return limit
        return Limit(factor * limit.value, weakest(limit.origin, [self.held_orders.origin]))

    @cached_property
    def held_orders(self) -> HeldOrders | None:
        """The multiplier in use; None where it was not asked for or its condition fails."""
        if not self.raise_other_limits:
            return None
        by_order = {h: float(self.current_pct[h - 1]) for h in range(2, MAX_ORDER + 1)}
        return held_orders_multiplier(by_order, self.judged_ratio, self.kv, self.edition)

    @property
    def _relative_volts(self) -> ComplexArray:
        return self.harmonic_volts * (100.0 * math.sqrt(3.0) / self.volts)


def background_volts(network: NodalNetwork, bus: str) -> ComplexArray:
    """Harmonic volts that the utility's background distortion leaves at an unloaded bus, shape (3, 50).

    Orders are taken in their natural sequence. Triplen orders are counted in full where zero sequence reaches
    the bus, and not at all behind a winding that blocks it.
    """
    volts = np.zeros((3, MAX_ORDER), dtype=np.complex128)
    nominal = network.volts(bus) / math.sqrt(3.0)
    for order, phasor in turned_background(network, bus):
        third = np.exp(-2j * np.pi / 3 * natural_sequence(order) * np.arange(3))
        volts[:, order - 1] = nominal * phasor * third
    return volts


def turned_background(network: NodalNetwork, bus: str) -> tuple[tuple[int, complex], ...]:
    """Order and per-unit phasor of the utility's background at an unloaded bus, in the frame of that bus."""
    turned = []
    for order, pct, deg in network.utility.background:
        sequence = natural_sequence(order)
        turn = complex(network.zero_sequence_ratio(bus))
        if sequence:
            turn = complex(frame_turn(order, sequence, -network.shift_deg(bus)))
            turn *= complex(network.background_ratio(bus, order))
        turned.append((order, pct / 100.0 * np.exp(1j * np.radians(deg)) * turn))
    return tuple(turned)


def pcc_columns(pcc: PccResult) -> dict[str, Sequence[float]]:
    """Columns of 50 values, orders 1..50; limits and margins are NaN at the fundamental.

    current_amps, current_pct, current_limit_pct, current_margin, voltage_pct, voltage_limit_pct,
    voltage_margin. Margins are in points.
    """
    current, voltage = _by_order(pcc, CURRENT), _by_order(pcc, VOLTAGE)
    return {
        "current_amps": pcc.current_amps.tolist(),
        "current_pct": pcc.current_pct.tolist(),
        "current_limit_pct": _column(current, "limit"),
        "current_margin": _column(current, "margin"),
        "voltage_pct": pcc.voltage_pct.tolist(),
        "voltage_limit_pct": _column(voltage, "limit"),
        "voltage_margin": _column(voltage, "margin"),
    }


def _by_order(pcc: PccResult, quantity: str) -> dict[int, Verdict]:
    verdicts = pcc.judgement.of_quantity(quantity).verdicts
    return {verdict.order: verdict for verdict in verdicts if verdict.order is not None}


def _column(verdicts: dict[int, Verdict], name: str) -> list[float]:
    return [
        float(getattr(verdicts[order], name)) if order in verdicts else math.nan
        for order in range(1, MAX_ORDER + 1)
    ]
