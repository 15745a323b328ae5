"""Runs a diode front end in the general circuit simulator ngspice, as an independent reference.

Recipe: nearly ideal diodes (IS 1e-9, N 0.05, RS 1 mohm, about 0.03 V + 1 mohm), Gear integration of order 2
with a forced step (a truncation tolerance so loose that the step is the maximum step), the period an integer
number of steps, Fourier analysis of exactly one cycle. Secondaries of a phase-shifting transformer are
rotated sources with mutually coupled inductors for the shared source inductance.
"""

from __future__ import annotations

import cmath
import math
import shutil
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from xlcalc.rectifier.circuit import Circuit, Diode

DIODE = Diode(forward_volts=0.03, on_resistance=1e-3)
TWO_PI = 2.0 * math.pi
AVERAGING = 0.05  # s


def available() -> bool:
    return shutil.which("ngspice") is not None


@dataclass(frozen=True)
class SpiceResult:
    """Last cycle of a run."""

    line_current: np.ndarray  # (3, orders) complex rms, A
    dc_volts: float
    dc_least: float  # lowest and highest sample of the dc voltage
    dc_most: float
    capacitor_rms: float  # current of the dc capacitor
    drift: float  # largest change of any order from the cycle before, in fundamentals
    seconds: float  # of the simulator process
    samples: np.ndarray  # (3, steps per cycle) line current, A


def simulate(
    circuit: Circuit,
    folder: Path,
    *,
    steps_per_cycle: int,
    cycles: int,
    dc_start: float | None = None,
    max_order: int = 50,
) -> SpiceResult:
    """Run `circuit` from rest for a number of cycles; the diodes are `DIODE`, whatever the circuit says."""
    deck = folder / "front_end.cir"
    raw = folder / "front_end.raw"
    deck.write_text(netlist(circuit, steps_per_cycle, cycles, dc_start or 1.33 * circuit.supply.volts))
    begin = time.perf_counter()
    done = subprocess.run(
        ["ngspice", "-b", "-r", str(raw), str(deck)], capture_output=True, text=True, cwd=folder, check=False
    )
    seconds = time.perf_counter() - begin
    if not raw.exists() or b"Binary:\n" not in raw.read_bytes():
        raise RuntimeError(f"ngspice wrote no result: {done.stdout[-500:]} {done.stderr[-500:]}")
    values = _read_raw(raw)
    instant = values[0]
    period = 1.0 / circuit.supply.hz
    grid = period * (cycles - 2 + np.arange(2 * steps_per_cycle) / steps_per_cycle)
    if instant[-1] < grid[-1] - 0.5 * period / steps_per_cycle:
        raise RuntimeError(
            f"ngspice stopped at {instant[-1]:.4g} s: {done.stdout[-500:]} {done.stderr[-500:]}"
        )
    tracks = np.array([np.interp(grid, instant, row) for row in values[1:]])
    line = np.zeros((3, grid.size))
    if circuit.filter is not None:
        line = tracks[:3]
        tracks = tracks[3:]
    else:
        for k, bridge in enumerate(circuit.bridges):
            line += _turn(-bridge.shift_deg) @ tracks[3 * k : 3 * k + 3]
    last = _phasors(line[:, steps_per_cycle:], max_order)
    before = _phasors(line[:, :steps_per_cycle], max_order)
    dc_volts = tracks[-1, steps_per_cycle:]
    return SpiceResult(
        last,
        float(np.mean(dc_volts)),
        float(np.min(dc_volts)),
        float(np.max(dc_volts)),
        float(np.sqrt(np.mean(tracks[-2, steps_per_cycle:] ** 2))),
        float(np.max(np.abs(last - before)) / np.max(np.abs(last))),
        seconds,
        line[:, steps_per_cycle:],
    )


def netlist(circuit: Circuit, steps_per_cycle: int, cycles: int, dc_start: float) -> str:
    supply = circuit.supply
    step = 1.0 / supply.hz / steps_per_cycle
    shared_l = supply.inductance + circuit.reactor.inductance
    shared_r = supply.resistance + circuit.reactor.resistance
    lines = ["* diode front end", ".model bridge D(IS=1e-9 N=0.05 RS=1m)"]
    saved = []
    names = [(k, x) for k in range(len(circuit.bridges)) for x in range(3)]
    if circuit.filter is not None:
        if len(circuit.bridges) > 1 or supply.terms:
            raise ValueError("a filter is simulated with one bridge on a plain source")
        for x in range(3):
            lines += _filter(circuit, x)
            saved.append(f"i(vf{x})")
        shared_l, shared_r = circuit.reactor.inductance, circuit.reactor.resistance
    for k, x in names:
        lines += _source(circuit, k, x) if circuit.filter is None else []
        leak = circuit.bridges[k]
        if len(circuit.bridges) == 1:
            lines += _series(f"s{k}{x}", f"e{k}{x}", f"t{k}{x}", shared_l, shared_r)
        else:
            lines += _shared(circuit, names, k, x, shared_l + leak.inductance, shared_r)
        own = leak.inductance if len(circuit.bridges) == 1 else 0.0
        lines += _series(f"k{k}{x}", f"t{k}{x}", f"m{k}{x}", own, leak.resistance)
        lines += [f"Vm{k}{x} m{k}{x} b{k}{x} 0"]
        lines += [f"Du{k}{x} b{k}{x} p{k} bridge", f"Dl{k}{x} n b{k}{x} bridge"]
        saved.append(f"i(vm{k}{x})")
    if len(circuit.bridges) > 1 and shared_l > 0.0:
        lines += _couplings(circuit, names, shared_l)
    for k, bridge in enumerate(circuit.bridges):
        lines += _series(f"d{k}", f"p{k}", "bus", bridge.choke_inductance, bridge.choke_resistance)
        if k:
            lines += [f"Rg{k} g{k} 0 1meg"]
        lines += [f"Rp{k} p{k} 0 1meg", f"Rcm{k} p{k} cm{k} 20k", f"Ccm{k} cm{k} 0 0.5n"]
    lines += [f"Cdc bus nc {circuit.dc_link.capacitance!r} IC={dc_start!r}"]
    lines += [f"Rdc nc nd {circuit.dc_link.esr!r}" if circuit.dc_link.esr else "Vesr nc nd 0", "Vdc nd n 0"]
    lines += ["Rn n 0 1meg", "Ebus vbus 0 bus n 1", "Rbus vbus 0 1k"]
    lines += load(circuit, "bus", "n", "", dc_start)
    lines += [
        ".options reltol=1e-6 abstol=1e-6 vntol=1e-5 gmin=1e-9 itl4=100 trtol=1e5 method=gear maxord=2",
        f".save {' '.join(saved)} i(vdc) v(vbus)",
        f".tran {step!r} {cycles / supply.hz!r} {(cycles - 2.01) / supply.hz!r} {step!r} uic",
        ".end",
    ]
    return "\n".join(lines) + "\n"


def _source(circuit: Circuit, k: int, x: int) -> list[str]:
    """Phase EMF of one secondary: sequence q turns by q (shift - 120 x)."""
    supply = circuit.supply
    peak = supply.volts * math.sqrt(2.0 / 3.0)
    shift = circuit.bridges[k].shift_deg
    parts = [(1, 1, 1.0 + 0j), (1, -1, supply.negative_sequence)]
    parts += [(order, 1 if order % 3 == 1 else -1, value) for order, value in supply.background if order % 3]
    lines = []
    node = "0" if k == 0 else f"g{k}"
    wanted = [part for part in parts if part[2]]
    for i, (order, sequence, value) in enumerate(wanted):
        angle = math.degrees(cmath.phase(value)) + order * supply.angle_deg + sequence * (shift - 120.0 * x)
        following = f"e{k}{x}" if i == len(wanted) - 1 else f"e{k}{x}x{i}"
        lines.append(
            f"Ve{k}{x}x{i} {following} {node} "
            f"SIN(0 {float(peak * abs(value))!r} {order * supply.hz!r} 0 0 {(angle + 90.0) % 360.0!r})"
        )
        node = following
    return lines


def _filter(circuit: Circuit, x: int) -> list[str]:
    """Source, filter and its star of shunt branches of one phase; node e0x is where the rectifier starts."""
    supply, passive = circuit.supply, circuit.filter
    assert passive is not None
    inductance = supply.inductance + passive.inductance
    lines = [line.replace(f" e0{x} ", f" g0{x} ") for line in _source(circuit, 0, x)]
    lines += _series(f"f{x}", f"g0{x}", f"h{x}", inductance, supply.resistance + passive.resistance)
    lines += [f"Vf{x} h{x} e0{x} 0", f"Cf{x} e0{x} y{x} {passive.capacitance!r} IC=0"]
    lines += _series(f"y{x}", f"y{x}", "star", passive.shunt_inductance, passive.shunt_resistance)
    if passive.damping_resistance:
        lines += [f"Ry{x}d y{x} y{x}m {passive.damping_resistance!r}"]
    return [*lines, "Rstar star 0 1meg"] if x == 0 else lines


def _series(name: str, start: str, end: str, inductance: float, resistance: float) -> list[str]:
    middle = f"{name}m"
    first = f"L{name} {start} {middle} {inductance!r} IC=0" if inductance else f"Vl{name} {start} {middle} 0"
    second = f"R{name} {middle} {end} {resistance!r}" if resistance else f"Vr{name} {middle} {end} 0"
    return [first, second]


def _shared(
    circuit: Circuit, names: list[tuple[int, int]], k: int, x: int, inductance: float, r: float
) -> list[str]:
    lines = [f"Ls{k}{x} e{k}{x} s{k}{x} {inductance!r} IC=0" if inductance else f"Vs{k}{x} e{k}{x} s{k}{x} 0"]
    terms = []
    for j, y in names:
        factor = r * float(_turn(circuit.bridges[k].shift_deg - circuit.bridges[j].shift_deg)[x, y])
        if abs(factor) > 1e-12:
            terms.append(f"{factor!r}*i(vm{j}{y})")
    lines.append(f"Bs{k}{x} s{k}{x} t{k}{x} V={'+'.join(terms).replace('+-', '-') or '0'}")
    return lines


def _couplings(circuit: Circuit, names: list[tuple[int, int]], shared_l: float) -> list[str]:
    """Mutual part of the shared inductance; the leakage belongs to the coupled coils, so that their matrix
    is regular."""
    total = [shared_l + bridge.inductance for bridge in circuit.bridges]
    lines = []
    for first, (k, x) in enumerate(names):
        for j, y in names[first + 1 :]:
            if j == k:
                continue
            turn = _turn(circuit.bridges[k].shift_deg - circuit.bridges[j].shift_deg)
            factor = float(turn[x, y]) * shared_l / math.sqrt(total[k] * total[j])
            if abs(factor) > 1e-12:
                lines.append(f"K{k}{x}{j}{y} Ls{k}{x} Ls{j}{y} {factor!r}")
    return lines


def load(circuit: Circuit, plus: str, minus: str, tag: str, start: float) -> list[str]:
    """The inverter between two nodes; `start` is where the voltage, and its average, begin.

    The current of a load of constant mean power follows from the average of the voltage, over two stages of
    `AVERAGING`, which leave 1/1400 of a ripple of twice the supply frequency.
    """
    value, least = circuit.load.value, 0.5 * circuit.supply.volts
    if circuit.load.kind == "resistance":
        return [f"Rload{tag} {plus} {minus} {value!r}"]
    if circuit.load.kind == "current":
        return [f"Iload{tag} {plus} {minus} {value!r}"]
    if circuit.load.kind == "power":
        return [f"Bload{tag} {plus} {minus} I={value!r}/max(v({plus},{minus}),{least!r})"]
    lines = []
    above, below = plus, minus
    for stage in range(2):
        node = f"average{tag}x{stage}"
        lines += [
            f"E{node} {node}e 0 {above} {below} 1",
            f"R{node} {node}e {node} 1k",
            f"C{node} {node} 0 {AVERAGING / 1e3!r} IC={start!r}",
        ]
        above, below = node, "0"
    return [*lines, f"Bload{tag} {plus} {minus} I={value!r}/max(v({above}),{least!r})"]


def _turn(degrees: float) -> np.ndarray:
    c = math.cos(math.radians(degrees))
    s = math.sin(math.radians(degrees)) / math.sqrt(3.0)
    return np.array([[c, -s, s], [s, c, -s], [-s, s, c]])


def _phasors(cycle: np.ndarray, max_order: int) -> np.ndarray:
    spectrum = np.fft.rfft(cycle, axis=1) / cycle.shape[1]
    return spectrum[:, 1 : max_order + 1] * math.sqrt(2.0)


def _read_raw(path: Path) -> np.ndarray:
    """Rows of a binary raw file: time, then the saved quantities in their order."""
    data = path.read_bytes()
    mark = data.index(b"Binary:\n") + len(b"Binary:\n")
    head = data[:mark].decode(errors="replace")
    count = int(head.split("No. Variables:")[1].split()[0])
    body = np.frombuffer(data[mark:], dtype="<f8")
    return body[: body.size // count * count].reshape(-1, count).T
