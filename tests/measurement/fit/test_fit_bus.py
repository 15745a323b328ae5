"""Two drives on one bus in ngspice, recorded together: what feeds them and what they take is found."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest

import xlcalc as xl
from xlcalc.core.errors import InputError
from xlcalc.face.fit_bus import fit_bus
from xlcalc.measurement.fit.bus import estimate_bus
from xlcalc.measurement.fit.bus_currents import BusCurrents, BusDrive
from xlcalc.measurement.fit.point import OperatingPoint
from xlcalc.measurement.recording import Channel, Recording
from xlcalc.network.sequence import components
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.rectifier.steady_state import solve

VOLTS, MVA, XR, HZ, RATE = 400.0, 4.0, 10.0, 50.0, 10_000
RATED = {
    75e3: {"reactor_pct": 3.0, "choke_pct": 0.0, "load_pct": 80.0},
    30e3: {"reactor_pct": 2.0, "choke_pct": 3.0, "load_pct": 60.0},
}
LOAD = (75 * 80 + 30 * 60) / 105


@pytest.fixture(scope="module")
def simulated(
    spice: ModuleType, loaded: Callable[[str], ModuleType], tmp_path_factory: pytest.TempPathFactory
) -> tuple[np.ndarray, np.ndarray]:
    """Voltages of the bus and currents of both drives, orders 1 to 50, rms."""
    plants, recordings = loaded("ngspice_plant.py"), loaded("recordings.py")
    circuits = []
    for watts, values in RATED.items():
        drop, ohms = recordings.straight_diode(watts * values["load_pct"] / 135.0 / VOLTS)
        front_end = FrontEnd(
            pulses=6,
            source_pct=1.0,
            dc_capacitance_pu=2.0,
            diode_drop_pct=100.0 * drop / VOLTS,
            diode_resistance_pct=100.0 * ohms * watts / VOLTS**2,
            **values,
        )
        circuits.append(recordings.in_si(recordings.Case(front_end, VOLTS, watts), HZ))
    ohms = VOLTS**2 / (1e6 * MVA)
    nothing = np.zeros(3)
    plant = plants.SmallPlant(
        volts=VOLTS,
        hz=HZ,
        source_ohms=ohms * complex(1.0, XR) / math.hypot(1.0, XR),
        load_ohms=(1e6, 1e6),
        capacitor_ohms=None,
        reactor_ohms=0j,
        drives=tuple(circuits),
        source_amps=nothing,
        load_amps=nothing,
        capacitor_amps=nothing,
        capacitor_volts=nothing,
        dc_volts=tuple(0.99 * solve(circuit).dc_volts_mean for circuit in circuits),
    )
    run = plants.simulate(spice, plant, tmp_path_factory.mktemp("bus"), 2_048, 30)
    assert run.drift < 1e-5
    return run.volts, run.current


def test_from_python(simulated: tuple[np.ndarray, np.ndarray]) -> None:
    """3 s with 0.2 % noise; the search begins at another supply, load and capacitance."""
    t = np.arange(3 * RATE) / RATE
    turning = np.exp(2j * np.pi * HZ * np.outer(np.arange(1, 51), t))
    rng = np.random.default_rng(2)
    waves, channels = [], []
    for letter, phasors in zip("UI", simulated, strict=True):
        clean = np.sqrt(2.0) * np.real(phasors @ turning)
        waves += list(clean + 0.002 * abs(phasors[0, 0]) * rng.standard_normal(clean.shape))
        quantity = {"U": "voltage", "I": "current"}[letter]
        channels += [Channel(letter + phase, quantity, phase) for phase in "abc"]
    content = Recording(samples=np.column_stack(waves), rate=float(RATE), channels=tuple(channels))
    record = xl.Record(name="bus", content=content)
    drives = [
        xl.Drive(
            f"P{k}",
            pulses=6,
            kw=watts / 1e3,
            line_reactor_pct=values["reactor_pct"],
            dc_choke_pct=values["choke_pct"],
            load_pct=1.2 * values["load_pct"],
            efficiency_pct=100.0,
        )
        for k, (watts, values) in enumerate(RATED.items())
    ]
    found = xl.fit_bus(record, drives, xl.Supply(kv=VOLTS / 1e3, mva=10.0))
    assert found.values["mva"] == pytest.approx(MVA, rel=0.05)
    assert found.supply.mva == found.values["mva"]
    assert found.values["load_pct"] == pytest.approx(LOAD, rel=0.01)
    assert found.values["dc_capacitance_pu"] == pytest.approx(2.0, rel=0.05)
    assert found.values["background 5th pct"] < 0.2
    assert found.values["unbalance pct"] < 0.1
    assert found.residuals["difference %"].max() < 1.0
    assert "mva: " in repr(found)
    distorted = xl.Supply(kv=VOLTS / 1e3, mva=10.0, unbalance_pct=1.0)
    with pytest.raises(InputError, match=r"unbalance of the supply is 1.* among what is free"):
        fit_bus(record, drives, distorted, "mva")


def exact_point(simulated: tuple[np.ndarray, np.ndarray], last: int) -> OperatingPoint:
    """The odd orders of the circuit as a point that was measured to 1e-5 of the fundamental."""
    orders = np.arange(1, last + 1, 2)
    volts, amps = (components(part)[1:, orders - 1] for part in simulated)
    errors = [np.full(part.shape, 1e-5 * abs(part[0, 0])) for part in (volts, amps)]
    return OperatingPoint(
        orders=orders,
        volts=volts,
        amps=amps,
        volts_error=errors[0],
        amps_error=errors[1],
        hz=HZ,
        nominal_hz=HZ,
        windows=15,
        scatter=0.0,
    )


def first_guesses() -> list[BusDrive]:
    return [
        BusDrive(FrontEnd(pulses=6, source_pct=1.0, dc_capacitance_pu=2.0, **values), watts)
        for watts, values in RATED.items()
    ]


def test_two_operating_points_and_what_is_not_free(simulated: tuple[np.ndarray, np.ndarray]) -> None:
    """Exact phasors of one state twice: the same numbers as from one, and the X/R as well."""
    point = exact_point(simulated, 49)
    drives = first_guesses()
    known = {"volts": VOLTS, "mva": 10.0, "xr": 3.0}
    found = estimate_bus([point, point], drives, **known, free=("mva", "xr", "load_pct"))
    values = dict(zip(found.names, found.values, strict=True))
    assert values["mva"] == pytest.approx(MVA, rel=0.01)
    assert values["xr"] == pytest.approx(XR, rel=0.1)
    assert values["load_pct 1"] == pytest.approx(values["load_pct 2"])
    assert values["load_pct 1"] == pytest.approx(LOAD, rel=0.01)
    assert "dc_capacitance_pu" not in values
    with pytest.raises(InputError, match="free is strength"):
        estimate_bus([point], drives, **known, free=("strength",))
    with pytest.raises(InputError, match="are a sign or two phases wrong"):
        estimate_bus([replace(point, amps=-point.amps)], drives, **known)
    bare = replace(drives[0], front_end=replace(drives[0].front_end, reactor_pct=0.0))
    with pytest.raises(InputError, match="line_reactor_pct is 0"):
        estimate_bus([point], [bare], **known)
    assert math.isfinite(found.misfits[0])


def test_errors_of_the_voltages_are_those_of_random_draws(simulated: tuple[np.ndarray, np.ndarray]) -> None:
    """Noise in the voltages alone: 80 draws of it, each through the drives anew, against the stated errors.

    The slopes are central differences here, the answers of the drives to the noise whole solutions.
    """
    point = exact_point(simulated, 25)
    volts = point.volts
    size = 1e-4 * abs(volts[0, 0])
    point = replace(point, volts_error=np.full(volts.shape, size), amps_error=np.full(volts.shape, 1e-7))
    drives = first_guesses()
    model = BusCurrents([point], drives, VOLTS, capacitance=True)
    vector, errors, misfit = model.fitted()

    def parts(of: BusCurrents, at: np.ndarray) -> np.ndarray:
        found = of.differences(at)[0] / model.errors[0]
        return np.concatenate([found.real.ravel(), found.imag.ravel()])

    steps = 1e-4 * np.eye(2)
    slopes = np.stack([(parts(model, vector + d) - parts(model, vector - d)) / 2e-4 for d in steps], axis=1)
    still, rng = parts(model, vector), np.random.default_rng(8)
    moved = []
    for _ in range(80):
        noise = size * (rng.standard_normal(volts.shape) + 1j * rng.standard_normal(volts.shape))
        drawn = BusCurrents([replace(point, volts=volts + noise)], drives, VOLTS, capacitance=True)
        moved.append(np.linalg.lstsq(slopes, parts(drawn, vector) - still, rcond=None)[0])
    assert errors / max(1.0, misfit) == pytest.approx(np.std(moved, axis=0), rel=0.25)
