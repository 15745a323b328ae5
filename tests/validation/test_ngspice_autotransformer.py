"""Drives of 12 and 18 pulses on an autotransformer, winding by winding, in the circuit simulator ngspice.

Each leg is a node whose voltage is that of its main winding between two lines; every winding is a pair of
controlled sources between that node and its own terminals. Zero-sequence blocking is a three-winding reactor
of 20 times the base impedance ahead of each bridge.
"""

from __future__ import annotations

import math
import subprocess
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from xlcalc.rectifier.circuit import Circuit
from xlcalc.rectifier.drive import AUTOTRANSFORMER, FrontEnd, solve_front_end
from xlcalc.studies.duty.autotransformer import main_currents, share_pct, short_windings

HZ = 60.0
OMEGA = 2.0 * math.pi * HZ
WATTS, VOLTS = 75e3, 480.0
BASE = VOLTS**2 / WATTS
STEPS, CYCLES = 2048, 20


def drive(pulses: int, load_pct: float = 100.0, unbalance: float = 0.0) -> FrontEnd:
    return FrontEnd(
        pulses,
        1.0,
        choke_pct=3.0,
        load_pct=load_pct,
        transformer_pct=4.0,
        transformer_kind=AUTOTRANSFORMER,
        unbalance_pct=unbalance,
        diode_drop_pct=100 * 0.03 / VOLTS,
        diode_resistance_pct=100 * 1e-3 / BASE,
    )


def test_usual_angles_are_even_about_zero() -> None:
    assert drive(12).shifts_deg == (-15.0, 15.0)
    assert drive(18).shifts_deg == (-20.0, 0.0, 20.0)
    assert drive(24).shifts_deg == (-22.5, -7.5, 7.5, 22.5)


@pytest.mark.parametrize(("pulses", "load_pct", "unbalance"), [(12, 100.0, 0.0), (18, 60.0, 1.0)])
def test_line_and_main_windings(
    spice: ModuleType, tmp_path: Path, pulses: int, load_pct: float, unbalance: float
) -> None:
    """Line currents within 0.3 % of the fundamental at every order, main windings too; kVA within 0.3 %."""
    front_end = drive(pulses, load_pct, unbalance)
    state = solve_front_end(front_end, 200)
    amps = WATTS / VOLTS
    line, main, share = _simulated(spice, tmp_path, front_end)
    assert share_pct(state) == pytest.approx(share, rel=3e-3)
    state = solve_front_end(front_end)
    assert np.max(np.abs(amps * state.line_phasors - line)) < 3e-3 * np.abs(line[0, 0])
    turns = np.array([short_windings(shift) for shift in front_end.shifts_deg])
    ours = amps * main_currents(turns, state.bridge_phasors)
    assert np.max(np.abs(ours - main)) < 3e-3 * np.abs(line[0, 0])


def _simulated(spice: ModuleType, folder: Path, front_end: FrontEnd) -> tuple[np.ndarray, np.ndarray, float]:
    """Line and main currents, A rms by phase and order, and half the volt-amperes, percent; last cycle."""
    deck, raw = folder / "auto.cir", folder / "auto.raw"
    deck.write_text(_netlist(spice, front_end))
    subprocess.run(
        ["ngspice", "-b", "-r", str(raw), str(deck)], capture_output=True, text=True, cwd=folder, check=False
    )
    values = spice._read_raw(raw)
    grid = (CYCLES - 2 + np.arange(2 * STEPS) / STEPS) / HZ
    assert values[0][-1] >= grid[-1] - 0.5 / HZ / STEPS
    tracks = np.array([np.interp(grid, values[0], row) for row in values[1:]])
    last, before = (spice._phasors(part, 50) for part in (tracks[:, STEPS:], tracks[:, :STEPS]))
    assert np.max(np.abs(last - before)) < 1e-3 * np.max(np.abs(last))
    turns = np.array([short_windings(shift) for shift in front_end.shifts_deg])
    rms = np.sqrt(np.mean(tracks[:, STEPS:] ** 2, axis=1))
    short = np.sum(np.abs(turns) * rms[6:].reshape(-1, 3)[..., None])
    share = 50.0 * VOLTS * (short + rms[3:6].sum()) / (WATTS * front_end.load_pct / 100.0)
    return last[:3], last[3:6], float(share)


def _netlist(spice: ModuleType, front_end: FrontEnd) -> str:
    circuit = front_end.circuit()
    step, henry = 1.0 / HZ / STEPS, BASE / OMEGA
    lines = ["* autotransformer", ".model bridge D(IS=1e-9 N=0.05 RS=1m)"]
    emf = VOLTS * math.sqrt(2.0 / 3.0)
    for x in range(3):
        negative = abs(circuit.supply.negative_sequence)
        lines += [
            f"Ve{x} e{x} f{x} SIN(0 {emf!r} {HZ!r} 0 0 {(90.0 - 120.0 * x) % 360.0!r})",
            f"Vn{x} f{x} 0 SIN(0 {emf * negative!r} {HZ!r} 0 0 {(90.0 + 120.0 * x) % 360.0!r})",
        ]
        inductance, ohm = circuit.supply.inductance * henry, circuit.supply.resistance * BASE
        lines += spice._series(f"s{x}", f"e{x}", f"t{x}", inductance, ohm)
        lines += [f"Vs{x} t{x} m{x} 0", f"Rv{x} m{x} v{x} 1k", f"Cv{x} v{x} 0 5n"]
    for leg in range(3):
        # the node of a leg has the voltage of its main winding; the sum of ampere-turns there is zero
        after = (leg + 1) % 3
        lines += [
            f"Vw{leg} m{leg} w{leg} 0",
            f"Ew{leg} w{leg} m{after} c{leg} 0 1",
            f"Fw{leg} 0 c{leg} Vw{leg} 1",
            f"Lc{leg} c{leg} 0 {1e5 * henry!r} IC=0",
            f"Rc{leg} c{leg} 0 1meg",
        ]
    for k, bridge in enumerate(circuit.bridges):
        lines += _output(spice, k, circuit, short_windings(bridge.shift_deg))
    farad, watts, start = (
        circuit.dc_link.capacitance / (BASE * OMEGA),
        circuit.load.value * WATTS,
        1.3 * VOLTS,
    )
    lines += [
        f"Cd p y {farad!r} IC={start!r}",
        f"Ry y n {circuit.dc_link.esr * BASE!r}",
        "Rp p 0 1meg",
        "Rn n 0 1meg",
        "Ea ae 0 p n 1",
        "Ra ae a 1k",
        f"Ca a 0 10u IC={start!r}",
        f"Bl p n I={watts!r}/max(v(a),{0.5 * VOLTS!r})",
        ".options reltol=1e-6 abstol=1e-6 vntol=1e-5 gmin=1e-9 itl4=100 trtol=1e5 method=gear maxord=2",
        ".save i(vs0) i(vs1) i(vs2) i(vw0) i(vw1) i(vw2)",
        *(f".save i(lz{k}0) i(lz{k}1) i(lz{k}2)" for k in range(len(circuit.bridges))),
        f".tran {step!r} {CYCLES / HZ!r} {(CYCLES - 2.01) / HZ!r} {step!r} uic",
        ".end\n",
    ]
    return "\n".join(lines)


def _output(spice: ModuleType, k: int, circuit: Circuit, turns: np.ndarray) -> list[str]:
    """Short windings, leakage, blocking reactor, bridge and choke of one output."""
    bridge, henry = circuit.bridges[k], BASE / OMEGA
    lines = []
    for x in range(3):
        node = f"m{x}"
        for leg in np.flatnonzero(np.abs(turns[x]) > 1e-12):
            one, turn = f"{k}{x}{leg}", float(turns[x, leg])
            lines += [
                f"Vo{one} {node} o{one} 0",
                f"Eo{one} q{one} o{one} c{leg} 0 {turn!r}",
                f"Fo{one} c{leg} 0 Vo{one} {turn!r}",
            ]
            node = f"q{one}"
        lines += spice._series(
            f"k{k}{x}", node, f"z{k}{x}", bridge.inductance * henry, bridge.resistance * BASE
        )
        lines += [f"Lz{k}{x} z{k}{x} b{k}{x} {20.0 * henry!r} IC=0"]
        lines += [f"Rb{k}{x} b{k}{x} d{k}{x} 2k", f"Cb{k}{x} d{k}{x} 0 2n"]
        lines += [f"Du{k}{x} b{k}{x} u{k} bridge", f"Dl{k}{x} l{k} b{k}{x} bridge"]
    lines += [f"Kz{k}{x}{y} Lz{k}{x} Lz{k}{y} 0.999999" for x in range(3) for y in range(x)]
    half, ohm = bridge.choke_inductance * henry / 2.0, bridge.choke_resistance * BASE / 2.0
    lines += spice._series(f"h{k}", f"u{k}", "p", half, ohm)
    lines += spice._series(f"j{k}", "n", f"l{k}", half, ohm)
    return [*lines, f"Rx{k} u{k} x{k} 20k", f"Cx{k} x{k} 0 0.5n"]
