"""Notches that several drives cut together, in the general circuit simulator ngspice.

Drives of 1000 kW in all on a 1500 kVA transformer: 2, 5 and 10 equal ones, 2, 5 and 10 different ones, bare
bridges, a 12-pulse drive beside a six-pulse one. The whole circuit is simulated; depth, area and width are
taken here from its bus voltage, the known EMF, and the currents of its bridges, without the code under test.
Constant load current, as a drive's mean power gives it; diodes of 0.03 V + 1 mohm on both sides.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from xlcalc.network.branches import TransformerBranch
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.topology import Bus
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.coupled.coupling import CoupledPlant, grouped
from xlcalc.studies.notching import BusNotch, bus_notches
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant

VOLTS, HZ = 480.0, 60.0
UTILITY = Utility(VOLTS, 100e6, 10.0)
UNIT = Transformer(1500e3, 5.75, 7.0, VOLTS, VOLTS)
STEPS, CYCLES = 8192, 25
CREST = math.sqrt(2.0) * VOLTS
PAIRS = ((0, 1), (1, 2), (2, 0))


def drive(tag: str, kw: float, pulses: int = 6, **front_end: float) -> ScheduledDrive:
    base = VOLTS**2 / (1e3 * kw)
    diodes = {"diode_drop_pct": 100 * 0.03 / VOLTS, "diode_resistance_pct": 100 * 1e-3 / base}
    values = {"load_kind": "current", "capacitor_resistance_pct": 0.5, **front_end, **diodes}
    return ScheduledDrive(tag, 1e3 * kw, FrontEnd(pulses, 1.0, **values), "main")


def equal(count: int) -> tuple[ScheduledDrive, ...]:
    return tuple(drive(f"E{k}", 1000.0 / count, reactor_pct=3.0) for k in range(count))


TWO = (drive("A", 600, reactor_pct=3.0), drive("B", 250, reactor_pct=1.5, choke_pct=3.0, load_pct=70.0))
FIVE = (
    drive("A", 300, reactor_pct=3.0),
    drive("B", 160, reactor_pct=5.0, load_pct=60.0),
    drive("C", 200, reactor_pct=2.0, choke_pct=3.0),
    drive("D", 75, reactor_pct=1.0, choke_pct=4.0, load_pct=80.0),
    drive("E", 110, reactor_pct=4.0, dc_capacitance_pu=3.0),
)
TEN = (
    *FIVE,
    drive("F", 90, reactor_pct=3.0, load_pct=50.0),
    drive("G", 45, reactor_pct=1.5, load_pct=90.0),
    drive("H", 30, reactor_pct=3.0, choke_pct=2.0, load_pct=40.0),
    drive("I", 132, reactor_pct=3.0, load_pct=75.0),
    drive("J", 55, reactor_pct=2.0, choke_pct=5.0, load_pct=85.0),
)
BARE = (
    drive("bare", 160, load_pct=90.0),
    drive("dc choke", 100, choke_pct=4.0, load_pct=70.0),
    drive("line reactor", 200, reactor_pct=3.0),
)
MIXED = (drive("12-pulse", 400, 12, load_pct=90.0), drive("6-pulse", 300, reactor_pct=3.0, load_pct=80.0))


def plant(drives: tuple[ScheduledDrive, ...]) -> StudiedPlant:
    network = NodalNetwork(
        UTILITY,
        "supply",
        (Bus("supply", VOLTS), Bus("main", VOLTS)),
        (TransformerBranch("T1", "supply", "main", UNIT),),
        hz=HZ,
    )
    return StudiedPlant(network, drives)


def at_main(drives: tuple[ScheduledDrive, ...]) -> BusNotch:
    return next(one for one in bus_notches(plant(drives)) if one.bus == "main")


@pytest.fixture(scope="session")
def plants(loaded: Callable[[str], ModuleType]) -> ModuleType:
    return loaded("ngspice_plant.py")


@pytest.fixture(scope="session")
def circuits(loaded: Callable[[str], ModuleType]) -> ModuleType:
    return loaded("validation/test_ngspice_plant.py")


def simulated(
    drives: tuple[ScheduledDrive, ...],
    spice: ModuleType,
    plants: ModuleType,
    circuits: ModuleType,
    folder: Path,
    first: float = 1.0,
):
    """Run from rest with the capacitors charged; some sets of drives need a start above their mean."""
    coupled = CoupledPlant(plant(drives).network, grouped(drives))
    nothing = np.zeros((len(coupled.groups), 2, 50), complex)
    coupled.image(nothing, coupled.flow(nothing))
    volts = {}
    for k, group in enumerate(coupled.groups):
        state = coupled.state(k)
        assert state is not None
        volts.update({one.tag: first * VOLTS * state.dc_volts_mean for one in group.drives})
    small = plants.SmallPlant(
        VOLTS,
        HZ,
        complex(UTILITY.impedance(1) + UNIT.impedance(1)),
        (1e7, 1e7),
        None,
        0j,
        tuple(circuits.in_si(one) for one in drives),
        np.zeros(3),
        np.zeros(3),
        np.zeros(3),
        np.zeros(3),
        tuple(volts[one.tag] for one in drives),
    )
    run = plants.simulate(spice, small, folder, STEPS, CYCLES)
    assert run.drift < 1e-5
    return run


def conducting(amps: np.ndarray) -> np.ndarray:
    """All three phases of a bridge carry current: it commutates."""
    return np.all(np.abs(amps) > 1e-5 * np.abs(amps).max(), axis=0)


def measured(run, commutating: dict[int, np.ndarray]) -> tuple[float, float, float, float]:
    """Largest depth (%), deviation over the crest (%), area (V us) and width (us) of the simulated notches.

    `commutating` holds, by line-to-line voltage, when one of the drives commutates between its two phases.
    """
    angle = 2.0 * math.pi * np.arange(STEPS) / STEPS
    emf = CREST / math.sqrt(3.0) * np.array([np.cos(angle - 2.0 * math.pi / 3.0 * x) for x in range(3)])
    found = []
    for pair, flags in commutating.items():
        x, y = PAIRS[pair]
        before = emf[x] - emf[y]
        missing = before - (run.bus_samples[x] - run.bus_samples[y])
        start = int(np.flatnonzero(~flags)[0])
        flags, before, missing = (np.roll(row, -start) for row in (flags, before, missing))
        edges = np.flatnonzero(np.diff(flags.astype(int))) + 1
        for a, b in zip(edges[::2], edges[1::2], strict=True):
            gone, there = np.abs(missing[a:b]), np.maximum(np.abs(before[a:b]), abs(before[a]))
            counts = gone >= 0.5 * gone.max()
            found.append(
                (
                    100.0 * np.max(gone[counts] / there[counts]),
                    100.0 * gone.max() / CREST,
                    1e6 * abs(missing[a:b].sum()) / (HZ * STEPS),
                    1e6 * (b - a) / (HZ * STEPS),
                )
            )
    depth, crest, area, width = np.max(found, axis=0)
    return depth, crest, area, width


def changing(amps: np.ndarray) -> dict[int, np.ndarray]:
    """When a bridge in phase with the bus commutates, by the pair of phases whose currents change most."""
    on = conducting(amps)
    third = np.argmax(np.abs(amps), axis=0)  # the phase that carries the whole current keeps it
    return {p: on & (third == 3 - sum(PAIRS[p])) for p in range(3)}


def together(bridges: list[np.ndarray]) -> dict[int, np.ndarray]:
    parts = [changing(amps) for amps in bridges]
    return {pair: np.any([part[pair] for part in parts], axis=0) for pair in range(3)}


@pytest.mark.parametrize(
    ("drives", "first"),
    [(equal(2), 1.0), (equal(5), 1.0), (equal(10), 1.0), (TWO, 1.0), (FIVE, 1.0), (TEN, 1.06), (BARE, 1.0)],
    ids=["2 equal", "5 equal", "10 equal", "2 different", "5 different", "10 different", "bare bridges"],
)
def test_drives_on_one_bus(
    drives: tuple[ScheduledDrive, ...],
    first: float,
    spice: ModuleType,
    plants: ModuleType,
    circuits: ModuleType,
    tmp_path: Path,
) -> None:
    """Depth within 0.5 %, area within 1 %, width within 2 % (asked for: 3 %)."""
    run = simulated(drives, spice, plants, circuits, tmp_path, first)
    depth, crest, area, width = measured(run, together([amps[0] for amps in run.bridge_samples]))
    ours = at_main(drives)
    assert ours.notch.depth_pct == pytest.approx(depth, rel=5e-3)
    assert ours.notch.crest_depth_pct == pytest.approx(crest, rel=0.02)
    assert 1e6 * ours.notch.area_vs == pytest.approx(area, rel=0.01)
    assert 1e6 * ours.notch.width_s == pytest.approx(width, rel=0.02)
    if drives is BARE:
        assert depth == pytest.approx(100.0, abs=0.5)
        assert ours.tags == ("dc choke",)
    else:
        weak = {"H"} if drives is TEN else set()  # 12 of 1009 kW: below the 2 % that are lost in the notch
        assert set(ours.tags) == {one.tag for one in drives} - weak


def test_twelve_pulses_beside_six(
    spice: ModuleType, plants: ModuleType, circuits: ModuleType, tmp_path: Path
) -> None:
    """The bridge in phase with the bus notches with the six-pulse drive, the other one by itself.

    The latter shorts a voltage that lies between two line-to-line voltages and takes cos(30 deg) from each.
    """
    run = simulated(MIXED, spice, plants, circuits, tmp_path)
    twelve, six = run.bridge_samples
    depth, crest, area, width = measured(run, together([twelve[0], six[0]]))
    turned = changing(twelve[1])
    between = {pair: turned[pair] | turned[(pair - 1) % 3] for pair in range(3)}
    other = measured(run, between)
    assert other[1] < crest
    ours = at_main(MIXED)
    assert set(ours.tags) == {"12-pulse", "6-pulse"}
    assert ours.notch.depth_pct == pytest.approx(max(depth, other[0]), rel=5e-3)
    assert ours.notch.crest_depth_pct == pytest.approx(crest, rel=0.02)
    assert 1e6 * ours.notch.area_vs == pytest.approx(max(area, other[2]), rel=0.01)
    assert 1e6 * ours.notch.width_s == pytest.approx(max(width, other[3]), rel=0.02)


def test_the_turned_bridges_of_a_12_pulse_drive_alone(
    spice: ModuleType, plants: ModuleType, circuits: ModuleType, tmp_path: Path
) -> None:
    drives = (drive("12-pulse", 700, 12, transformer_pct=3.0),)
    run = simulated(drives, spice, plants, circuits, tmp_path)
    straight, turned = run.bridge_samples[0]
    parts = changing(turned)
    pairs = [together([straight]), {pair: parts[pair] | parts[(pair - 1) % 3] for pair in range(3)}]
    depth, crest, area, width = np.max([measured(run, one) for one in pairs], axis=0)
    ours = at_main(drives)
    assert ours.notch.depth_pct == pytest.approx(depth, rel=5e-3)
    assert ours.notch.crest_depth_pct == pytest.approx(crest, rel=0.02)
    assert 1e6 * ours.notch.area_vs == pytest.approx(area, rel=0.01)
    assert 1e6 * ours.notch.width_s == pytest.approx(width, rel=0.02)
