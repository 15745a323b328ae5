"""ngspice, run here and now: eleven circuits that span the conduction modes, every order to 50 as a phasor.

The simulator runs from rest with a fixed step for a number of cycles; see tests/ngspice.py for the recipe.
The step is coarse, 1/4096 cycle; the bare stiff bridge is the most sensitive to it and to the diode model.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from xlcalc.rectifier.circuit import Bridge, Circuit, DCLink, Diode, Load, Reactor, ThreePhaseSource
from xlcalc.rectifier.steady_state import solve
from xlcalc.rectifier.trace import waveforms

BASE_OHMS = 480.0**2 / 12_500.0
OMEGA = 2.0 * math.pi * 60.0
SHIFTS = {6: (0.0,), 12: (0.0, 30.0), 18: (-20.0, 0.0, 20.0)}


@dataclass(frozen=True)
class Case:
    """480 V, 60 Hz; percentages on 12.5 kVA, those of a bridge on its share; source X/R 4."""

    pulses: int = 6
    source: float = 0.5
    reactor: float = 0.0
    choke: float = 0.0
    leakage: float = 0.0
    unbalance: complex = 0j
    background: tuple[tuple[int, complex], ...] = ()
    load: tuple[Any, float] = ("power", 12_500.0)
    capacitance: float = 750e-6
    cycles: int = 40
    within: float = 0.02  # percent of each phase's fundamental
    dc_within: float = 1e-5

    def circuit(self) -> Circuit:
        shifts = SHIFTS[self.pulses]
        share = len(shifts)

        def henry(percent: float) -> float:
            return percent / 100.0 * BASE_OHMS / OMEGA

        def ohm(percent: float, x_over_r: float) -> float:
            return percent / 100.0 * BASE_OHMS / x_over_r

        return Circuit(
            ThreePhaseSource(
                480.0, 60.0, henry(self.source), ohm(self.source, 4.0), self.unbalance, self.background
            ),
            DCLink(self.capacitance),
            Load(*self.load),
            tuple(
                Bridge(
                    shift,
                    henry(self.leakage * share),
                    ohm(self.leakage * share, 15.0),
                    henry(self.choke * share),
                    ohm(self.choke * share, 25.0),
                )
                for shift in shifts
            ),
            Reactor(henry(self.reactor), ohm(self.reactor, 25.0)),
            Diode(0.03, 1e-3),
        )


CASES = {
    "bare": Case(source=1.0),
    "choke": Case(choke=4.0, cycles=80),
    "reactor": Case(reactor=3.0),
    "choke and reactor": Case(choke=4.0, reactor=5.0),
    "part load, resistance": Case(reactor=3.0, load=("resistance", 90.0)),
    "12-pulse": Case(12, leakage=5.0, choke=4.0),
    "18-pulse, 1 % unbalance": Case(18, leakage=5.0, choke=4.0, unbalance=0.01 * cmath.exp(0.5j)),
    "background 5th 2 %": Case(reactor=3.0, background=((5, 0.02 * cmath.exp(-0.6j)),)),
    "15 % reactance": Case(reactor=14.5, choke=30.0, load=("current", 19.26)),
    # One switching forces the next in this mode; the simulator is late by up to a step each time, and between
    # neighbouring step sizes it scatters by 0.02 % of the fundamental and 0.08 % of the dc voltage.
    "overlap beyond 60 degrees": Case(
        reactor=60.0, choke=30.0, load=("current", 19.26), within=0.08, dc_within=1e-3
    ),
    "slim dc link": Case(reactor=3.0, capacitance=40e-6, load=("current", 19.26)),
}


@pytest.mark.parametrize("name", CASES)
def test_line_currents(name: str, spice: ModuleType, tmp_path: Path) -> None:
    case = CASES[name]
    circuit = case.circuit()
    state = solve(circuit)
    assert state.stable
    reference = spice.simulate(
        circuit, tmp_path, steps_per_cycle=4096, cycles=case.cycles, dc_start=state.dc_volts_mean
    )
    assert reference.drift < 1e-4, "the simulation has not settled"
    ours = np.array([phase.phasors for phase in state.line_current])
    difference = 100.0 * np.abs(ours - reference.line_current) / np.abs(ours[:, :1])
    assert float(difference.max()) < case.within
    assert state.dc_volts_mean == pytest.approx(reference.dc_volts, rel=case.dc_within)
    angle, waveform, _ = waveforms(state, 512)
    assert angle[1] == pytest.approx(360.0 / 512)
    apart = np.abs(waveform - reference.samples[:, ::8]).max()
    assert apart < 2e-3 * np.abs(waveform).max()
