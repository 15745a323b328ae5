"""A drive's front end in percent of its own rating, and its steady state in per unit."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal, get_args

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.progress import Progress
from xlcalc.rectifier.circuit import (
    LOAD_KINDS,
    Bridge,
    Circuit,
    DCLink,
    Diode,
    Load,
    LoadKind,
    Reactor,
    ThreePhaseSource,
)
from xlcalc.rectifier.passive_filter import FilterRating
from xlcalc.rectifier.steady_state import SteadyState, solve, solve_many

BASE_HZ = 1.0 / (2.0 * math.pi)  # makes henry and per-unit reactance the same number
DC_PER_LINE_VOLT = 1.35  # load current and resistance refer to this direct voltage

LEAST_REACTANCE_PCT = 0.001
"""Commutating reactance below which the current is a train of spikes that no supply carries."""

CAPACITOR_RESISTANCE_PCT = 0.5
"""Damping that a DC link with electrolytic capacitors has at least; common practice, no source."""

TransformerKind = Literal["isolating", "autotransformer with blocking"]
TRANSFORMER_KINDS: tuple[TransformerKind, ...] = get_args(TransformerKind)
AUTOTRANSFORMER: TransformerKind = "autotransformer with blocking"

_RANGES: dict[str, tuple[float, float, str]] = {
    "source_pct": (0.0, 300.0, "0 to 300 %"),
    "reactor_pct": (0.0, 300.0, "0 to 300 %"),
    "choke_pct": (0.0, 300.0, "0 to 300 %"),
    "load_pct": (1.0, 200.0, "1 to 200 %"),
    "dc_capacitance_pu": (0.001, 1000.0, "0.001 to 1000 per unit"),
    "source_xr": (0.1, 1e6, "0.1 to 1e6"),
    "reactor_xr": (0.1, 1e6, "0.1 to 1e6"),
    "choke_xr": (0.1, 1e6, "0.1 to 1e6"),
    "transformer_pct": (0.0, 300.0, "0 to 300 %"),
    "transformer_xr": (0.1, 1e6, "0.1 to 1e6"),
    "unbalance_pct": (0.0, 20.0, "0 to 20 %"),
    "unbalance_deg": (-3600.0, 3600.0, "-3600 to 3600 degrees"),
    "leakage_mismatch_pct": (0.0, 100.0, "0 to 100 %"),
    "diode_drop_pct": (0.0, 5.0, "0 to 5 % of the line voltage"),
    "diode_resistance_pct": (0.0, 5.0, "0 to 5 % of the base impedance"),
    "capacitor_resistance_pct": (0.0, 20.0, "0 to 20 % of the base impedance"),
}


@dataclass(frozen=True)
class FrontEnd:
    """Diode front end of a drive, percentages on the base of its rated dc-link power P_r: Z_b = V^2 / P_r.

    Parameters
    ----------
    pulses : int
        6, 12, 18, ... 48: six per bridge.
    source_pct, reactor_pct : float
        Reactance of source and line reactor, 100 w L / Z_b; 0 to 300.
    choke_pct : float
        DC choke, 100 w L / Z_b; with N bridges each has its own, in percent on P_r / N.
    load_pct : float
        DC-link power in percent of P_r, 1 to 200. The capacitor stays that of the drive.
    dc_capacitance_pu : float
        w C Z_b, 0.001 to 1000; 3 to 8 with electrolytic capacitors, 0.1 to 0.5 in a film (slim) link: common
        practice, no source.
    source_xr, reactor_xr, choke_xr, transformer_xr : float
        Reactance over resistance, 0.1 to 1e6.
    transformer_pct : float
        Leakage of each bridge's winding on P_r / N. At 6 pulses used with a phase shift only.
    unbalance_pct, unbalance_deg : float
        Negative-sequence voltage in percent of the positive one, 0 to 20, and its angle in phase a.
    background : tuple of (order, percent, degrees)
        EMF distortion in natural sequence; orders 2 to 50, up to 30 % each, cosine convention of phase a.
    leakage_mismatch_pct : float
        Spread of the leakages: with mismatch d the first bridge has (1 + d/2), the last (1 - d/2) times the
        mean, the others evenly between; resistances follow.
    load_kind : {'mean power', 'power', 'current', 'resistance'}
        What stays constant, see `Load`; current and resistance are those that take `load_pct` at 1.35 V.
    diode_drop_pct, diode_resistance_pct : float
        Forward voltage of a diode in percent of the line voltage, its resistance in percent of Z_b.
    capacitor_resistance_pct : float
        Series resistance of the dc capacitor in percent of Z_b, 0 to 20.
    filter : FilterRating, optional
        Passive filter between the terminals and the line reactor. The line current is then that ahead of it.
    phase_shift_deg : float, optional
        What the drive's own transformer adds to the phase shift of every bridge, -180 to 180 degrees. At 6
        pulses None is a drive without a transformer; at more it is that of the usual windings.
    transformer_kind : {'isolating', 'autotransformer with blocking'}
        An autotransformer isolates nothing. Reactors that block the zero sequence of each bridge (ZSBT) keep
        the bridges from driving currents through each other and the common dc bus; they count as perfect, and
        then the line current is that of an isolating transformer of the same angles. Its usual angles are
        even about zero: -15/15 at 12 pulses, -20/0/20 at 18. Without blocking nothing is solved.

    Raises
    ------
    InputError
        A field outside its range.
    """

    pulses: int
    source_pct: float
    reactor_pct: float = 0.0
    choke_pct: float = 0.0
    load_pct: float = 100.0
    dc_capacitance_pu: float = 5.0
    source_xr: float = 10.0
    reactor_xr: float = 25.0
    choke_xr: float = 25.0
    transformer_pct: float = 5.0
    transformer_xr: float = 15.0
    unbalance_pct: float = 0.0
    unbalance_deg: float = 0.0
    background: tuple[tuple[int, float, float], ...] = ()
    leakage_mismatch_pct: float = 0.0
    load_kind: LoadKind = "mean power"
    diode_drop_pct: float = 0.0
    diode_resistance_pct: float = 0.0
    capacitor_resistance_pct: float = CAPACITOR_RESISTANCE_PCT
    filter: FilterRating | None = None
    phase_shift_deg: float | None = None
    transformer_kind: TransformerKind = "isolating"

    def __post_init__(self) -> None:
        valid_pulses = "a multiple of 6 from 6 to 48"
        if isinstance(self.pulses, bool) or not isinstance(self.pulses, int):
            raise InputError(
                "pulses", self.pulses, valid_pulses, wrong_kind=not isinstance(self.pulses, float)
            )
        if not 6 <= self.pulses <= 48 or self.pulses % 6:
            raise InputError("pulses", self.pulses, valid_pulses)
        for name, (low, high, valid) in _RANGES.items():
            value = getattr(self, name)
            if isinstance(value, bool) or not isinstance(value, (int, float)):
                raise InputError(name, value, valid, wrong_kind=True)
            if not low <= value <= high:
                raise InputError(name, value, valid)
        if self.load_kind not in LOAD_KINDS:
            raise InputError("load_kind", self.load_kind, "mean power, power, current or resistance")
        if self.transformer_kind not in TRANSFORMER_KINDS:
            raise InputError("transformer_kind", self.transformer_kind, " or ".join(TRANSFORMER_KINDS))
        self._check_shift()
        least = f"{LEAST_REACTANCE_PCT:g} % or more"
        if not self.has_transformer and self.source_pct + self.reactor_pct < LEAST_REACTANCE_PCT:
            raise InputError("source_pct", self.source_pct, f"{least} where there is no line reactor")
        behind = self.reactor_pct + (self.transformer_pct if self.has_transformer else 0.0)
        if self.bridges == 1 and self.filter is not None and behind < LEAST_REACTANCE_PCT:
            raise InputError("reactor_pct", self.reactor_pct, f"{least} behind a passive filter")
        if self.has_transformer and self.transformer_pct < LEAST_REACTANCE_PCT:
            raise InputError("transformer_pct", self.transformer_pct, f"{least} with a transformer")
        for order, percent, angle in self.background:
            if isinstance(order, bool) or not isinstance(order, int) or not 2 <= order <= 50:
                raise InputError("background order", order, "a whole order from 2 to 50")
            if not 0.0 <= percent <= 30.0:
                raise InputError(f"background of order {order}", percent, "0 to 30 %")
            if not math.isfinite(angle):
                raise InputError(f"background angle of order {order}", angle, "a finite angle in degrees")

    def _check_shift(self) -> None:
        shift, valid = self.phase_shift_deg, "-180 to 180 degrees"
        if shift is None:
            return
        if isinstance(shift, bool) or not isinstance(shift, (int, float)):
            raise InputError("phase_shift_deg", shift, valid, wrong_kind=True)
        if not -180.0 <= shift <= 180.0:
            raise InputError("phase_shift_deg", shift, valid)

    @property
    def bridges(self) -> int:
        return self.pulses // 6

    @property
    def has_transformer(self) -> bool:
        """Whether the bridges stand behind windings of the drive's own."""
        return self.bridges > 1 or self.phase_shift_deg is not None

    def circuit(self) -> Circuit:
        """The circuit at V = 1 V, P_r = 1 W and w = 1 rad/s: ohm, henry and ampere read as per unit."""
        count = self.bridges
        source = self.source_pct / 100.0
        reactor = self.reactor_pct / 100.0
        choke = self.choke_pct / 100.0 * count
        load = self.load_pct / 100.0
        value = {
            "mean power": load,
            "power": load,
            "current": load / DC_PER_LINE_VOLT,
            "resistance": DC_PER_LINE_VOLT**2 / load,
        }[self.load_kind]
        return Circuit(
            supply=ThreePhaseSource(
                volts=1.0,
                hz=BASE_HZ,
                inductance=source,
                resistance=source / self.source_xr,
                negative_sequence=_phasor(self.unbalance_pct, self.unbalance_deg),
                background=tuple((order, _phasor(pct, deg)) for order, pct, deg in self.background if pct),
            ),
            dc_link=DCLink(self.dc_capacitance_pu, self.capacitor_resistance_pct / 100.0),
            load=Load(self.load_kind, value),
            bridges=tuple(
                Bridge(shift, leakage, leakage / self.transformer_xr, choke, choke / self.choke_xr)
                for shift, leakage in zip(self.shifts_deg, self._leakages, strict=True)
            ),
            reactor=Reactor(reactor, reactor / self.reactor_xr),
            diode=Diode(self.diode_drop_pct / 100.0, self.diode_resistance_pct / 100.0),
            filter=self.filter.per_unit() if self.filter is not None else None,
        )

    @property
    def shifts_deg(self) -> tuple[float, ...]:
        """Phase shift of each bridge: 60/N degrees apart; 12 pulses 0/30, 18 pulses -20/0/20."""
        count = self.bridges
        middle = (count - 1) / 2.0 if self.transformer_kind == AUTOTRANSFORMER else (count - 1) // 2
        own = self.phase_shift_deg or 0.0
        return tuple(60.0 / count * (k - middle) + own for k in range(count))

    @property
    def _leakages(self) -> tuple[float, ...]:
        count = self.bridges
        if not self.has_transformer:
            return (0.0,)
        mean = self.transformer_pct / 100.0 * count
        if count == 1:
            return (mean,)
        spread = self.leakage_mismatch_pct / 100.0
        return tuple(mean * (1.0 + spread * (0.5 - k / (count - 1))) for k in range(count))

    def balanced(self) -> FrontEnd:
        """The same drive on a balanced, undistorted supply and with matched windings."""
        return replace(self, unbalance_pct=0.0, unbalance_deg=0.0, background=(), leakage_mismatch_pct=0.0)


def _phasor(percent: float, degrees: float) -> complex:
    return percent / 100.0 * cmath.exp(1j * math.radians(degrees)) if percent else 0j


def solve_front_end(front_end: FrontEnd, max_order: int = 50) -> SteadyState:
    """Steady state in per unit: amperes on P_r / V, volts on V.

    The rated fundamental line current P_r / (sqrt(3) V) is 0.577 in these amperes.

    Raises
    ------
    NoSolutionError
        The front end cannot supply the load, or has no stable periodic solution.

    Examples
    --------
    >>> state = solve_front_end(FrontEnd(pulses=6, source_pct=0.5, reactor_pct=3.0))
    >>> round(state.line_current[0].thd_pct, 1)
    39.2
    """
    return solve(front_end.circuit(), max_order)


def solve_front_ends(
    front_ends: Iterable[FrontEnd], max_order: int = 50, progress: Progress | None = None
) -> list[SteadyState | NoSolutionError]:
    """The same for many; equal front ends are solved once, a failure takes its own place only.

    Parameters
    ----------
    front_ends : iterable of FrontEnd
    max_order : int
        Highest order of the spectra.
    progress : callable, optional
        Called with the number of distinct front ends solved and their total.

    Returns
    -------
    list of SteadyState or NoSolutionError
        In the order of `front_ends`.
    """
    return solve_many([front_end.circuit() for front_end in front_ends], max_order, progress=progress)
