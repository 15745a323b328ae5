"""ngspice, run here and now: its waveforms as a recording at 59.9 Hz, read, synchronised and reduced again.

The reference are the phasors of the simulated cycle (numpy in tests/ngspice.py), and the engine's
own. The circuit is a 480 V drive of 12.5 kVA with a 3 % reactor.
"""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest

import xlcalc as xl
from xlcalc.measurement.groups import harmonic_subgroups
from xlcalc.measurement.windows import windows
from xlcalc.rectifier.circuit import Bridge, Circuit, DCLink, Diode, Load, Reactor, ThreePhaseSource
from xlcalc.rectifier.steady_state import solve

HZ, STEPS, EACH, CYCLES = 59.9, 4_096, 8, 40
BASE_HENRY = 480.0**2 / 12_500.0 / (2.0 * np.pi * 60.0)


@pytest.fixture(scope="module")
def simulated(spice: ModuleType, tmp_path_factory: pytest.TempPathFactory):
    circuit = Circuit(
        ThreePhaseSource(480.0, 60.0, 0.005 * BASE_HENRY, 0.0),
        DCLink(750e-6),
        Load("power", 12_500.0),
        (Bridge(0.0, 0.0, 0.0, 0.0, 0.0),),
        Reactor(0.03 * BASE_HENRY, 0.0),
        Diode(0.03, 1e-3),
    )
    state = solve(circuit)
    run = spice.simulate(
        circuit,
        tmp_path_factory.mktemp("spice"),
        steps_per_cycle=STEPS,
        cycles=40,
        dc_start=state.dc_volts_mean,
    )
    assert run.drift < 1e-4, "the simulation has not settled"
    return run, np.array([phase.phasors for phase in state.line_current])


def recorded(folder: Path, waves: np.ndarray) -> xl.Record:
    frame = pd.DataFrame({f"I{p} (A)": np.tile(wave, CYCLES) for p, wave in zip("abc", waves, strict=True)})
    frame.to_csv(folder / "drive.csv", index=False)
    (folder / "map.toml").write_text(f"rate = {HZ * STEPS / EACH}\n", encoding="utf-8")
    return xl.read_record(folder / "drive.csv", folder / "map.toml")


def test_phasors_come_back(simulated, tmp_path: Path) -> None:
    """Within 0.01 % of the fundamental of those simulated, 0.02 % of the engine's."""
    run, engine = simulated
    record = recorded(tmp_path, run.samples[:, ::EACH])
    found = list(windows(record.waveforms))
    assert len(found) == 3
    for window in found:
        assert window.hz == pytest.approx(HZ, rel=1e-7)
        phasors = np.array([window.phasors(k)[:50] for k in range(3)])
        base = np.abs(run.line_current[:, :1])
        assert np.abs(phasors - run.line_current).max() < 1e-4 * base.min()
        assert np.abs(phasors - engine).max() < 2e-4 * base.min()


def test_noise_and_twelve_bits(simulated, tmp_path: Path) -> None:
    """0.5 % of noise and steps of 1/2048 of the range: every order within 0.1 % of the fundamental."""
    run, _ = simulated
    rng = np.random.default_rng(7)
    clean = np.tile(run.samples[:, ::EACH], CYCLES)
    full = 1.2 * np.abs(clean).max()
    noisy = clean + 0.005 * np.abs(run.line_current[0, 0]) * rng.standard_normal(clean.shape)
    coarse = np.round(noisy / full * 2_048) * full / 2_048
    frame = pd.DataFrame(coarse.T, columns=["Ia", "Ib", "Ic"])
    frame.to_csv(tmp_path / "drive.csv", index=False)
    (tmp_path / "map.toml").write_text(f"rate = {HZ * STEPS / EACH}\n", encoding="utf-8")
    record = xl.read_record(tmp_path / "drive.csv", tmp_path / "map.toml")
    for window in windows(record.waveforms):
        assert window.hz == pytest.approx(HZ, rel=1e-4)
        orders = harmonic_subgroups(window.magnitude, window.cycles)
        wanted = np.abs(run.line_current)
        assert np.abs(orders - wanted).max() < 1e-3 * wanted[0, 0]
