"""What a diode front end is made of, in SI units."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, field
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import InputError
from xlcalc.rectifier.impedance import ComplexArray, ImpedanceTerm, Rational, SeriesImpedance
from xlcalc.rectifier.passive_filter import PassiveFilter

MAX_BRIDGES = 8
MAX_BACKGROUND_ORDER = 50
MAX_COMPONENT_ORDER = 200
MAX_COMPONENT_ORDERS = 49
MAX_UNBALANCE = 0.2
MAX_BACKGROUND = 0.3
MAX_COMPONENT = 1.0
MAX_TERMS = 8
MAX_REACTANCE = 10.0  # per unit of V^2 over the load power; a drive may have 3 on its rated power

LoadKind = Literal["mean power", "power", "current", "resistance"]
LOAD_KINDS: tuple[LoadKind, ...] = get_args(LoadKind)


def _require(name: str, value: float, valid: str, ok: bool) -> None:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise InputError(name, value, valid, wrong_kind=True)
    if not (math.isfinite(value) and ok):
        raise InputError(name, value, valid)


def _positive(name: str, value: float, unit: str) -> None:
    _require(name, value, f"above 0 {unit}", isinstance(value, (int, float)) and value > 0)


def _not_negative(name: str, value: float, unit: str) -> None:
    _require(name, value, f"0 {unit} or more", isinstance(value, (int, float)) and value >= 0)


@dataclass(frozen=True)
class ThreePhaseSource:
    """Three-phase source: EMF behind its impedance, no neutral.

    Parameters
    ----------
    volts : float
        Line-to-line rms value of the positive-sequence fundamental EMF, V.
    hz : float
        Frequency, Hz.
    inductance, resistance : float
        Source impedance per phase, H and ohm.
    negative_sequence : complex
        Negative-sequence fundamental in per unit of the positive one: phase a is cos(w t + angle), phase b
        leads it by 120 degrees. Magnitude up to 0.2.
    background : tuple of (order, complex)
        Distortion of the EMF in per unit of the positive-sequence fundamental, orders 2 to 50 in natural
        sequence (3k+1 positive, 3k-1 negative, 3k zero sequence, which drives no current here). The angle is
        that of phase a in the cosine convention. Magnitude up to 0.3 each.
    components : tuple of (order, sequence, complex)
        More of the EMF in per unit of the positive-sequence fundamental, on top of `background`: orders 2 to
        200 in either sequence (1 or -1), each pair once, magnitude up to 1; with the background 49 different
        orders at most. This is how the voltage that other loads distort reaches the drive, whatever its
        sequence.
    angle_deg : float
        Angle of the phase-a positive-sequence EMF at t = 0; moves the time origin.
    terms : tuple of ImpedanceTerm
        What the source impedance has beside inductance and resistance, at most eight terms: the supply as
        its terminals show it, with capacitors and resonances. The EMF is the voltage of the terminals
        without load, then.
    """

    volts: float
    hz: float
    inductance: float = 0.0
    resistance: float = 0.0
    negative_sequence: complex = 0j
    background: tuple[tuple[int, complex], ...] = ()
    angle_deg: float = 0.0
    components: tuple[tuple[int, int, complex], ...] = ()
    terms: tuple[ImpedanceTerm, ...] = ()

    def __post_init__(self) -> None:
        _positive("volts", self.volts, "V")
        _positive("hz", self.hz, "Hz")
        _not_negative("source inductance", self.inductance, "H")
        _not_negative("source resistance", self.resistance, "ohm")
        _require("angle_deg", self.angle_deg, "a finite angle in degrees", True)
        if not abs(self.negative_sequence) <= MAX_UNBALANCE:
            raise InputError("negative_sequence", self.negative_sequence, "magnitude 0 to 0.2 per unit")
        seen = set()
        for order, value in self.background:
            if not isinstance(order, int) or not 2 <= order <= MAX_BACKGROUND_ORDER or order in seen:
                raise InputError("background order", order, "whole orders from 2 to 50, each once")
            seen.add(order)
            if not abs(value) <= MAX_BACKGROUND:
                raise InputError(f"background of order {order}", value, "magnitude 0 to 0.3 per unit")
        if len(self.terms) > MAX_TERMS:
            raise InputError("terms of the source impedance", len(self.terms), f"at most {MAX_TERMS}")
        pairs: set[tuple[int, int]] = set()
        for order, sequence, value in self.components:
            valid = 2 <= order <= MAX_COMPONENT_ORDER and sequence in (1, -1)
            if not valid or (order, sequence) in pairs:
                raise InputError(
                    "components",
                    (order, sequence),
                    f"orders 2 to {MAX_COMPONENT_ORDER}, sequence 1 or -1, each pair once",
                )
            if not abs(value) <= MAX_COMPONENT:
                raise InputError(f"components of order {order}", value, "magnitude 0 to 1 per unit")
            pairs.add((order, sequence))
        orders = {order for order, _, _ in self.emf_components}
        if len(orders) > MAX_COMPONENT_ORDERS:
            raise InputError("orders of the EMF", len(orders), f"at most {MAX_COMPONENT_ORDERS}")

    @property
    def emf_components(self) -> tuple[tuple[int, int, complex], ...]:
        """Order, sequence and value of all distortion that can drive current: no zero sequence."""
        natural = ((order, 1 if order % 3 == 1 else -1, v) for order, v in self.background if order % 3)
        return (*(part for part in natural if part[2]), *(part for part in self.components if part[2]))

    @property
    def rational(self) -> Rational:
        """Source impedance as a function of s."""
        return self._series.rational

    def impedance(self, orders: npt.ArrayLike) -> ComplexArray:
        """Source impedance at multiples of the frequency, ohm."""
        return self._series.at(2j * math.pi * self.hz * np.asarray(orders))

    @property
    def _series(self) -> SeriesImpedance:
        return SeriesImpedance(self.resistance, self.inductance, self.terms)


@dataclass(frozen=True)
class Bridge:
    """One six-pulse diode bridge behind its own transformer winding.

    Parameters
    ----------
    shift_deg : float
        Phase shift of its supply; positive-sequence voltages at the bridge lead the supply by it.
    inductance, resistance : float
        Leakage per phase, referred to the supply voltage, H and ohm.
    choke_inductance, choke_resistance : float
        DC choke between the bridge and the common dc bus, both rails together, H and ohm.
    """

    shift_deg: float = 0.0
    inductance: float = 0.0
    resistance: float = 0.0
    choke_inductance: float = 0.0
    choke_resistance: float = 0.0

    def __post_init__(self) -> None:
        _require("shift_deg", self.shift_deg, "a finite angle in degrees", True)
        _not_negative("leakage inductance", self.inductance, "H")
        _not_negative("leakage resistance", self.resistance, "ohm")
        _not_negative("choke inductance", self.choke_inductance, "H")
        _not_negative("choke resistance", self.choke_resistance, "ohm")


@dataclass(frozen=True)
class Reactor:
    """Line reactor per phase, between the terminals and the bridges: H and ohm."""

    inductance: float = 0.0
    resistance: float = 0.0

    def __post_init__(self) -> None:
        _not_negative("reactor inductance", self.inductance, "H")
        _not_negative("reactor resistance", self.resistance, "ohm")


@dataclass(frozen=True)
class DCLink:
    """Capacitor of the dc bus, F, and its series resistance, ohm."""

    capacitance: float
    esr: float = 0.0

    def __post_init__(self) -> None:
        _positive("capacitance", self.capacitance, "F")
        _not_negative("capacitor resistance", self.esr, "ohm")


@dataclass(frozen=True)
class Load:
    """What the inverter takes from the dc bus.

    Parameters
    ----------
    kind : {'mean power', 'power', 'current', 'resistance'}
        'mean power': a constant current, of the size that takes the power at the mean voltage of the bus. So
        an inverter draws whose control is slow against the ripple of the bus, six times the supply frequency.
        'power': the same power at every instant. It feeds every oscillation of the bus, has several steady
        states with small capacitors, and alternates large and small pulses there, as no inverter does.
    value : float
        W, W, A or ohm.
    """

    kind: LoadKind
    value: float

    def __post_init__(self) -> None:
        if self.kind not in LOAD_KINDS:
            raise InputError("load kind", self.kind, "mean power, power, current or resistance")
        unit = {"current": "A", "resistance": "ohm"}.get(self.kind, "W")
        _positive(f"load {self.kind}", self.value, unit)


@dataclass(frozen=True)
class Diode:
    """Every diode: constant forward voltage, V, and resistance, ohm, while it conducts."""

    forward_volts: float = 0.0
    on_resistance: float = 0.0

    def __post_init__(self) -> None:
        _not_negative("diode forward voltage", self.forward_volts, "V")
        _not_negative("diode resistance", self.on_resistance, "ohm")


@dataclass(frozen=True)
class Circuit:
    """Diode front end: supply, passive filter if any, line reactor, bridges on one dc bus, load.

    Raises
    ------
    InputError
        No bridge or more than eight; no inductance between supply and a bridge; several bridges of which one
        has no leakage of its own; a reactance above 1000 % of V^2 / P, with P the load power at 1.35 V.
    """

    supply: ThreePhaseSource
    dc_link: DCLink
    load: Load
    bridges: tuple[Bridge, ...] = (Bridge(),)
    reactor: Reactor = field(default_factory=Reactor)
    diode: Diode = field(default_factory=Diode)
    filter: PassiveFilter | None = None

    def __post_init__(self) -> None:
        if not 1 <= len(self.bridges) <= MAX_BRIDGES:
            raise InputError("bridges", len(self.bridges), f"1 to {MAX_BRIDGES}")
        ahead = self.supply.inductance if self.filter is None else self.filter_inductance
        shared = ahead + self.reactor.inductance
        if len(self.bridges) == 1 and shared + self.bridges[0].inductance == 0.0:
            raise InputError("ac inductance", 0.0, "above 0 H in source, reactor and leakage")
        if len(self.bridges) > 1:
            for bridge in self.bridges:
                if bridge.inductance == 0.0:
                    raise InputError("leakage inductance", 0.0, "above 0 H for each of several bridges")
        limit = MAX_REACTANCE * self.base_ohms
        omega = 2.0 * math.pi * self.supply.hz
        shares = len(self.bridges)
        for name, inductance, share in [
            ("source inductance", self.supply.inductance, 1),
            ("filter inductance", self.filter.inductance if self.filter else 0.0, 1),
            ("reactor inductance", self.reactor.inductance, 1),
            *(("leakage inductance", b.inductance, shares) for b in self.bridges),
            *(("choke inductance", b.choke_inductance, shares) for b in self.bridges),
        ]:
            if omega * inductance > limit * share:
                raise InputError(
                    name, inductance, f"at most {limit * share / omega:.4g} H (1000 % of V^2 / P)"
                )

    @property
    def filter_inductance(self) -> float:
        """Inductance that the bridges see at the highest frequencies through the filter, H."""
        if self.filter is None or self.filter.damping_resistance > 0.0:
            return 0.0
        upstream, shunt = self.supply.inductance + self.filter.inductance, self.filter.shunt_inductance
        return upstream * shunt / (upstream + shunt) if shunt else 0.0

    @property
    def load_watts(self) -> float:
        """Load power at a dc voltage of 1.35 times the line voltage, W: base of the per-unit quantities."""
        volts = 1.35 * self.supply.volts
        if self.load.kind in ("mean power", "power"):
            return self.load.value
        return volts * self.load.value if self.load.kind == "current" else volts**2 / self.load.value

    @property
    def base_ohms(self) -> float:
        return self.supply.volts**2 / self.load_watts


STEP = 2.0 * math.pi / 3.0


def emf_phasors(supply: ThreePhaseSource, max_order: int) -> ComplexArray:
    """EMF to neutral, zero sequence included, V rms, shape (3, max_order)."""
    origin = math.radians(supply.angle_deg)
    volts = supply.volts / math.sqrt(3.0)
    phase = np.arange(3)
    emf = np.zeros((3, max_order), np.complex128)
    turn = cmath.exp(1j * origin)
    emf[:, 0] = (
        volts * turn * (np.exp(-1j * STEP * phase) + supply.negative_sequence * np.exp(1j * STEP * phase))
    )
    for order, value in supply.background:
        if order <= max_order:
            emf[:, order - 1] = volts * value * np.exp(1j * (order * origin - order * STEP * phase))
    for order, sequence, value in supply.components:
        if order <= max_order:
            emf[:, order - 1] += volts * value * np.exp(1j * (order * origin - sequence * STEP * phase))
    return emf
