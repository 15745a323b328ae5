"""ngspice with a load whose current is the power over the mean voltage of the DC link.

The simulator forms the mean by two averaging stages, see tests/ngspice.py. It runs from rest with a step of
1/8192 cycle, half of that for the film link: there it differs from the engine by 0.157, 0.042, 0.018 and
0.015 % of the fundamental with 4096, 8192, 16384 and 32768 steps. Diodes are 0.03 V + 1 mohm on both sides.
Voltages and capacitor current of the DC link are compared too.
"""

from __future__ import annotations

import cmath
import math
import os
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from xlcalc.rectifier.circuit import Circuit, DCLink, Load
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.rectifier.passive_filter import FilterRating, PassiveFilter
from xlcalc.rectifier.steady_state import solve

VOLTS, WATTS, HZ = 480.0, 12_500.0, 60.0
OHMS = VOLTS**2 / WATTS
HENRY = OHMS / (2.0 * math.pi * HZ)
DIODE = {"diode_drop_pct": 100.0 * 0.03 / VOLTS, "diode_resistance_pct": 100.0 * 1e-3 / OHMS}
FILM = "film link of 2 uF per kW"
CASES = {
    "bare": FrontEnd(6, 0.5, source_xr=4.0, **DIODE),
    "reactor, 2 pu": FrontEnd(6, 0.5, reactor_pct=3.0, dc_capacitance_pu=2.0, source_xr=4.0, **DIODE),
    "choke, 1 pu, no capacitor resistance": FrontEnd(
        6, 1.0, choke_pct=4.0, dc_capacitance_pu=1.0, capacitor_resistance_pct=0.0, **DIODE
    ),
    FILM: FrontEnd(6, 1.0, dc_capacitance_pu=0.1737, source_xr=4.0, **DIODE),
    "choke, 1 % unbalance": FrontEnd(
        6, 1.0, choke_pct=3.0, unbalance_pct=1.0, unbalance_deg=30.0, source_xr=4.0, **DIODE
    ),
    "12-pulse, choke": FrontEnd(12, 1.0, choke_pct=4.0, source_xr=4.0, load_pct=80.0, **DIODE),
    "12-pulse, 2 % unbalance, 5th": FrontEnd(
        12,
        1.0,
        choke_pct=4.0,
        dc_capacitance_pu=2.0,
        unbalance_pct=2.0,
        background=((5, 2.0, -35.0),),
        source_xr=4.0,
        **DIODE,
    ),
    "passive filter": FrontEnd(6, 1.0, reactor_pct=5.0, filter=FilterRating(20.0, 8.0, 4.7), **DIODE),
}

CHOSEN = (
    *("reactor, 2 pu", FILM, "choke, 1 % unbalance", "12-pulse, 2 % unbalance, 5th"),
    "passive filter",
)
"""One of every kind of circuit; the others differ from one of these in a value or in a part left out."""


def in_si(front_end: FrontEnd) -> Circuit:
    """At 480 V, 60 Hz and 12.5 kW."""
    unit = front_end.circuit()

    def scaled(part: Any, *henries: str) -> Any:
        """Henries and the resistances that belong to them."""
        ohms = [name.replace("inductance", "resistance") for name in henries]
        values = {name: getattr(part, name) * HENRY for name in henries}
        return replace(part, **values, **{name: getattr(part, name) * OHMS for name in ohms})

    passive: PassiveFilter | None = None
    if unit.filter is not None:
        passive = replace(
            scaled(unit.filter, "inductance", "shunt_inductance"),
            capacitance=unit.filter.capacitance * HENRY / OHMS**2,
        )
    return Circuit(
        replace(scaled(unit.supply, "inductance"), volts=VOLTS, hz=HZ),
        DCLink(unit.dc_link.capacitance * HENRY / OHMS**2, unit.dc_link.esr * OHMS),
        Load(unit.load.kind, unit.load.value * WATTS),
        tuple(scaled(bridge, "inductance", "choke_inductance") for bridge in unit.bridges),
        scaled(unit.reactor, "inductance"),
        replace(
            unit.diode,
            forward_volts=unit.diode.forward_volts * VOLTS,
            on_resistance=unit.diode.on_resistance * OHMS,
        ),
        passive,
    )


@pytest.mark.parametrize("name", CASES if os.environ.get("XLCALC_SPICE") == "all" else CHOSEN)
def test_line_currents_and_dc_link(name: str, spice: ModuleType, tmp_path: Path) -> None:
    """Every order to 50, as a phasor in all three phases, within 0.02 % of the fundamental."""
    circuit = in_si(CASES[name])
    state = solve(circuit)
    steps, cycles = (16384, 50) if name == FILM else (8192, 100)
    run = spice.simulate(
        circuit, tmp_path, steps_per_cycle=steps, cycles=cycles, dc_start=state.dc_volts_mean
    )
    assert run.drift < 5e-5, "the simulation has not settled"
    difference = 100.0 * np.abs(state.line_phasors - run.line_current) / np.abs(state.line_phasors[:, :1])
    print(f"{name}: {difference.max():.4f} % of I1, THD {max(state.thd_pct):.2f} %")
    assert float(difference.max()) < 0.02
    assert state.dc_volts_mean == pytest.approx(run.dc_volts, rel=2e-5)
    assert state.dc_volts_min == pytest.approx(run.dc_least, rel=1e-4)
    assert state.dc_volts_max == pytest.approx(run.dc_most, rel=1e-4)
    assert state.capacitor_rms == pytest.approx(run.capacitor_rms, rel=1e-3)
    turned = state.line_phasors[0, 0] * cmath.exp(-2j * math.pi / 3.0)
    unbalanced = CASES[name].unbalance_pct > 0.0
    assert unbalanced or state.line_phasors[1, 0] == pytest.approx(turned, rel=1e-9)


def test_from_a_cold_start_too(spice: ModuleType, tmp_path: Path) -> None:
    """Voltage and average begin 8 % above the steady state, with the load that made uneven pulses before."""
    circuit = in_si(CASES["reactor, 2 pu"])
    state = solve(circuit)
    run = spice.simulate(
        circuit, tmp_path, steps_per_cycle=8192, cycles=100, dc_start=1.08 * state.dc_volts_mean
    )
    assert run.drift < 5e-5
    difference = 100.0 * np.abs(state.line_phasors - run.line_current) / np.abs(state.line_phasors[:, :1])
    assert float(difference.max()) < 0.02
