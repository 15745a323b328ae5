"""Tables of a solved plant hold what the solution holds."""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.network.branches import TransformerBranch
from xlcalc.network.capacitors import CapacitorBank
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.resonance import resonances
from xlcalc.network.topology import Bus
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.study.plant import Drive, Plant
from xlcalc.study.plant_tables import (
    branch_order_table,
    bus_order_table,
    bus_table,
    capacitor_order_table,
    resonance_table,
)
from xlcalc.study.solution import solve_coupled

NETWORK = NodalNetwork(
    Utility(13.8e3, 250e6, 12),
    "intake",
    (Bus("main", 480), Bus("intake", 13.8e3)),
    (TransformerBranch("T1", "intake", "main", Transformer(1e6, 5.75, 7, 13.8e3, 480, -30)),),
    (CapacitorBank("C1", "main", 150e3, 480, reactor_pct=7),),
)


@pytest.fixture(scope="module")
def solution():
    return solve_coupled(Plant(NETWORK, (Drive("D", 150e3, FrontEnd(6, 1.0, reactor_pct=3.0), "main"),)))


def test_buses(solution) -> None:
    table = bus_table(solution)
    assert list(table.index) == ["intake", "main"]
    assert table.loc["intake", "short_circuit_mva"] == pytest.approx(250.0)
    assert table.loc["main", "largest_order"] == 5
    by_order = bus_order_table(solution)
    assert by_order.loc[5, "main"] == pytest.approx(table.loc["main", "largest_pct"])
    thdv = 100 * np.linalg.norm(by_order["main"].iloc[1:]) / by_order.loc[1, "main"]
    assert thdv == pytest.approx(table.loc["main", "thdv_pct"])


def test_currents_add_up(solution) -> None:
    """By phasors, transformer = capacitor + drive at every order; the tables hold their magnitudes."""
    flow = solution.flow
    total = flow.capacitor_current("C1") + solution.loads[0].phases
    np.testing.assert_allclose(flow.branch_current("T1"), total, atol=1e-6)
    for table, phases in (
        (branch_order_table(solution)["T1"], flow.branch_current("T1")),
        (capacitor_order_table(solution)["C1"], flow.capacitor_current("C1")),
    ):
        np.testing.assert_allclose(table, np.abs(phases).max(axis=0))


def test_resonances() -> None:
    table = resonance_table(resonances(NETWORK, "main"))
    assert list(table["kind"]) == ["parallel", "series"]
    assert resonance_table(()).empty
