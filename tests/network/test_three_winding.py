"""Three-winding transformers: star equivalent, switching, winding currents, and a 12-pulse arrangement."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import MAX_ORDER
from xlcalc.network.branches import TransformerBranch
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.flow import FlowSolver
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.switching import switched
from xlcalc.network.three_winding import ThreeWindingTransformer
from xlcalc.network.topology import Bus
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import solve_coupled

VOLTS = (20e3, 690.0, 400.0)
UNIT = ThreeWindingTransformer(
    "T", ("in", "A", "B"), 2e6, 7.0, 8.0, 14.0, 10.0, VOLTS, (30.0, 0.0), zero_sequence=(False, False)
)
NODES = tuple(Bus(name, volts) for name, volts in zip(UNIT.buses, VOLTS, strict=True))
STIFF = Utility(20e3, 1e15, 10.0)
ORDERS = np.arange(1, MAX_ORDER + 1)


def network(unit: ThreeWindingTransformer = UNIT, utility: Utility = STIFF) -> NodalNetwork:
    return NodalNetwork(utility, "in", NODES, unit.pairs(), hz=50.0, resistance_exponent=0.5)


def test_each_pair_has_its_short_circuit_impedance() -> None:
    whole = network()
    for bus, z_pct, volts in (("A", 7.0, 690.0), ("B", 8.0, 400.0)):
        rated = Transformer(2e6, z_pct, 10.0, 20e3, volts)
        assert whole.impedance(bus, ORDERS) == pytest.approx(rated.impedance(ORDERS, 0.5), rel=1e-6)
    between = sum(leg for leg in UNIT.legs(1)[1:])
    assert abs(complex(between)) == pytest.approx(0.14)


def test_it_is_a_star_with_a_bus_at_its_point() -> None:
    """The same legs as three two-winding transformers on an internal bus of 1 kV; no leg is negative here."""
    legs = [100.0 * abs(complex(leg)) for leg in UNIT.legs(1)]
    utility = Utility(20e3, 100e6, 8.0)
    branches = (
        TransformerBranch("p", "in", "star", Transformer(2e6, legs[0], 10.0, 20e3, 1e3)),
        TransformerBranch("s", "star", "A", Transformer(2e6, legs[1], 10.0, 1e3, 690.0, 30.0)),
        TransformerBranch("t", "star", "B", Transformer(2e6, legs[2], 10.0, 1e3, 400.0)),
    )
    star = NodalNetwork(utility, "in", (*NODES, Bus("star", 1e3)), branches, hz=50.0, resistance_exponent=0.5)
    ours = network(utility=utility)
    for at in UNIT.buses:
        for source in UNIT.buses:
            assert ours.transfer_impedance(at, source, ORDERS) == pytest.approx(
                star.transfer_impedance(at, source, ORDERS), rel=1e-9
            )
            assert ours.current_share(at, source, ORDERS) == pytest.approx(
                star.current_share(at, source, ORDERS), rel=1e-9, abs=1e-12
            )


def test_a_bus_out_of_service_leaves_the_impedance_of_the_pair() -> None:
    reduced = switched(network(), ["B"])
    assert reduced.buses == ("in", "A")
    rated = Transformer(2e6, 7.0, 10.0, 20e3, 690.0)
    assert reduced.impedance("A", ORDERS) == pytest.approx(rated.impedance(ORDERS, 0.5), rel=1e-6)
    assert switched(network(), ["T"]).buses == ("in",)


def test_winding_currents_balance() -> None:
    """What flows in at the primary is what the secondaries give, in ampere-turns, each in its frame."""
    whole = network(utility=Utility(20e3, 100e6, 8.0))
    drawn = np.zeros((2, MAX_ORDER, 3), complex)
    drawn[0, 6, 1], drawn[1, 4, 2] = 30.0 + 5.0j, 20.0
    flow = FlowSolver(whole).solve(drawn)
    primary, secondary, tertiary = (flow.winding_current("T", k) for k in range(3))
    assert abs(secondary[0, 6]) == pytest.approx(abs(drawn[0, 6, 1]))
    assert abs(tertiary[0, 4]) == pytest.approx(20.0)
    assert abs(primary[0, 6]) == pytest.approx(abs(drawn[0, 6, 1]) * 690.0 / 20e3)
    assert abs(primary[0, 4]) == pytest.approx(20.0 * 400.0 / 20e3)
    assert primary == pytest.approx(flow.inflow("in"))


def plant(branches: tuple, quantity: int = 1) -> StudiedPlant:  # type: ignore[type-arg]
    nodes = (Bus("in", 20e3), Bus("A", 690.0), Bus("B", 690.0))
    whole = NodalNetwork(Utility(20e3, 150e6, 8.0), "in", nodes, branches, hz=50.0)
    groups = tuple(
        ScheduledDrive(f"on {bus}", 300e3, FrontEnd(6, 1.0, reactor_pct=3.0), bus, quantity)
        for bus in ("A", "B")
    )
    return StudiedPlant(whole, groups)


def twelve_pulse(z_st: float) -> ThreeWindingTransformer:
    return replace(
        UNIT, z_ps_pct=8.0, z_pt_pct=8.0, z_st_pct=z_st, volts=(20e3, 690.0, 690.0), shifts_deg=(30.0, 0.0)
    )


def test_two_six_pulse_groups_on_one_transformer_are_a_12_pulse_arrangement() -> None:
    solution = solve_coupled(plant(twelve_pulse(15.0).pairs()))
    supply = np.abs(solution.flow.inflow("in")[0])
    winding = np.abs(solution.flow.winding_current("T", 1)[0]) * 690.0 / 20e3
    assert supply[[4, 6]] == pytest.approx([0.0, 0.0], abs=1e-3 * supply[0])
    assert np.all(winding[[4, 6]] > 0.05 * winding[0])
    assert supply[10] == pytest.approx(2.0 * winding[10], rel=1e-3)


def test_without_a_common_leg_it_is_two_transformers() -> None:
    """z_st = z_ps + z_pt makes the leg of the primary zero (by hand)."""
    units = tuple(
        TransformerBranch(f"T{bus}", "in", bus, Transformer(2e6, 8.0, 10.0, 20e3, 690.0, shift))
        for bus, shift in (("A", 30.0), ("B", 0.0))
    )
    one = solve_coupled(plant(twelve_pulse(16.0).pairs())).flow
    two = solve_coupled(plant(units)).flow
    for bus in ("in", "A", "B"):
        assert one.bus_volts(bus) == pytest.approx(two.bus_volts(bus), abs=1e-6 * 690.0)
        assert one.inflow(bus) == pytest.approx(two.inflow(bus), abs=1e-4)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("z_st_pct", 31.0, "z_st_pct of T is 31"),
        ("z_ps_pct", 0.0, "z_ps_pct of T"),
        ("buses", ("in", "A", "A"), "three different buses"),
        ("tap_pct", 30.0, "tap_pct of T"),
    ],
)
def test_refusals(field: str, value: object, words: str) -> None:
    with pytest.raises(InputError) as problem:
        replace(UNIT, **{field: value})
    assert words in str(problem.value)


def test_a_name_stands_once() -> None:
    with pytest.raises(InputError, match="each name once"):
        NodalNetwork(
            STIFF,
            "in",
            NODES,
            (*UNIT.pairs(), TransformerBranch("T", "in", "A", Transformer(1e6, 5, 6, 20e3, 690.0, 30.0))),
        )


@given(
    st.floats(0.5, 20.0),
    st.floats(0.5, 20.0),
    st.floats(0.02, 0.98),
    st.floats(2.0, 40.0),
    st.floats(0.0, 1.0),
)
def test_no_three_winding_transformer_gives_power(
    z_ps: float, z_pt: float, part: float, x_r: float, exponent: float
) -> None:
    """Real part of the three-port admittance matrix: no negative eigenvalue at any order."""
    least, most = ThreeWindingTransformer.passive_range(z_ps, z_pt)
    z_st = min(least + part * (most - least), 50.0)
    unit = replace(UNIT, z_ps_pct=z_ps, z_pt_pct=z_pt, z_st_pct=z_st, x_over_r=x_r, volts=(1e3, 1e3, 1e3))
    whole = NodalNetwork(
        Utility(1e3, 1e9, 10.0),
        "in",
        tuple(Bus(name, 1e3) for name in unit.buses),
        unit.pairs(),
        resistance_exponent=exponent,
    )
    matrix = whole.branch_matrix(ORDERS)
    for one in matrix:
        values = np.linalg.eigvalsh(one.real)
        assert values.min() > -1e-9 * max(abs(values).max(), 1.0)
