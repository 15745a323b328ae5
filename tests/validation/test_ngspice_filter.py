"""ngspice, run here and now: a passive filter ahead of a six-pulse drive, solved with the bridge.

Current ahead of the filter, every order to 50 as a phasor, and the waveform. Recipe of tests/ngspice.py, step
1/8192 cycle. With a capacitor alone the current rings at an order that the step resolves least.
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from xlcalc.rectifier.circuit import Bridge, Circuit, DCLink, Diode, Load, Reactor, ThreePhaseSource
from xlcalc.rectifier.passive_filter import PassiveFilter
from xlcalc.rectifier.steady_state import solve
from xlcalc.rectifier.trace import waveforms

BASE_OHMS = 480.0**2 / 12_500.0
OMEGA = 2.0 * math.pi * 60.0


@dataclass(frozen=True)
class Case:
    """480 V, 60 Hz; percentages on 12.5 kVA; X/R of the source 4, of reactors 25, of the shunt reactor 30."""

    filter_reactor: float = 5.0
    capacitor: float = 20.0
    tuned: float = 0.0
    damping: float = 0.0
    reactor: float = 5.0
    choke: float = 0.0
    negative: complex = 0j
    background: tuple[tuple[int, complex], ...] = ()
    load: float = 12_500.0
    within: float = 0.01  # percent of each phase's fundamental

    def circuit(self) -> Circuit:
        def coil(percent: float, x_over_r: float) -> tuple[float, float]:
            ohms = percent / 100.0 * BASE_OHMS
            return ohms / OMEGA, ohms / x_over_r

        shunt_pct = 1e4 / self.capacitor / self.tuned**2 if self.tuned else 0.0
        shunt = coil(shunt_pct, 30.0) if self.tuned else (0.0, 0.002 * BASE_OHMS)
        return Circuit(
            ThreePhaseSource(480.0, 60.0, *coil(0.5, 4.0), self.negative, self.background),
            DCLink(750e-6),
            Load("power", self.load),
            (Bridge(0.0, 0.0, 0.0, *coil(self.choke, 25.0)),),
            Reactor(*coil(self.reactor, 25.0)),
            Diode(0.03, 1e-3),
            PassiveFilter(
                *coil(self.filter_reactor, 25.0),
                self.capacitor / 100.0 / (OMEGA * BASE_OHMS),
                *shunt,
                self.damping,
            ),
        )


CASES = {
    "capacitor alone": Case(within=0.04),
    "tuned to 4.7": Case(tuned=4.7),
    "tuned, part load": Case(tuned=4.7, load=4_000.0),
    "tuned and damped": Case(tuned=4.7, damping=10.0),
    "tuned, dc choke": Case(tuned=4.7, choke=4.0),
    "unbalanced, background 5th": Case(tuned=5.0, negative=0.01 + 0j, background=((5, 0.02j),)),
}
CHOSEN = ("capacitor alone", "tuned and damped", "tuned, dc choke", "unbalanced, background 5th")
"""Together they hold every part of the circuit; the others leave parts out or change the load."""


@pytest.mark.parametrize("name", CASES if os.environ.get("XLCALC_SPICE") == "all" else CHOSEN)
def test_current_ahead_of_the_filter(name: str, spice: ModuleType, tmp_path: Path) -> None:
    case = CASES[name]
    circuit = case.circuit()
    state = solve(circuit)
    assert state.stable
    reference = spice.simulate(
        circuit, tmp_path, steps_per_cycle=8192, cycles=120, dc_start=state.dc_volts_mean
    )
    assert reference.drift < 1e-4, "the simulation has not settled"
    ours = np.array([phase.phasors for phase in state.line_current])
    difference = 100.0 * np.abs(ours - reference.line_current) / np.abs(ours[:, :1])
    assert float(difference.max()) < case.within
    assert state.dc_volts_mean == pytest.approx(reference.dc_volts, rel=5e-5)
    _, waveform, _ = waveforms(state, 512)
    assert np.abs(waveform - reference.samples[:, ::16]).max() < 1e-3 * np.abs(waveform).max()
