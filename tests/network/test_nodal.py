"""The nodal network against hand calculation, numpy, the series chain, and the balance of power."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse
from scipy.sparse.linalg import spsolve

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import Spectrum
from xlcalc.network.branches import Line, TransformerBranch
from xlcalc.network.capacitors import CapacitorBank, CTypeFilter, DampedFilter, TunedFilter
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.flow import FlowSolver, phases_in_frame
from xlcalc.network.loads import Generator, LoadModel, MotorLoad, StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.resonance import nearest_characteristic, resonances
from xlcalc.network.short_circuit import resonance_order
from xlcalc.network.topology import Bus
from xlcalc.studies.solution import solve_injected
from xlcalc.studies.sources import LoadCurrent

ORDERS = np.arange(1, 51)
UTILITY = Utility(13.8e3, 250e6, 12)
STEP_DOWN = Transformer(1.5e6, 5.75, 7, 13.8e3, 480, -30)


def plant(**changes) -> NodalNetwork:
    """A ring at 13.8 kV, two low-voltage buses of different shift, everything that a plant can hold."""
    parts = {
        "utility": UTILITY,
        "utility_bus": "intake",
        "nodes": (
            Bus("intake", 13.8e3),
            Bus("north", 13.8e3),
            Bus("south", 13.8e3),
            Bus("A", 480),
            Bus("B", 480),
        ),
        "branches": (
            Line("L1", "intake", "north", 0.05, 0.08),
            Line("L2", "north", "south", 0.1, 0.12, 2e-5, 2),
            Line("L3", "south", "intake", 0.07, 0.1),
            TransformerBranch("T1", "north", "A", STEP_DOWN),
            TransformerBranch("T2", "south", "B", Transformer(1e6, 5, 6, 13.8e3, 480, 0), tap_pct=-2.5),
        ),
        "capacitors": (
            CapacitorBank("C1", "A", 200e3, 480),
            CapacitorBank("C2", "B", 150e3, 525, reactor_pct=7),
            TunedFilter("F5", "south", 400e3, 13.8e3, 4.8, 40),
            DampedFilter("F11", "south", 300e3, 13.8e3, 11, 2),
            CTypeFilter("FC", "north", 300e3, 13.8e3, 3, 2),
        ),
        "loads": (
            StaticLoad("S1", "A", 300e3, 150e3),
            StaticLoad("S2", "B", 200e3, 100e3, LoadModel.SERIES),
            StaticLoad("S3", "B", 50e3, 0.0, LoadModel.NONE, True),
            MotorLoad("M1", "A", 200e3, 0.86),
        ),
        "generators": (Generator("G1", "south", 2e6, 13.8e3, 15, 20, 800e3, 300e3),),
    }
    return NodalNetwork(**{**parts, **changes})


@pytest.mark.parametrize("order", [1, 5, 7.5, 49])
def test_matrix_against_a_sparse_solution_by_branches(order: float) -> None:
    """Incidence matrix of all series branches and shunts, solved by scipy's sparse LU."""
    network = plant()
    index = {bus: k for k, bus in enumerate(network.buses)}
    rows, columns, values, admittance = [], [], [], []

    def element(y: complex, *ends: tuple[str, float]) -> None:
        for bus, weight in ends:
            rows.append(len(admittance))
            columns.append(index[bus])
            values.append(weight)
        admittance.append(y)

    element(1 / complex(UTILITY.impedance(order)), ("intake", 1.0))
    for branch in network.branches:
        if isinstance(branch, TransformerBranch):
            y = 1 / complex(branch.transformer.impedance(order))
            element(y, (branch.to_bus, 1.0), (branch.from_bus, -1.0 / branch.ratio))
        else:
            z = branch.resistance + 1j * order * branch.reactance
            z_pi = z / branch.parallel
            if branch.charging:
                gamma = np.sqrt(z * 1j * order * branch.charging)
                z_pi = z * np.sinh(gamma) / gamma / branch.parallel
                half = branch.parallel * np.tanh(gamma / 2) / (z / gamma)
                element(half, (branch.from_bus, 1.0))
                element(half, (branch.to_bus, 1.0))
            element(1 / z_pi, (branch.from_bus, 1.0), (branch.to_bus, -1.0))
    for capacitor in network.capacitors:
        element(complex(capacitor.admittance(order)), (capacitor.bus, 1.0))
    for machine in (*network.loads, *network.generators):
        element(complex(machine.admittance(network.volts(machine.bus), order)), (machine.bus, 1.0))
    incidence = sparse.csc_matrix((values, (rows, columns)), shape=(len(admittance), len(index)))
    matrix = (incidence.T @ sparse.diags(admittance) @ incidence).tocsc()
    for bus in network.buses:
        unit = np.zeros(len(index), complex)
        unit[index[bus]] = 1.0
        expected = spsolve(matrix, unit)
        for other in network.buses:
            found = complex(network.transfer_impedance(other, bus, order))
            assert found == pytest.approx(expected[index[other]], rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([0.0, 0.5, 1.0]))
def test_power_balances_at_every_order(seed: int, exponent: float) -> None:
    """What the utility and the sources put in, all elements together take, watts and vars."""
    random = np.random.default_rng(seed)
    network = plant(
        resistance_exponent=exponent,
        utility=Utility(13.8e3, 250e6, 12, ((5, 2.0, 30.0), (7, 1.0, 0.0)), 1.0, 40.0),
    )
    drawn = np.zeros((2, 50, 5), complex)
    drawn[:, :, 3:] = (random.normal(size=(2, 50, 2)) + 1j * random.normal(size=(2, 50, 2))) * 20
    flow = FlowSolver(network).solve(drawn)
    for bus in network.buses:
        volts = flow.bus_volts(bus)
        assert volts.shape == (3, 50)
    supplied = _power(flow.bus_volts("intake"), flow.inflow("intake"))
    taken = sum(_power(flow.bus_volts(bus), _injected(flow, bus)) for bus in ("A", "B"))
    for branch in network.branches:
        taken = taken + _power(flow.bus_volts(branch.from_bus), flow.branch_current(branch.name, False))
        taken = taken - _power(flow.bus_volts(branch.to_bus), flow.branch_current(branch.name))
    for capacitor in network.capacitors:
        taken = taken + _power(flow.bus_volts(capacitor.bus), flow.capacitor_current(capacitor.name))
    for machine in (*network.loads, *network.generators):
        taken = taken + _power(flow.bus_volts(machine.bus), flow.machine_current(machine.name))
    scale = np.abs(supplied) + np.abs(_power(flow.bus_volts("A"), _injected(flow, "A"))) + 1e-9
    assert np.all(np.abs(supplied - taken) < 1e-8 * np.maximum(scale, np.abs(taken)))


def _injected(flow, bus: str) -> np.ndarray:
    k = flow.network.index(bus)
    return phases_in_frame(flow.drawn[:, :, k], flow.network.shift_deg(bus))


def _power(volts: np.ndarray, current: np.ndarray) -> np.ndarray:
    return np.sum(volts * np.conj(current), axis=0)


def test_shifts_turn_sequences_and_two_groups_cancel() -> None:
    """Equal six-pulse currents behind Dy1 and Dd0: the 5th and 7th vanish upstream, the 11th and 13th add."""
    base = Transformer(1.5e6, 5.75, 7, 13.8e3, 480)
    network = NodalNetwork(
        UTILITY,
        "U",
        (Bus("U", 13.8e3), Bus("A", 480), Bus("B", 480)),
        (
            TransformerBranch("T1", "U", "A", Transformer(1.5e6, 5.75, 7, 13.8e3, 480, -30)),
            TransformerBranch("T2", "U", "B", base),
        ),
    )
    pairs = [(1, 1000.0)] + [(h, 1000.0 / h) for h in (5, 7, 11, 13)]
    loads = tuple(LoadCurrent.balanced(bus, bus, Spectrum.from_orders(pairs)) for bus in "AB")
    current = np.abs(solve_injected(network, loads).flow.inflow("U")[0]) * 13.8e3 / 480
    assert current[[4, 6]] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert current[[10, 12]] == pytest.approx([2000 / 11, 2000 / 13])


def test_load_flow_takes_the_stated_powers() -> None:
    """Constant powers to the watt, and a generator that delivers what it should."""
    flow = FlowSolver(plant()).solve(np.zeros((2, 50, 5), complex))
    for name, power in (("S3", 50e3), ("M1", 200e3 * (1 + 1j * math.tan(math.acos(0.86))))):
        bus = next(load.bus for load in plant().loads if load.name == name)
        drawn = _power(flow.bus_volts(bus), flow.machine_current(name))[0]
        assert drawn == pytest.approx(power)
    out = -_power(flow.bus_volts("south"), flow.machine_current("G1"))[0]
    assert out == pytest.approx(800e3 + 300e3j)


def test_held_terminal_is_at_nominal() -> None:
    flow = FlowSolver(plant(holds_terminal=True)).solve(np.zeros((2, 50, 5), complex))
    assert flow.bus_volts("intake")[0, 0] == pytest.approx(13.8e3 / math.sqrt(3))


def test_capacitor_amplifies_background_as_the_divider_says() -> None:
    utility = Utility(480, 20e6, 10, ((5, 2.0, 0.0),))
    bank = CapacitorBank("C", "U", 300e3, 480, loss_pct=0.0)
    network = NodalNetwork(utility, "U", (Bus("U", 480),), (), (bank,))
    flow = FlowSolver(network).solve(np.zeros((2, 50, 1), complex))
    z, zc = complex(utility.impedance(5)), complex(1 / bank.admittance(5))
    expected = 0.02 * 480 / math.sqrt(3) * zc / (z + zc)
    assert flow.bus_volts("U")[0, 4] == pytest.approx(expected)
    assert flow.inflow("U")[0, 4] == pytest.approx(expected / zc)
    np.testing.assert_allclose(flow.capacitor_volts("C"), flow.bus_volts("U"), atol=1e-9)


def test_resonances_of_a_detuned_bank() -> None:
    """Series at sqrt(1/p) seen from its own bus; parallel below it, at sqrt(1/(p + X_s/X_c))."""
    utility = Utility(480, 15e6, 1000)
    bank = CapacitorBank("C", "U", 400e3, 480, reactor_pct=7, reactor_xr=1e5, loss_pct=0)
    found = resonances(NodalNetwork(utility, "U", (Bus("U", 480),), (), (bank,)), "U")
    source = utility.impedance(1).imag / bank.capacitor_ohms
    assert [r.kind for r in found] == ["parallel", "series"]
    assert found[0].order == pytest.approx(1 / math.sqrt(0.07 + source), rel=1e-4)
    assert found[1].order == pytest.approx(1 / math.sqrt(0.07), rel=1e-4)
    assert found[1].amplification < 0.01 < 1 < found[0].amplification
    assert (found[1].characteristic, found[1].distance_pct) == (5, pytest.approx(-24.4, abs=0.1))


def test_parallel_resonance_of_a_plain_bank() -> None:
    """Order sqrt(S_sc / Q) of section 8 of the standards, where X/R is high."""
    network = NodalNetwork(
        Utility(480, 20e6, 1000),
        "U",
        (Bus("U", 480),),
        (),
        (CapacitorBank("C", "U", 400e3, 480, loss_pct=0.0),),
    )
    (found,) = resonances(network, "U")
    assert found.order == pytest.approx(resonance_order(20e6, 400e3), rel=1e-4)
    assert nearest_characteristic(found.order) == found.characteristic == 7


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"nodes": (*plant().nodes, Bus("lost", 480))}, "bus lost is an island"),
        ({"nodes": (*plant().nodes, Bus("A", 480))}, "name of a bus is A"),
        ({"loads": (StaticLoad("C1", "A", 1e3),)}, "name of a network element is C1"),
        ({"loads": (StaticLoad("S", "nowhere", 1e3),)}, "bus of S is nowhere"),
        ({"utility": Utility(480, 250e6)}, "volts of the utility is 480"),
        ({"capacitors": (CapacitorBank("C", "A", 1e5, 13.8e3),)}, "rated_volts of C is 13800"),
        ({"generators": (Generator("G", "A", 1e6, 13.8e3, 15),)}, "rated_volts of G is 13800"),
        (
            {"branches": (*plant().branches, Line("L9", "A", "south", 0.1, 0.1))},
            "voltage at the from_bus of L9",
        ),
        ({"branches": (*plant().branches, Line("L9", "A", "A", 0.1, 0.1))}, "to_bus of L9"),
        (
            {"branches": (*plant().branches, TransformerBranch("T9", "A", "south", STEP_DOWN))},
            "primary_volts of T9 is 13800",
        ),
        (
            {"branches": (*plant().branches, Line("tie", "A", "B", 1e-3, 1e-3))},
            "contradict",
        ),
    ],
)
def test_refusals_name_the_element(changes, said: str) -> None:
    with pytest.raises(InputError) as refused:
        plant(**changes)
    assert said in str(refused.value)


def test_parallel_transformers_of_equal_group_are_a_fine_loop() -> None:
    twice = (*plant().branches, TransformerBranch("T1b", "north", "A", STEP_DOWN))
    assert plant(branches=twice).shift_deg("A") == pytest.approx(-30)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: Line("L", "a", "b", 0.0, 0.0), "impedance of L is 0"),
        (lambda: Line("L", "a", "b", -1.0, 0.1), "resistance of L"),
        (lambda: StaticLoad("S", "a", 0.0, 0.0), "watts of S"),
        (lambda: StaticLoad("S", "a", 1.0, 0.0, "delta"), "model of S is delta"),
        (lambda: Transformer(1e6, 0.0, 7, 13.8e3, 480), "impedance_pct"),
        (lambda: MotorLoad("M", "a", 1e3, 1.2), "power_factor of M"),
        (lambda: Generator("G", "a", 1e6, 480, 0.0), "subtransient_pct of G"),
        (lambda: TunedFilter("F", "a", 1e3, 480, 0.9), "tuned_order of F"),
    ],
)
def test_elements_refuse(make, said: str) -> None:
    with pytest.raises(InputError) as refused:
        make()
    assert said in str(refused.value)
