"""Switching-frequency currents of an active front end behind its LCL filter, against ngspice.

Three legs that switch where a reference crosses a triangle, reactor, damped capacitors, reactor and supply;
the formula of the double Fourier integral is that of Holmes and Lipo, Pulse Width Modulation for Power
Converters (2003), the transfer of the filter that of Liserre, Blaabjerg and Hansen (2005). Converter and
supply are invented.
"""

from __future__ import annotations

import math
import subprocess
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from scipy.special import jv

from xlcalc.core.errors import InputError
from xlcalc.studies.duty.active_front_end import SIDEBANDS, SwitchingFilter

HZ, RATIO, VOLTS, RATED = 60.0, 63, 480.0, 200e3
OMEGA = 2.0 * math.pi * HZ
BASE = VOLTS**2 / RATED
STEPS, CYCLES = 16384, 6


def converter(modulation: str, dc_volts: float) -> SwitchingFilter:
    return SwitchingFilter(
        volts=VOLTS,
        hz=HZ,
        switching_hz=RATIO * HZ,
        dc_volts=dc_volts,
        source_pct=1.0,
        line_pct=4.0,
        converter_pct=8.0,
        capacitor_pct=5.0,
        damping_pct=20.0,
        modulation=modulation,  # type: ignore[arg-type]
    )


def test_sine_modulation_is_that_of_bessel_functions() -> None:
    """Leg voltage 4/pi Vdc/2 J_n(m pi M / 2) / m, peak."""
    unit = converter("sine", 850.0)
    index = VOLTS * math.sqrt(2.0 / 3.0) / 425.0
    for m, n in SIDEBANDS:
        expected = 4.0 / math.pi * 425.0 * abs(jv(n, m * math.pi * index / 2.0)) / m / math.sqrt(2.0)
        assert unit.leg_volts(m, n) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("modulation", "dc_volts"), [("space vector", 720.0), ("sine", 850.0)])
def test_sidebands(spice: ModuleType, tmp_path: Path, modulation: str, dc_volts: float) -> None:
    """The four largest within 2 %, the others within 2 % of the largest."""
    unit = converter(modulation, dc_volts)
    amps = _simulated(spice, tmp_path, unit) / (RATED / (math.sqrt(3.0) * VOLTS)) * 100.0
    theirs = np.array([amps[m * RATIO + n - 1] for m, n in SIDEBANDS])
    ours = np.array([unit.amps_pct(m, n) for m, n in SIDEBANDS])
    assert np.max(np.abs(ours - theirs)) < 0.02 * theirs.max()
    large = theirs > 0.5 * theirs.max()
    assert np.max(np.abs(ours / theirs - 1.0)[large]) < 0.02


def test_a_link_that_the_line_charges_by_itself_is_refused() -> None:
    with pytest.raises(InputError, match=r"dc_volts is 650; valid: .*678"):
        converter("space vector", 650.0)


def _simulated(spice: ModuleType, folder: Path, unit: SwitchingFilter) -> np.ndarray:
    """Line current by order, A rms, mean of the phases, last cycle."""
    deck, raw = folder / "pwm.cir", folder / "pwm.raw"
    deck.write_text(_netlist(spice, unit))
    subprocess.run(
        ["ngspice", "-b", "-r", str(raw), str(deck)], capture_output=True, text=True, cwd=folder, check=False
    )
    values = spice._read_raw(raw)
    grid = (CYCLES - 1 + np.arange(STEPS) / STEPS) / HZ
    tracks = np.array([np.interp(grid, values[0], row) for row in values[1:]])
    return np.asarray(np.mean(np.abs(spice._phasors(tracks, 3 * RATIO)), axis=0))


def _netlist(spice: ModuleType, unit: SwitchingFilter) -> str:
    step, period = 1.0 / HZ / STEPS, 1.0 / (RATIO * HZ)
    index = VOLTS * math.sqrt(2.0 / 3.0) / (unit.dc_volts / 2.0)
    lines = ["* two-level converter"]
    rise, top = 0.4999 * period, 0.0002 * period  # a width of 0 would be that of the whole run
    lines += [f"Vt tri 0 PULSE(-1 1 0 {rise!r} {rise!r} {top!r} {period!r})"]
    for x in range(3):
        lines += [f"Vw{x} w{x} 0 SIN(0 {index!r} {HZ!r} 0 0 {(90.0 - 120.0 * x) % 360.0!r})"]
    zero = "(max(max(v(w0),v(w1)),v(w2))+min(min(v(w0),v(w1)),v(w2)))/2"
    lines += [f"Bz zero 0 V={zero if unit.modulation == 'space vector' else '0'}", "Rmid mid 0 1meg"]
    farad = unit.capacitor_pct / 100.0 / (BASE * OMEGA)
    emf = VOLTS * math.sqrt(2.0 / 3.0)
    ahead, behind = (
        pct / 100.0 * BASE / OMEGA for pct in (unit.source_pct + unit.line_pct, unit.converter_pct)
    )
    for x in range(3):
        lines += [
            f"Bl{x} l{x} mid V={unit.dc_volts / 2.0!r}*(v(w{x})-v(zero)>v(tri) ? 1 : -1)",
            *spice._series(f"b{x}", f"l{x}", f"c{x}", behind, 0.002 * BASE),
            f"Rc{x} c{x} d{x} {unit.damping_pct / 100.0 * BASE!r}",
            f"Cc{x} d{x} star {farad!r} IC=0",
            *spice._series(f"a{x}", f"c{x}", f"g{x}", ahead, 0.01 * BASE),
            f"Vs{x} g{x} e{x} 0",
            f"Ve{x} e{x} 0 SIN(0 {emf!r} {HZ!r} 0 0 {(90.0 - 120.0 * x) % 360.0!r})",
        ]
    lines += [
        "Rstar star 0 1meg",
        ".options reltol=1e-5 abstol=1e-6 vntol=1e-5 method=trap trtol=7",
        ".save i(vs0) i(vs1) i(vs2)",
        f".tran {step!r} {CYCLES / HZ!r} {(CYCLES - 1.01) / HZ!r} {step!r} uic",
        ".end\n",
    ]
    return "\n".join(lines)
