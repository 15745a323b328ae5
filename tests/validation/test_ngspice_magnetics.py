"""ngspice on the currents that size magnetics, and on the DC link of a drive at low and high line voltage.

Rms, peak and ripple of line reactor and DC choke from its samples. Case A1 (Modelica Standard Library, see
`test_modelica_standard_library`) goes through the same door.
"""

from __future__ import annotations

import math
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from xlcalc.rectifier.circuit import Bridge, Circuit, DCLink, Diode, Load, Reactor, ThreePhaseSource
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.rectifier.passive_filter import FilterRating
from xlcalc.schema.values import Grid
from xlcalc.studies.duty.front_end import NO_LOAD_PER_LINE_VOLT, link_duty, magnetics
from xlcalc.worksheet.catalogue import FUNCTIONS

VOLTS, WATTS, HZ = 480.0, 12_500.0, 60.0
OHMS = VOLTS**2 / WATTS
HENRY = OHMS / (2.0 * math.pi * HZ)
DROP, RESISTANCE = 0.03, 1e-3
DRIVE = FrontEnd(
    6,
    1.0,
    reactor_pct=3.0,
    choke_pct=4.0,
    dc_capacitance_pu=2.0,
    diode_drop_pct=100.0 * DROP / VOLTS,
    diode_resistance_pct=100.0 * RESISTANCE / OHMS,
)


def circuit_at(line: float) -> Circuit:
    """The drive at 480 V, 60 Hz and 12.5 kW, built of henry and ohm; the supply at `line` per unit."""
    return Circuit(
        ThreePhaseSource(line * VOLTS, HZ, 0.01 * HENRY, 0.001 * OHMS),
        DCLink(2.0 * HENRY / OHMS**2, 0.005 * OHMS),
        Load("mean power", WATTS),
        (Bridge(0.0, 0.0, 0.0, 0.04 * HENRY, 0.0016 * OHMS),),
        Reactor(0.03 * HENRY, 0.0012 * OHMS),
        Diode(DROP, RESISTANCE),
    )


@pytest.mark.parametrize("line_pct", [90.0])
def test_currents_and_link_away_from_nominal_line(line_pct: float, spice: ModuleType, tmp_path: Path) -> None:
    """0.05 % on rms and mean values, 0.2 % on peaks, which the simulator samples."""
    sized = magnetics(DRIVE, VOLTS, WATTS, HZ, line_pct)
    start = sized.state.dc_volts_mean * VOLTS
    run = spice.simulate(
        circuit_at(line_pct / 100.0), tmp_path, steps_per_cycle=4096, cycles=40, dc_start=start
    )
    reactor, choke = sized.line_reactor, sized.choke
    assert reactor is not None
    assert choke is not None
    assert reactor.rms == pytest.approx(np.sqrt(np.mean(run.samples[0] ** 2)), rel=5e-4)
    assert reactor.peak == pytest.approx(np.max(np.abs(run.samples)), rel=2e-3)
    assert reactor.orders[5] == pytest.approx(abs(run.line_current[0, 4]), rel=2e-3)
    direct = np.sum(np.abs(run.samples), axis=0) / 2.0
    assert choke.steady == pytest.approx(np.mean(direct), rel=5e-4)
    assert choke.rms == pytest.approx(np.sqrt(np.mean(direct**2)), rel=5e-4)
    assert choke.peak == pytest.approx(np.max(direct), rel=2e-3)
    sixth = math.sqrt(2.0) * abs(np.fft.rfft(direct)[6]) / direct.size
    assert choke.orders[6] == pytest.approx(sixth, rel=2e-3)
    duty = link_duty(DRIVE, line_pct)
    in_volts = NO_LOAD_PER_LINE_VOLT * VOLTS / 100.0
    assert duty.mean_pct * in_volts == pytest.approx(run.dc_volts, rel=1e-4)
    assert duty.lowest_pct * in_volts == pytest.approx(run.dc_least, rel=2e-4)
    rated = WATTS / (NO_LOAD_PER_LINE_VOLT * VOLTS)
    assert duty.capacitor_pct * rated / 100.0 == pytest.approx(run.capacitor_rms, rel=2e-3)


def test_inductances_and_losses_follow_from_percent_by_hand() -> None:
    """L = pct Zb / w; the loss is I^2 R in the R that the X/R states: 3 phases, one choke."""
    sized = magnetics(DRIVE, VOLTS, WATTS, HZ)
    reactor, choke = sized.line_reactor, sized.choke
    assert reactor is not None
    assert choke is not None
    assert reactor.henry == pytest.approx(0.03 * HENRY)
    assert choke.henry == pytest.approx(0.04 * HENRY)
    assert reactor.watts == pytest.approx(3.0 * 0.0012 * OHMS * reactor.rms**2, rel=1e-3)
    assert choke.watts == pytest.approx(0.0016 * OHMS * choke.rms**2, rel=1e-3)


def test_filter_carries_its_capacitor_current() -> None:
    """At 60 Hz the capacitor takes w C V / sqrt3 within the drop of its reactor; currents of its node add."""
    drive = FrontEnd(6, 1.0, reactor_pct=3.0, filter=FilterRating(15.0, 8.0, 0.0))
    sized = magnetics(drive, VOLTS, WATTS, HZ)
    shunt = sized.filter_shunt
    assert shunt is not None
    coil, farad, volts = shunt
    assert farad == pytest.approx(0.15 / OHMS / (2.0 * math.pi * HZ))
    assert coil.steady == pytest.approx(2.0 * math.pi * HZ * farad * VOLTS / math.sqrt(3.0), rel=0.05)
    assert volts == pytest.approx(VOLTS, rel=0.05)
    joined = (
        sized.state.rectifier_current[0, 4] + (sized.state.line_phasors - sized.state.rectifier_current)[0, 4]
    )
    assert abs(joined) * sized.amps == pytest.approx(sized.filter_reactor.orders[5])  # type: ignore[union-attr]


def test_case_a1_in_a_worksheet() -> None:
    """400 V, 50 Hz, 60 uH, 15 mF, 500 A and 1.57 A of leaking diodes, within 0.1 % of what is published."""
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
    drive = [6.0, 100.0 * omega * 60e-6 / ohms, 0.0, 0.0, 100.0, settings]
    rows = FUNCTIONS["HD_LINK_DUTY"]([*drive, 90.0])
    assert isinstance(rows, list)
    nominal = rows[1]
    in_volts = 3.0 * math.sqrt(2.0) / math.pi * volts / 100.0
    found = [cell * in_volts for cell in nominal[1:4]]
    assert found == pytest.approx([524.83, 516.80, 533.88], rel=1e-3)
    assert nominal[7] == pytest.approx(nominal[2] - 90.0)
    assert FUNCTIONS["HD_THD"]([FUNCTIONS["HD_SPECTRUM"](drive)]) == pytest.approx(43.577, rel=1e-3)
    spectrum = FUNCTIONS["HD_SPECTRUM"](drive)
    assert isinstance(spectrum, list)
    assert [spectrum[order - 1][1] for order in (5, 7)] == pytest.approx([39.789, 15.244], rel=1e-3)


def textbook_volts(line: float, line_ohms: complex, choke_ohms: float) -> float:
    """Vd = 1.35 V - (3/pi X + 2 R + R of the choke) P / Vd, per unit; Mohan and others, smooth current."""
    no_load = NO_LOAD_PER_LINE_VOLT * line
    slope = 3.0 / math.pi * line_ohms.imag + 2.0 * line_ohms.real + choke_ohms
    return (no_load + math.sqrt(no_load**2 - 4.0 * slope)) / 2.0


def test_a_line_reactor_costs_what_textbooks_say() -> None:
    """2 % source, 5 % reactor and a choke that smooths; at low line the same power needs more current."""
    drive = FrontEnd(6, 2.0, reactor_pct=5.0, choke_pct=30.0)
    costs = []
    for line_pct in (90.0, 100.0, 110.0):
        ends = [
            textbook_volts(line_pct / 100.0, complex(0.002 + x / 25.0, 0.02 + x), 0.3 / 25.0)
            for x in (0.0, 0.05)
        ]
        duty = link_duty(drive, line_pct)
        assert duty.mean_pct == pytest.approx(100.0 * ends[1] / NO_LOAD_PER_LINE_VOLT, rel=2e-3)
        assert duty.reactor_pct == pytest.approx(
            100.0 * (ends[0] - ends[1]) / NO_LOAD_PER_LINE_VOLT, rel=0.05
        )
        costs.append(duty.reactor_pct)
    assert costs == sorted(costs, reverse=True)
    without = link_duty(FrontEnd(6, 2.0, choke_pct=30.0), 90.0)
    assert without.reactor_pct == 0.0
