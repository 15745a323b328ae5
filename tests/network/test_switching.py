"""What is left when parts of a plant are switched off."""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.network.branches import TransformerBranch
from xlcalc.network.capacitors import CapacitorBank
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.flow import FlowSolver
from xlcalc.network.loads import Generator, StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.switching import switched
from xlcalc.network.topology import Bus

UNIT = Transformer(1.5e6, 5.75, 7, 13.8e3, 480)
PLANT = NodalNetwork(
    Utility(13.8e3, 250e6, 12, ((5, 2.0, 0.0),)),
    "intake",
    (Bus("intake", 13.8e3), Bus("A", 480), Bus("B", 480)),
    (TransformerBranch("T1", "intake", "A", UNIT), TransformerBranch("T2", "intake", "B", UNIT)),
    (CapacitorBank("C1", "A", 200e3, 480),),
    (StaticLoad("S1", "A", 300e3, 100e3),),
    (Generator("G1", "A", 1e6, 480, 15), Generator("G2", "A", 500e3, 480, 18)),
)


def test_generators_take_the_place_of_the_utility() -> None:
    """The larger one leads, holds its terminal, and its X''d is the source impedance."""
    island = switched(PLANT, ["utility", "C1", "T2", "B"])
    assert (island.utility_bus, island.buses[0]) == ("A", "A")
    assert [g.name for g in island.generators] == ["G2"]
    assert island.utility.background == ()
    assert complex(island.utility.impedance(1)).imag == pytest.approx(0.15 * 480**2 / 1e6)
    flow = FlowSolver(island).solve(np.zeros((2, 50, len(island.buses)), complex))
    assert abs(flow.bus_volts("A")[0, 0]) == pytest.approx(480 / 3**0.5)


def test_bus_without_supply_and_load_is_dropped() -> None:
    assert switched(PLANT, ["T2"]).buses == ("intake", "A")


@pytest.mark.parametrize(
    ("off", "said"),
    [
        (["T1"], "is A; valid: a bus with supply"),
        (["T7"], "element out of service is T7"),
        (["utility", "G1", "G2"], "no generator takes its place"),
    ],
)
def test_refusals(off, said) -> None:
    with pytest.raises(InputError) as refused:
        switched(PLANT, off)
    assert said in str(refused.value)
