"""Six-pulse drives behind transformers of any phase shift, in the general circuit simulator ngspice.

A transformer is an ideal winding pair turned by its angle with the short-circuit impedance behind it. Loads
differ, so that nothing cancels by itself. Damping of some nanofarad lets the simulator step through the
commutations. Diodes are 0.03 V + 1 mohm on both sides. The plants are our own.
"""

from __future__ import annotations

import math
import subprocess
from dataclasses import dataclass, replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from xlcalc.network.branches import TransformerBranch
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.topology import Bus
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import solve_coupled

VOLTS, HZ = 480.0, 60.0
OMEGA = 2.0 * math.pi * HZ
UTILITY = Utility(VOLTS, 30e6, 8.0)
STEPS, CYCLES = 2048, 20


@dataclass(frozen=True)
class Feeder:
    """A transformer with one drive; DC-link power in W."""

    shift_deg: float
    rated_watts: float
    load_pct: float
    reactor_pct: float = 2.0

    @property
    def transformer(self) -> Transformer:
        return Transformer(1.3 * self.rated_watts, 4.0, 5.0, VOLTS, VOLTS, self.shift_deg)

    @property
    def front_end(self) -> FrontEnd:
        base = VOLTS**2 / self.rated_watts
        return FrontEnd(
            6,
            1.0,
            reactor_pct=self.reactor_pct,
            load_pct=self.load_pct,
            diode_drop_pct=100 * 0.03 / VOLTS,
            diode_resistance_pct=100 * 1e-3 / base,
        )

    @property
    def with_own_transformer(self) -> FrontEnd:
        """The same drive with the transformer as a part of it."""
        base, impedance = VOLTS**2 / self.rated_watts, complex(self.transformer.impedance(1))
        return replace(
            self.front_end,
            phase_shift_deg=self.shift_deg,
            transformer_pct=100.0 * impedance.imag / base,
            transformer_xr=impedance.imag / impedance.real,
        )


QUASI_12 = (Feeder(0.0, 150e3, 100.0), Feeder(-30.0, 150e3, 55.0))
QUASI_12_ZIGZAG = (Feeder(15.0, 150e3, 100.0), Feeder(-15.0, 110e3, 70.0, 3.0))
FIVE_ANGLES = (
    Feeder(-20.0, 90e3, 100.0),
    Feeder(0.0, 90e3, 60.0),
    Feeder(20.0, 90e3, 80.0),
    Feeder(7.5, 75e3, 100.0, 3.0),
    Feeder(-10.0, 75e3, 90.0),
)


@pytest.mark.parametrize("feeders", [QUASI_12, QUASI_12_ZIGZAG, FIVE_ANGLES])
def test_every_order_of_the_supply(spice: ModuleType, tmp_path: Path, feeders: tuple[Feeder, ...]) -> None:
    """Within 0.05 % of the fundamental at every order, transformers in the network or as parts of the drives.

    The 5th is what cancelling leaves.
    """
    theirs = _simulated(spice, tmp_path, feeders)
    buses = [f"B{k}" for k in range(len(feeders))]
    nodes = (Bus("in", VOLTS), *(Bus(bus, VOLTS) for bus in buses))
    branches = tuple(
        TransformerBranch(f"T on {bus}", "in", bus, feeder.transformer)
        for bus, feeder in zip(buses, feeders, strict=True)
    )
    pairs = list(zip(buses, feeders, strict=True))
    plants = (
        StudiedPlant(
            NodalNetwork(UTILITY, "in", nodes, branches, hz=HZ),
            tuple(ScheduledDrive(f"on {bus}", f.rated_watts, f.front_end, bus) for bus, f in pairs),
        ),
        StudiedPlant(
            NodalNetwork(UTILITY, "in", nodes[:1], hz=HZ),
            tuple(
                ScheduledDrive(f"on {bus}", f.rated_watts, f.with_own_transformer, "in") for bus, f in pairs
            ),
        ),
    )
    for plant in plants:
        solution = solve_coupled(plant)
        assert solution.converged
        ours = solution.flow.inflow("in")
        assert np.max(np.abs(ours - theirs)) < 5e-4 * np.abs(theirs[0, 0])
        each = sum(abs(result.load.phases[0, 4]) for result in solution.drives if result.load)
        assert np.abs(theirs[0, 4]) < 0.7 * each


def _simulated(spice: ModuleType, folder: Path, feeders: tuple[Feeder, ...]) -> np.ndarray:
    """Current of the supply, A rms by phase and order, last cycle."""
    deck, raw = folder / "feeders.cir", folder / "feeders.raw"
    deck.write_text(_netlist(spice, feeders))
    subprocess.run(
        ["ngspice", "-b", "-r", str(raw), str(deck)], capture_output=True, text=True, cwd=folder, check=False
    )
    values = spice._read_raw(raw)
    grid = (CYCLES - 2 + np.arange(2 * STEPS) / STEPS) / HZ
    assert values[0][-1] >= grid[-1] - 0.5 / HZ / STEPS
    tracks = np.array([np.interp(grid, values[0], row) for row in values[1:]])
    last, before = (spice._phasors(part, 50) for part in (tracks[:, STEPS:], tracks[:, :STEPS]))
    assert np.max(np.abs(last - before)) < 5e-4 * np.max(np.abs(last))
    return np.asarray(last - last.mean(axis=0))


def _netlist(spice: ModuleType, feeders: tuple[Feeder, ...]) -> str:
    step, source = 1.0 / HZ / STEPS, complex(UTILITY.impedance(1))
    lines = ["* phase shifts", ".model bridge D(IS=1e-9 N=0.05 RS=1m)"]
    for x in range(3):
        peak = VOLTS * math.sqrt(2.0 / 3.0)
        lines += [f"Ve{x} e{x} 0 SIN(0 {peak!r} {HZ!r} 0 0 {(90.0 - 120.0 * x) % 360.0!r})"]
        lines += spice._series(f"s{x}", f"e{x}", f"t{x}", source.imag / OMEGA, source.real)
        lines += [f"Vs{x} t{x} m{x} 0", f"Rv{x} m{x} v{x} 1k", f"Cv{x} v{x} 0 5n"]
    for j, feeder in enumerate(feeders):
        forward, back = spice._turn(feeder.shift_deg), spice._turn(-feeder.shift_deg)
        impedance = complex(feeder.transformer.impedance(1))
        for x in range(3):
            for y in range(3):
                start = f"g{j}" if y == 0 else f"f{j}{x}{y}"
                lines += [f"Ee{j}{x}{y} f{j}{x}{y + 1} {start} m{y} 0 {float(forward[x, y])!r}"]
                lines += [f"Ff{j}{x}{y} m{y} 0 Vi{j}{x} {float(back[y, x])!r}"]
            lines += [f"Vi{j}{x} f{j}{x}3 q{j}{x} 0"]
            lines += spice._series(f"q{j}{x}", f"q{j}{x}", f"u{j}{x}", impedance.imag / OMEGA, impedance.real)
            lines += [f"Rz{j}{x} u{j}{x} z{j}{x} 1k", f"Cz{j}{x} z{j}{x} 0 5n"]
        lines += [f"Rg{j} g{j} 0 1meg", *_six_pulse(spice, j, feeder)]
    return "\n".join(
        [
            *lines,
            ".options reltol=1e-6 abstol=1e-6 vntol=1e-5 gmin=1e-9 itl4=100 trtol=1e5 method=gear maxord=2",
            ".save i(vs0) i(vs1) i(vs2)",
            f".tran {step!r} {CYCLES / HZ!r} {(CYCLES - 2.01) / HZ!r} {step!r} uic",
            ".end\n",
        ]
    )


def _six_pulse(spice: ModuleType, j: int, feeder: Feeder) -> list[str]:
    circuit, base = feeder.front_end.circuit(), VOLTS**2 / feeder.rated_watts
    henry, ohm = (base * value for value in (circuit.reactor.inductance / OMEGA, circuit.reactor.resistance))
    lines = []
    for x in range(3):
        lines += spice._series(f"r{j}{x}", f"u{j}{x}", f"a{j}{x}", henry, ohm)
        lines += [f"Ry{j}{x} a{j}{x} y{j}{x} 2k", f"Cy{j}{x} y{j}{x} 0 2n"]
        lines += [f"Du{j}{x} a{j}{x} p{j} bridge", f"Dl{j}{x} n{j} a{j}{x} bridge"]
    amps = feeder.rated_watts * feeder.load_pct / 100.0
    start = 1.32 * VOLTS
    return [
        *lines,
        f"Cd{j} p{j} y{j} {5.0 / (base * OMEGA)!r} IC={start!r}",
        f"Ry{j} y{j} n{j} {circuit.dc_link.esr * base!r}",
        f"Rpp{j} p{j} 0 1meg",
        f"Rnn{j} n{j} 0 1meg",
        *_mean_power(j, amps, start),
    ]


def _mean_power(j: int, watts: float, start: float) -> list[str]:
    """Constant current that takes the power at the averaged voltage, as the load of the study."""
    return [
        f"Ea{j} ae{j} 0 p{j} n{j} 1",
        f"Ra{j} ae{j} a{j} 1k",
        f"Ca{j} a{j} 0 20u IC={start!r}",
        f"Bl{j} p{j} n{j} I={watts!r}/max(v(a{j}),{0.5 * VOLTS!r})",
    ]
