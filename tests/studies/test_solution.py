"""Coupled and uncoupled plants: exact identities, and the engine alone as reference."""

from __future__ import annotations

import csv
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from xlcalc.core.errors import NoSolutionError
from xlcalc.core.spectrum import Spectrum
from xlcalc.io.plants.plant_file import plant_from
from xlcalc.network.branches import TransformerBranch
from xlcalc.network.capacitors import CapacitorBank
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.loads import Generator, LoadModel, StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.switching import switched
from xlcalc.network.topology import Bus
from xlcalc.rectifier.drive import FrontEnd, solve_front_end
from xlcalc.schema.assembly.network import plant_of
from xlcalc.schema.inputs.drive import PLANT_DRIVES
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import HARD, solve_coupled, solve_injected, solve_uncoupled
from xlcalc.studies.sources import LoadCurrent
from xlcalc.studies.verdict.load_ends import load_ends

DEMO = Path(__file__).parents[2] / "demo"

SIX = FrontEnd(6, 1.0, reactor_pct=2.0, choke_pct=1.0)
UNIT = Transformer(1e6, 5.75, 7, 13.8e3, 480, -30)
TYPICAL = {5: 0.175, 7: 0.110, 11: 0.045, 13: 0.029, 17: 0.015, 19: 0.010, 23: 0.009, 25: 0.008}


def network(utility: Utility | None = None, **parts) -> NodalNetwork:
    return NodalNetwork(
        utility or Utility(13.8e3, 250e6, 12),
        "intake",
        (Bus("intake", 13.8e3), Bus("main", 480)),
        (TransformerBranch("T1", "intake", "main", UNIT),),
        **parts,
    )


@pytest.mark.parametrize("pulses", [6, 12])
@pytest.mark.parametrize(
    ("background", "unbalance"), [((), 0.0), (((5, 2.0, 30.0), (7, 1.0, 0.0)), 0.0), (((5, 1.0, 0.0),), 1.5)]
)
def test_one_kind_of_drive_on_a_plain_reactance_is_the_engine_alone(pulses, background, unbalance) -> None:
    """Three equal drives are one of three times the power; with unbalance and the triplens it brings."""
    plain = network(Utility(13.8e3, 250e6, 12, background, unbalance, 20.0))
    front_end = replace(SIX, pulses=pulses)
    drives = (
        ScheduledDrive("D1", 100e3, front_end, "main", 2),
        ScheduledDrive("D2", 100e3, front_end, "main"),
    )
    told: list[int] = []
    solution = solve_coupled(StudiedPlant(plain, drives), progress=told.append)
    assert told == list(range(1, solution.convergence.iterations + 1))
    assert solution.converged
    z = plain.short_circuit_impedance("main")
    base = 480**2 / 300e3
    alone = solve_front_end(
        replace(
            front_end,
            source_pct=100 * z.imag / base,
            source_xr=z.imag / z.real,
            background=tuple((h, pct, deg + 6 * 30.0) for h, pct, deg in background),
            unbalance_pct=unbalance,
            unbalance_deg=20.0 + 2 * 30.0,
        )
    )
    amps = 300e3 / 480
    expected = np.array([s.phasors for s in alone.line_current]) * amps
    found = sum(load.quantity * load.phases for load in solution.loads)
    assert np.max(np.abs(found - expected)) < 2e-3 * np.abs(expected[0, 0])
    volts = np.array([s.phasors for s in alone.terminal_voltage]) * 480
    assert np.max(np.abs(solution.flow.bus_volts("main") - volts)) < 1e-3 * np.abs(volts[0, 0])


def test_coupling_attenuates() -> None:
    """Many drives on one bus distort less in sum than the drives alone would; both methods side by side."""
    plant = StudiedPlant(network(), (ScheduledDrive("D", 75e3, SIX, "main", 8),))
    coupled, quick = solve_coupled(plant), solve_uncoupled(plant)
    options = PccOptions("intake", "2014")
    assert coupled.pcc(options).tdd_pct < 0.9 * quick.pcc(options).tdd_pct
    assert coupled.thdv_pct("main") < quick.thdv_pct("main")
    assert (coupled.coupled, quick.coupled) == (True, False)


def test_identical_drives_scale() -> None:
    """Identity: TDD = 100 sqrt(sum (n I_h)^2) / I_L at fixed I_L."""
    for n in (1, 4):
        load = LoadCurrent.balanced("D", "main", Spectrum.from_orders([(1, 100.0), (5, 30.0), (7, 12.0)]), n)
        pcc = solve_injected(network(), (load,)).pcc(PccOptions("main", "2014", demand_amps=500.0))
        assert pcc.tdd_pct == pytest.approx(100 * n * np.hypot(30.0, 12.0) / 500.0)


def test_dilution_by_linear_load() -> None:
    """Identity: TDD = THD_I I1(nonlinear) / I_L, with a load that draws no harmonics."""
    linear = StaticLoad("L", "main", 250e3, 0.0, LoadModel.NONE)
    load = LoadCurrent.balanced("D", "main", Spectrum.from_orders([(1, 100.0), (5, 30.0), (7, 12.0)]))
    pcc = solve_injected(network(loads=(linear,)), (load,)).pcc(PccOptions("main", "2014"))
    assert pcc.tdd_pct == pytest.approx(np.hypot(30.0, 12.0) / 100.0 * 100.0 * 100.0 / pcc.demand_amps)
    assert pcc.demand_amps > 390.0


def test_generator_fed_voltage() -> None:
    """Identity V_h = h X''d I_h: typical spectrum at 50 % load on 15 % gives THDV 10.42 %."""
    utility = Utility(480, 1e6 / 0.15, 1000.0)
    plain = NodalNetwork(utility, "G", (Bus("G", 480),))
    rated = 1e6 / (3**0.5 * 480)
    pairs = [(1, 0.5 * rated)] + [(h, 0.5 * rated * share) for h, share in TYPICAL.items()]
    solved = solve_injected(plain, (LoadCurrent.balanced("D", "G", Spectrum.from_orders(pairs)),))
    pcc = solved.pcc(PccOptions("G", "2014"))
    for order, expected in ((5, 6.56), (7, 5.78), (11, 3.71), (13, 2.83), (17, 1.91), (19, 1.43), (25, 1.50)):
        assert pcc.voltage_pct[order - 1] == pytest.approx(expected, abs=0.006)
    assert pcc.thdv_pct == pytest.approx(10.42, abs=0.01)


def test_any_bus_is_a_pcc_and_machines_do_not_raise_isc() -> None:
    generator = Generator("G1", "main", 1e6, 480, 15, 20, 400e3)
    solution = solve_coupled(
        StudiedPlant(network(generators=(generator,)), (ScheduledDrive("D", 200e3, SIX, "main"),))
    )
    bare = network()
    for bus in ("intake", "main"):
        pcc = solution.pcc(PccOptions(bus, "2014"))
        level = 480**2 if bus == "main" else 13.8e3**2
        expected = level / abs(bare.short_circuit_impedance(bus)) / (3**0.5 * level**0.5)
        assert pcc.short_circuit_amps == pytest.approx(expected)
    machines = solution.network.short_circuit_impedance("main", machines=True)
    assert abs(machines) < 0.8 * abs(bare.short_circuit_impedance("main"))


def test_operating_states_of_one_plant() -> None:
    whole = network(
        capacitors=(CapacitorBank("C1", "main", 150e3, 480, reactor_pct=7),),
        loads=(StaticLoad("L", "main", 150e3, 80e3),),
        generators=(Generator("G1", "main", 1e6, 480, 15),),
    )
    drives = (
        ScheduledDrive("D1", 150e3, SIX, "main"),
        ScheduledDrive("D2", 75e3, replace(SIX, choke_pct=4.0), "main", 2),
    )
    weak = replace(whole, utility=replace(whole.utility, short_circuit_va=60e6, x_over_r=8.0))
    states = {
        "strong": switched(whole, ["G1"]),
        "weak": switched(weak, ["G1"]),
        "generator": switched(whole, ["utility", "T1", "intake"]),
    }
    solved = {name: solve_coupled(StudiedPlant(state, drives)) for name, state in states.items()}
    thdv = {name: solution.pcc(PccOptions("main", "2014")).thdv_pct for name, solution in solved.items()}
    assert thdv["generator"] > thdv["weak"] > thdv["strong"]
    at_intake = {name: solved[name].pcc(PccOptions("intake", "2014")).isc_il for name in ("strong", "weak")}
    assert at_intake["weak"] < 0.3 * at_intake["strong"]
    assert "intake" not in states["generator"].buses


def test_no_convergence_is_said() -> None:
    plant = StudiedPlant(network(), (ScheduledDrive("D", 75e3, SIX, "main", 8),))
    hasty = solve_coupled(plant, max_iterations=2)
    assert not hasty.converged
    with pytest.raises(NoSolutionError, match="did not converge"):
        hasty.pcc()


def test_collapse_names_the_drive() -> None:
    weak = network(Utility(13.8e3, 0.3e6, 5))
    with pytest.raises(NoSolutionError, match="drive D"):
        solve_coupled(StudiedPlant(weak, (ScheduledDrive("D", 900e3, SIX, "main"),)))


def test_a_hard_search_starts_from_the_state_of_a_similar_plant() -> None:
    """The demo on its weak supply with its static loads open: the same state, found sooner."""
    content = tomllib.loads((DEMO / "plant.toml").read_text("utf-8"))
    site = plant_from(DEMO / "plant.toml", content)
    with (DEMO / "plant_drives.csv").open(encoding="utf-8") as stream:
        headings, *rows = csv.reader(stream)
    cells = [[float(c) if c.replace(".", "").isdigit() else c or None for c in row] for row in rows]
    drives = PLANT_DRIVES.convert([list(headings), *cells], "drives")
    plant = plant_of(site.tables, drives, site.cases["Weak supply"])
    opened = replace(plant, network=load_ends(plant.network)["static loads open"])
    hard, cold = solve_coupled(plant), solve_coupled(opened)
    warm = solve_coupled(opened, near=hard)
    assert hard.convergence.iterations >= HARD
    assert warm.converged
    assert warm.convergence.iterations < 0.5 * cold.convergence.iterations
    one, other = (np.abs(solution.flow.inflow("Grid")) for solution in (warm, cold))
    assert np.abs(one - other).max() < 1e-5 * other.max()
