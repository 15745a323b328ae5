"""Modelica Standard Library (BSD-3-Clause), two rectifier examples.

Inputs are those of the models `Electrical.Analog.Examples.Rectifier` and
`Electrical.Machines.Examples.Transformers.Rectifier12pulse`; outputs are the Fourier analysis of the
reference waveforms published with the library (MAP-LIB_ReferenceResults).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from xlcalc.rectifier.circuit import Bridge, Circuit, DCLink, Diode, Load, Reactor, ThreePhaseSource
from xlcalc.rectifier.steady_state import solve
from xlcalc.schema.values import Grid
from xlcalc.worksheet.catalogue import FUNCTIONS

SIX_PULSE = {  # order: percent of the fundamental, phi_h - h phi_1 in degrees
    5: (39.789, 169.41),
    7: (15.244, 129.05),
    11: (7.129, -143.15),
    13: (3.515, 121.64),
    17: (3.107, -119.85),
    19: (1.893, 121.02),
    23: (1.622, -103.00),
    25: (1.262, 130.21),
    29: (0.918, -92.07),
    31: (0.866, 142.78),
    35: (0.573, -87.51),
    37: (0.590, 154.42),
}


def test_six_pulse_rectifier() -> None:
    """400 V, 50 Hz, 60 uH per line, 15 mF, 500 A; diodes 2 V and 1 mohm.

    A blocking diode of the model conducts 1 mS. Each of the three legs has one across the dc voltage, so they
    load the bus with 3 mS, which the current of the load takes over here (1.57 A, 0.3 %).
    """
    leakage_amps = 3 * 1e-3 * 524.83
    state = solve(
        Circuit(
            ThreePhaseSource(400.0, 50.0, inductance=60e-6),
            DCLink(15e-3),
            Load("current", 500.0 + leakage_amps),
            diode=Diode(forward_volts=2.0, on_resistance=1e-3),
        )
    )
    current = state.line_current[0]
    assert current.fundamental == pytest.approx(395.50, rel=1e-3)
    assert state.line_rms[0] == pytest.approx(431.43, rel=1e-3)
    assert state.dc_volts_mean == pytest.approx(524.83, rel=1e-3)
    assert state.dc_volts_min == pytest.approx(516.80, rel=1e-3)
    assert state.dc_volts_max == pytest.approx(533.88, rel=1e-3)
    assert current.thd_pct == pytest.approx(43.577, abs=0.1)
    assert state.source_displacement_power_factor == pytest.approx(0.9698, abs=5e-4)
    assert current.angle_deg[0] == pytest.approx(-14.12, abs=0.1)
    phi = np.angle(current.phasors)
    for order, (percent, angle) in SIX_PULSE.items():
        relative = phi[order - 1] - order * phi[0]
        ours = current.percent[order - 1] * np.exp(1j * relative)
        theirs = percent * np.exp(1j * math.radians(angle))
        assert abs(ours - theirs) < 0.1, order


def test_dc_link_of_the_six_pulse_rectifier_in_a_worksheet() -> None:
    """The same circuit in percent of a drive that draws its 501.57 A at 1.35 V."""
    volts, amps = 400.0, 500.0 + 3 * 1e-3 * 524.83
    watts = 1.35 * volts * amps
    ohms, omega = volts**2 / watts, 2.0 * math.pi * 50.0
    settings: Grid = [
        ["load kind", "current"],
        ["source x/r", 1000.0],
        ["dc capacitance pu", omega * 15e-3 * ohms],
        ["capacitor resistance pct", 0.0],
        ["diode drop pct", 100.0 * 2.0 / volts],
        ["diode resistance pct", 100.0 * 1e-3 / ohms],
    ]
    rows = FUNCTIONS["HD_DC_LINK"]([6.0, 100.0 * omega * 60e-6 / ohms, 0.0, 0.0, 100.0, settings])
    assert isinstance(rows, list)
    in_volts = [row[1] / 100.0 * 3.0 * math.sqrt(2.0) / math.pi * volts for row in rows[:4]]
    assert in_volts == pytest.approx([524.83, 516.80, 533.88, 533.88 - 516.80], rel=1e-3)


def test_twelve_pulse_rectifier() -> None:
    """100 V, 50 Hz, two 30 kVA transformers Dy1 and Dd0 of 5 % on one 5 mF capacitor, 0.2 ohm."""
    leakage, resistance = 51.98e-6, 3.333e-3
    state = solve(
        Circuit(
            ThreePhaseSource(100.0, 50.0),
            DCLink(5e-3),
            Load("resistance", 0.2),
            (Bridge(-30.0, leakage, resistance), Bridge(0.0, leakage, resistance)),
            Reactor(),
            Diode(on_resistance=1e-5),
        )
    )
    primary = state.line_current[0]
    secondary = state.bridge_current[1][0]
    assert primary.fundamental == pytest.approx(497.957, rel=1e-3)
    assert state.line_rms[0] == pytest.approx(499.009, rel=1e-3)
    assert secondary.fundamental == pytest.approx(248.98, rel=1e-3)
    assert state.bridge_rms[1, 0] == pytest.approx(258.93, rel=1e-3)
    assert state.dc_volts_mean == pytest.approx(127.493, rel=1e-3)
    assert state.dc_volts_min == pytest.approx(126.002, rel=1e-3)
    assert state.dc_volts_max == pytest.approx(128.854, rel=1e-3)
    assert primary.thd_pct == pytest.approx(6.498, abs=0.05)
    assert secondary.thd_pct == pytest.approx(28.552, abs=0.05)
    for order, percent in {11: 5.493, 13: 3.201, 23: 0.942, 25: 0.728, 35: 0.389, 37: 0.375}.items():
        assert primary.percent[order - 1] == pytest.approx(percent, abs=0.05)
        assert primary.percent[order - 1] == pytest.approx(secondary.percent[order - 1], rel=1e-9)
    for order, percent in {5: 26.701, 7: 7.400, 17: 1.540, 19: 1.446}.items():
        assert secondary.percent[order - 1] == pytest.approx(percent, abs=0.05)
        assert primary.percent[order - 1] < 1e-9
