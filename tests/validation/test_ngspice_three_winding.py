"""Two six-pulse drives on the two secondaries of one transformer, in the general circuit simulator ngspice.

The transformer is its star: leg of the primary, two ideal windings turned by 30 and 0 degrees, a leg behind
each. Damping of some nanofarad lets the simulator step through the commutations. Diodes are 0.03 V + 1 mohm
on both sides. The plant is our own.
"""

from __future__ import annotations

import math
import subprocess
from pathlib import Path
from types import ModuleType

import numpy as np

from xlcalc.network.elements import Utility
from xlcalc.network.loads import StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.three_winding import ThreeWindingTransformer
from xlcalc.network.topology import Bus
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import solve_coupled

VOLTS, HZ = 480.0, 60.0
OMEGA = 2.0 * math.pi * HZ
UTILITY = Utility(VOLTS, 40e6, 8.0)
UNIT = ThreeWindingTransformer(
    "T", ("in", "A", "B"), 500e3, 6.0, 6.5, 10.5, 8.0, (VOLTS, VOLTS, VOLTS), (30.0, 0.0)
)
LOAD = StaticLoad("lighting", "in", 60e3, 30e3)
RATED = {"A": 150e3, "B": 110e3}
REACTOR_PCT, LOAD_PCT = {"A": 3.0, "B": 4.0}, {"A": 100.0, "B": 80.0}
STEPS, CYCLES = 8192, 60


def drive(bus: str) -> ScheduledDrive:
    base = VOLTS**2 / RATED[bus]
    front_end = FrontEnd(
        6,
        1.0,
        reactor_pct=REACTOR_PCT[bus],
        load_pct=LOAD_PCT[bus],
        diode_drop_pct=100 * 0.03 / VOLTS,
        diode_resistance_pct=100 * 1e-3 / base,
    )
    return ScheduledDrive(f"on {bus}", RATED[bus], front_end, bus)


def test_supply_and_both_secondaries(spice: ModuleType, tmp_path: Path) -> None:
    """Per order within 0.1 % of the fundamental; the 5th of both groups nearly cancels."""
    nodes = tuple(Bus(name, VOLTS) for name in UNIT.buses)
    network = NodalNetwork(UTILITY, "in", nodes, UNIT.pairs(), (), (LOAD,), hz=HZ)
    solution = solve_coupled(StudiedPlant(network, (drive("A"), drive("B"))))
    assert solution.converged
    theirs = _simulated(spice, tmp_path)
    flow = solution.flow
    turn = np.exp(1j * np.radians(UNIT.shifts_deg[0]) * np.arange(1, 51))
    ours = (flow.inflow("in"), turn * flow.bus_volts("A"), flow.bus_volts("B"))
    for mine, other in zip(ours, theirs, strict=True):
        assert np.max(np.abs(mine - other)) < 1e-3 * np.abs(other[0, 0])
        distortion = [100 * np.linalg.norm(x[0, 1:]) / np.abs(x[0, 0]) for x in (mine, other)]
        assert abs(distortion[0] - distortion[1]) < 0.1
    one_group = np.abs(flow.winding_current("T", 1)[0])
    assert np.abs(ours[0])[0, 4] < 0.4 * one_group[4]


def _simulated(spice: ModuleType, folder: Path) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Current of the supply and voltages of the secondaries without their zero sequence, last cycle."""
    deck, raw = folder / "unit.cir", folder / "unit.raw"
    deck.write_text(_netlist(spice))
    subprocess.run(
        ["ngspice", "-b", "-r", str(raw), str(deck)], capture_output=True, text=True, cwd=folder, check=False
    )
    values = spice._read_raw(raw)
    grid = (CYCLES - 2 + np.arange(2 * STEPS) / STEPS) / HZ
    assert values[0][-1] >= grid[-1] - 0.5 / HZ / STEPS
    tracks = np.array([np.interp(grid, values[0], row) for row in values[1:]])
    last, before = (spice._phasors(part, 50) for part in (tracks[:, STEPS:], tracks[:, :STEPS]))
    for k in (0, 3, 6):
        assert np.max(np.abs(last - before)[k : k + 3]) < 1e-4 * np.max(np.abs(last[k : k + 3]))
    supply, first, second = (part - part.mean(axis=0) for part in (last[:3], last[3:6], last[6:]))
    return supply, first, second


def _netlist(spice: ModuleType) -> str:
    step = 1.0 / HZ / STEPS
    source, base = complex(UTILITY.impedance(1)), VOLTS**2 / UNIT.rating_va
    legs = [complex(leg) * base for leg in UNIT.legs(1)]
    lines = ["* three windings", ".model bridge D(IS=1e-9 N=0.05 RS=1m)"]
    for x in range(3):
        peak = VOLTS * math.sqrt(2.0 / 3.0)
        lines += [f"Ve{x} e{x} 0 SIN(0 {peak!r} {HZ!r} 0 0 {(90.0 - 120.0 * x) % 360.0!r})"]
        lines += spice._series(f"s{x}", f"e{x}", f"t{x}", source.imag / OMEGA, source.real)
        lines += [f"Vs{x} t{x} b{x} 0"]
        lines += [f"Rl{x} b{x} ln {VOLTS**2 / LOAD.watts!r}"]
        lines += [f"Ll{x} b{x} ln {VOLTS**2 / LOAD.var / OMEGA!r} IC=0"]
        lines += [f"Rv{x} b{x} v{x} 1k", f"Cv{x} v{x} 0 5n"]
        lines += spice._series(f"p{x}", f"b{x}", f"m{x}", legs[0].imag / OMEGA, legs[0].real)
        lines += [f"Rw{x} m{x} w{x} 1k", f"Cw{x} w{x} 0 5n"]
    lines += ["Rln ln 0 1meg"]
    for j, bus in enumerate("AB"):
        forward, back = spice._turn(UNIT.shifts_deg[j]), spice._turn(-UNIT.shifts_deg[j])
        for x in range(3):
            for y in range(3):
                start = f"g{j}" if y == 0 else f"f{j}{x}{y}"
                lines += [f"Ee{j}{x}{y} f{j}{x}{y + 1} {start} m{y} 0 {float(forward[x, y])!r}"]
                lines += [f"Ff{j}{x}{y} m{y} 0 Vi{j}{x} {float(back[y, x])!r}"]
            lines += [f"Vi{j}{x} f{j}{x}3 q{j}{x} 0"]
            leg = legs[1 + j]
            lines += spice._series(f"q{j}{x}", f"q{j}{x}", f"u{j}{x}", leg.imag / OMEGA, leg.real)
            lines += [f"Rz{j}{x} u{j}{x} z{j}{x} 1k", f"Cz{j}{x} z{j}{x} 0 5n"]
        lines += [f"Rg{j} g{j} 0 1meg", *_six_pulse(spice, j, bus)]
    return "\n".join(
        [
            *lines,
            ".options reltol=1e-6 abstol=1e-6 vntol=1e-5 gmin=1e-9 itl4=100 trtol=1e5 method=gear maxord=2",
            ".save i(vs0) i(vs1) i(vs2) v(u00) v(u01) v(u02) v(u10) v(u11) v(u12)",
            f".tran {step!r} {CYCLES / HZ!r} {(CYCLES - 2.01) / HZ!r} {step!r} uic",
            ".end\n",
        ]
    )


def _six_pulse(spice: ModuleType, j: int, bus: str) -> list[str]:
    unit, base = drive(bus).front_end.circuit(), VOLTS**2 / RATED[bus]
    henry, ohm = REACTOR_PCT[bus] / 100.0 * base / OMEGA, unit.reactor.resistance * base
    lines = []
    for x in range(3):
        lines += spice._series(f"r{j}{x}", f"u{j}{x}", f"a{j}{x}", henry, ohm)
        lines += [f"Ry{j}{x} a{j}{x} y{j}{x} 2k", f"Cy{j}{x} y{j}{x} 0 2n"]
        lines += [f"Du{j}{x} a{j}{x} p{j} bridge", f"Dl{j}{x} n{j} a{j}{x} bridge"]
    farad = 5.0 / (base * OMEGA)
    watts = RATED[bus] * LOAD_PCT[bus] / 100.0
    return [
        *lines,
        f"Cd{j} p{j} n{j} {farad!r} IC={1.33 * VOLTS!r}",
        f"Rpp{j} p{j} 0 1meg",
        f"Rnn{j} n{j} 0 1meg",
        f"Bl{j} p{j} n{j} I={watts!r}/max(v(p{j},n{j}),{0.5 * VOLTS!r})",
    ]
