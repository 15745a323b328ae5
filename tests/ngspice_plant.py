"""Runs a whole small plant in ngspice: supply, transformer, linear load, capacitor bank, drives.

Everything stands on one voltage: supply and transformer are one series impedance per phase, the current at
the point of common coupling is that of the supply. The recipe of `tests/ngspice.py` holds. Initial values
come from the caller, so that slow offsets need not die out; the drift from cycle to cycle shows what is left.
"""

from __future__ import annotations

import math
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import numpy as np

from xlcalc.rectifier.circuit import Circuit


@dataclass(frozen=True)
class SmallPlant:
    """SI values per phase; instants are at w t = 0, in phases a, b, c."""

    volts: float
    hz: float
    source_ohms: complex
    load_ohms: tuple[float, float]  # resistance, reactance, in parallel
    capacitor_ohms: float | None
    reactor_ohms: complex  # in series with the capacitor; 0 for a plain bank
    drives: tuple[Circuit, ...]
    source_amps: np.ndarray
    load_amps: np.ndarray
    capacitor_amps: np.ndarray
    capacitor_volts: np.ndarray
    dc_volts: tuple[float, ...]


@dataclass(frozen=True)
class PlantRun:
    """Last cycle."""

    current: np.ndarray  # (3, orders) complex rms of the supply, A
    volts: np.ndarray  # (3, orders) complex rms at the bus, V to neutral
    drift: float
    seconds: float
    bus_samples: np.ndarray  # (3, steps) V to neutral
    bridge_samples: tuple[np.ndarray, ...]  # per drive (bridges, 3, steps), A


def simulate(spice: ModuleType, plant: SmallPlant, folder: Path, steps: int, cycles: int) -> PlantRun:
    deck, raw = folder / "plant.cir", folder / "plant.raw"
    deck.write_text(netlist(spice, plant, steps, cycles))
    begin = time.perf_counter()
    done = subprocess.run(
        ["ngspice", "-b", "-r", str(raw), str(deck)], capture_output=True, text=True, cwd=folder, check=False
    )
    seconds = time.perf_counter() - begin
    if not raw.exists():
        raise RuntimeError(f"ngspice wrote no result: {done.stdout[-500:]} {done.stderr[-500:]}")
    values = spice._read_raw(raw)
    period = 1.0 / plant.hz
    grid = period * (cycles - 2 + np.arange(2 * steps) / steps)
    if values[0][-1] < grid[-1] - 0.5 * period / steps:
        raise RuntimeError(f"ngspice stopped at {values[0][-1]:.4g} s: {done.stderr[-500:]}")
    tracks = np.array([np.interp(grid, values[0], row) for row in values[1:]])
    last, before = (spice._phasors(part[:6], 50) for part in (tracks[:, steps:], tracks[:, :steps]))
    drift = [np.max(np.abs(last - before)[k : k + 3]) / np.max(np.abs(last[k : k + 3])) for k in (0, 3)]
    bridges = [len(drive.bridges) for drive in plant.drives]
    own = np.split(tracks[6:, steps:], 3 * np.cumsum(bridges)[:-1])
    amps = tuple(part.reshape(-1, 3, steps) for part in own)
    return PlantRun(last[:3], last[3:], float(max(drift)), seconds, tracks[3:6, steps:], amps)


def netlist(spice: ModuleType, plant: SmallPlant, steps: int, cycles: int) -> str:
    omega = 2.0 * math.pi * plant.hz
    step = 1.0 / plant.hz / steps
    lines = ["* plant", ".model bridge D(IS=1e-9 N=0.05 RS=1m)"]
    for x in range(3):
        peak = plant.volts * math.sqrt(2.0 / 3.0)
        lines += [
            f"Ve{x} e{x} 0 SIN(0 {peak!r} {plant.hz!r} 0 0 {(90.0 - 120.0 * x) % 360.0!r})",
            f"Ls{x} e{x} s{x} {plant.source_ohms.imag / omega!r} IC={float(plant.source_amps[x])!r}",
            f"Rs{x} s{x} t{x} {plant.source_ohms.real!r}",
            f"Vs{x} t{x} b{x} 0",
            f"Rl{x} b{x} ln {plant.load_ohms[0]!r}",
            f"Ll{x} b{x} ln {plant.load_ohms[1] / omega!r} IC={float(plant.load_amps[x])!r}",
        ]
        if plant.capacitor_ohms is not None:
            farad = 1.0 / omega / plant.capacitor_ohms
            if plant.reactor_ohms:
                lines += [
                    f"Lc{x} b{x} q{x} {plant.reactor_ohms.imag / omega!r} "
                    f"IC={float(plant.capacitor_amps[x])!r}",
                    f"Rc{x} q{x} c{x} {plant.reactor_ohms.real!r}",
                ]
            else:
                lines += [f"Rc{x} b{x} c{x} {max(plant.reactor_ohms.real, 1e-9)!r}"]
            lines += [f"Cc{x} c{x} cn {farad!r} IC={float(plant.capacitor_volts[x])!r}"]
    lines += ["Rln ln 0 1meg", "Rcn cn 0 1meg" if plant.capacitor_ohms is not None else "* no bank"]
    for k, drive in enumerate(plant.drives):
        lines += _drive(spice, plant, k, drive)
    lines += [
        ".options reltol=1e-6 abstol=1e-6 vntol=1e-5 gmin=1e-9 itl4=100 trtol=1e5 method=gear maxord=2",
        ".save i(vs0) i(vs1) i(vs2) v(b0) v(b1) v(b2)",
        *(f".save {' '.join(_bridge_currents(k, drive))}" for k, drive in enumerate(plant.drives)),
        f".tran {step!r} {cycles / plant.hz!r} {(cycles - 2.01) / plant.hz!r} {step!r} uic",
        ".end",
    ]
    return "\n".join(lines) + "\n"


def _bridge_currents(k: int, drive: Circuit) -> list[str]:
    if len(drive.bridges) > 1:
        return [f"i(vi{k}_{j}_{x})" for j in range(len(drive.bridges)) for x in range(3)]
    element = "lr" if drive.reactor.inductance else "vr"
    return [f"i({element}{k}{x})" for x in range(3)]


def _drive(spice: ModuleType, plant: SmallPlant, k: int, drive: Circuit) -> list[str]:
    """One drive; its own supply is not used, the bus takes that place."""
    if len(drive.bridges) > 1:
        return [*_windings(spice, k, drive), *_direct_side(spice, plant, k, drive)]
    (bridge,) = drive.bridges
    lines = []
    for x in range(3):
        if drive.reactor.inductance:
            lines += [
                f"Lr{k}{x} b{x} r{k}{x} {drive.reactor.inductance!r} IC=0",
                f"Rr{k}{x} r{k}{x} m{k}{x} {drive.reactor.resistance!r}",
            ]
        else:
            lines += [f"Vr{k}{x} b{x} m{k}{x} 0"]
        lines += [f"Du{k}{x} m{k}{x} p{k} bridge", f"Dl{k}{x} n{k} m{k}{x} bridge"]
    if bridge.choke_inductance:
        lines += [
            f"Ld{k} p{k} d{k} {bridge.choke_inductance!r} IC=0",
            f"Rd{k} d{k} u{k} {bridge.choke_resistance!r}",
        ]
    else:
        lines += [f"Vd{k} p{k} u{k} 0"]
    lines += [f"Rp{k} p{k} 0 1meg", f"Rm{k} p{k} x{k} 20k", f"Cm{k} x{k} 0 0.5n"]
    return [*lines, *_direct_side(spice, plant, k, drive)]


def _windings(spice: ModuleType, k: int, drive: Circuit) -> list[str]:
    """Reactor, ideal phase-shifting transformer, and one bridge with leakage and choke for each secondary.

    Voltages of a secondary are those of the primary turned by its shift (a sum of three controlled sources),
    currents of the primary those of the secondaries turned back. Damping of some nanofarad at bridges and bus
    lets the simulator step through the commutations.
    """
    lines = []
    for x in range(3):
        lines += spice._series(
            f"r{k}{x}", f"b{x}", f"m{k}{x}", drive.reactor.inductance, drive.reactor.resistance
        )
        lines += [f"Rv{k}{x} b{x} v{k}{x} 1k", f"Cv{k}{x} v{k}{x} 0 5n"]
    for j, bridge in enumerate(drive.bridges):
        forward, back = spice._turn(bridge.shift_deg), spice._turn(-bridge.shift_deg)
        for x in range(3):
            one = f"{k}_{j}_{x}"
            for y in range(3):
                start = f"g{k}_{j}" if y == 0 else f"e{one}_{y}"
                lines += [f"Ee{one}_{y} e{one}_{y + 1} {start} m{k}{y} 0 {float(forward[x, y])!r}"]
                lines += [f"Ff{one}_{y} m{k}{y} 0 Vi{one} {float(back[y, x])!r}"]
            lines += [f"Vi{one} e{one}_3 s{one} 0"]
            lines += spice._series(f"w{one}", f"s{one}", f"a{one}", bridge.inductance, bridge.resistance)
            lines += [f"Du{one} a{one} p{k}_{j} bridge", f"Dl{one} n{k} a{one} bridge"]
            lines += [f"Rq{one} a{one} q{one} 2k", f"Cq{one} q{one} 0 2n"]
        lines += spice._series(
            f"d{k}_{j}", f"p{k}_{j}", f"u{k}", bridge.choke_inductance, bridge.choke_resistance
        )
        lines += [f"Rg{k}_{j} g{k}_{j} 0 1meg", f"Rp{k}_{j} p{k}_{j} 0 1meg"]
        lines += [f"Rm{k}_{j} p{k}_{j} x{k}_{j} 20k", f"Cm{k}_{j} x{k}_{j} 0 0.5n"]
    return lines


def _direct_side(spice: ModuleType, plant: SmallPlant, k: int, drive: Circuit) -> list[str]:
    """Capacitor and load between u and n."""
    lines = [
        f"Cd{k} u{k} y{k} {drive.dc_link.capacitance!r} IC={plant.dc_volts[k]!r}",
        f"Ry{k} y{k} n{k} {drive.dc_link.esr!r}" if drive.dc_link.esr else f"Vy{k} y{k} n{k} 0",
        f"Rn{k} n{k} 0 1meg",
    ]
    return [*lines, *spice.load(drive, f"u{k}", f"n{k}", str(k), plant.dc_volts[k])]
