"""Recordings of simulated drives: random cases, their circuits in SI units, samples with noise and steps."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from types import ModuleType

import numpy as np

from xlcalc.measurement.recording import Channel, Recording
from xlcalc.rectifier.circuit import (
    Bridge,
    Circuit,
    DCLink,
    Diode,
    Load,
    Reactor,
    ThreePhaseSource,
    emf_phasors,
)
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.rectifier.steady_state import solve

HZ, NOMINAL_HZ, RATE, SECONDS = 49.9, 50.0, 10_000, 3.0
NOISE, BITS = 0.005, 12
THERMAL = 0.05 * 0.02585  # N and kT/q of the diode of tests/ngspice.py


@dataclass(frozen=True)
class Case:
    """A drive on its supply as it is, at its voltage and rating."""

    front_end: FrontEnd
    volts: float
    watts: float

    @property
    def truth(self) -> dict[str, float]:
        """The numbers that a fit should find, by their names."""
        known = self.front_end
        background = {f"background {h}th pct": pct for h, pct, _ in known.background}
        angles = {f"background {h}th deg": deg for h, _, deg in known.background}
        return {
            "mva": self.watts / 1e4 / known.source_pct,
            "xr": known.source_xr,
            "load_pct": known.load_pct,
            "emf_pct": 100.0,
            "dc_capacitance_pu": known.dc_capacitance_pu,
            "unbalance pct": known.unbalance_pct,
            "unbalance deg": known.unbalance_deg,
            **background,
            **angles,
        }

    @property
    def guess(self) -> FrontEnd:
        """The drive as somebody describes it who knows neither supply, load nor capacitor."""
        return replace(
            self.front_end,
            source_pct=2.0,
            background=(),
            unbalance_pct=0.0,
            load_pct=100.0,
            dc_capacitance_pu=5.0,
        )


def random_case(rng: np.random.Generator) -> Case:
    """A six-pulse drive of 5 to 250 kW with a reactor or a choke on a distorted, unbalanced supply."""
    volts = float(rng.choice([400.0, 480.0]))
    watts = float(np.exp(rng.uniform(math.log(5e3), math.log(250e3))))
    reactor, choke = rng.choice([(3.0, 0.0), (0.0, 4.0), (2.0, 2.0), (5.0, 0.0), (3.0, 4.0)])
    load = float(rng.uniform(40.0, 110.0))
    drop, ohms = straight_diode(watts * load / 100.0 / 1.35 / volts)
    front_end = FrontEnd(
        pulses=6,
        source_pct=float(rng.uniform(0.8, 5.0)),
        reactor_pct=float(reactor),
        choke_pct=float(choke),
        load_pct=load,
        dc_capacitance_pu=float(np.exp(rng.uniform(math.log(0.3), math.log(6.0)))),
        source_xr=10.0,
        background=tuple(
            (h, float(rng.uniform(0.2, 2.0)), float(rng.uniform(-180, 180))) for h in (5, 7, 11, 13)
        ),
        unbalance_pct=float(rng.uniform(0.2, 1.5)),
        unbalance_deg=float(rng.uniform(-180.0, 180.0)),
        diode_drop_pct=100.0 * drop / volts,
        diode_resistance_pct=100.0 * ohms * watts / volts**2,
    )
    return Case(front_end, volts, watts)


def straight_diode(amps: float) -> tuple[float, float]:
    """Volts and ohms of the line through the diode's curve at 0.4 and 1.6 times a current."""
    at = [THERMAL * math.log(i / 1e-9 + 1.0) + 1e-3 * i for i in (0.4 * amps, 1.6 * amps)]
    ohms = (at[1] - at[0]) / (1.2 * amps)
    return at[0] - ohms * 0.4 * amps, ohms


def in_si(case: Case, hz: float = HZ) -> Circuit:
    """The circuit in ohm, henry and volt at another frequency than the nominal one."""
    unit = case.front_end.circuit()
    ohms = case.volts**2 / case.watts
    henry = ohms / (2.0 * math.pi * NOMINAL_HZ)
    supply, link = unit.supply, unit.dc_link
    return Circuit(
        ThreePhaseSource(
            case.volts,
            hz,
            supply.inductance * henry,
            supply.resistance * ohms,
            supply.negative_sequence,
            supply.background,
        ),
        DCLink(link.capacitance * henry / ohms**2, link.esr * ohms),
        Load("mean power", unit.load.value * case.watts),
        tuple(
            Bridge(choke_inductance=b.choke_inductance * henry, choke_resistance=b.choke_resistance * ohms)
            for b in unit.bridges
        ),
        Reactor(unit.reactor.inductance * henry, unit.reactor.resistance * ohms),
        Diode(unit.diode.forward_volts * case.volts, unit.diode.on_resistance * ohms),
    )


def simulated(case: Case, spice: ModuleType, folder: Path) -> np.ndarray:
    """Line current of ngspice, orders 1 to 50, A rms."""
    circuit = in_si(case)
    start = solve(circuit).dc_volts_mean
    run = spice.simulate(circuit, folder, steps_per_cycle=2_048, cycles=40, dc_start=start)
    assert run.drift < 1e-5, "the simulation has not settled"
    return run.line_current


def recorded(case: Case, line: np.ndarray, rng: np.random.Generator) -> Recording:
    """Voltage and current at the terminals as a recorder with 12 bits samples them, 3 s at 10 kHz.

    Its filter passes orders up to 50. The noise is 0.5 % of each fundamental.
    """
    supply = in_si(case).supply
    orders = np.arange(1, line.shape[1] + 1)
    volts = emf_phasors(supply, orders.size) - supply.impedance(orders) * line
    instants = np.arange(int(SECONDS * RATE)) / RATE + rng.uniform(0.0, 0.02)
    turning = np.exp(2j * np.pi * HZ * np.outer(orders, instants))
    columns = []
    for phasors in (volts, line):
        waves = np.sqrt(2.0) * np.real(phasors @ turning)
        waves += NOISE * abs(phasors[0, 0]) * rng.standard_normal(waves.shape)
        step = 1.2 * np.abs(waves).max() / 2 ** (BITS - 1)
        columns += list(np.round(waves / step) * step)
    channels = tuple(
        Channel(f"{letter}{phase}", quantity, phase)
        for letter, quantity in (("U", "voltage"), ("I", "current"))
        for phase in "abc"
    )
    return Recording(samples=np.column_stack(columns), rate=float(RATE), channels=channels)
