"""Zero-sequence background voltage stays where a delta or an open star point keeps it."""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.core.spectrum import MAX_ORDER
from xlcalc.network.branches import TransformerBranch
from xlcalc.network.chain import series_network
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.flow import FlowSolver
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.sequence import phase_shift_deg, zero_sequence_passes
from xlcalc.network.topology import Bus
from xlcalc.studies.pcc import background_volts

UTILITY = Utility(20e3, 200e6, 8.0, background=((3, 1.0, 0.0), (5, 2.0, 0.0)))


def network(group: str) -> NodalNetwork:
    unit = Transformer(1e6, 6.0, 8.0, 20e3, 400.0, phase_shift_deg(group))
    branch = TransformerBranch("T", "in", "M", unit, 0.0, zero_sequence_passes(group))
    return NodalNetwork(UTILITY, "in", (Bus("in", 20e3), Bus("M", 400.0)), (branch,), hz=50.0)


@pytest.mark.parametrize(("group", "share"), [("Dyn11", 0.0), ("YNyn0", 1.0), ("Yyn0", 0.0), ("Dd0", 0.0)])
def test_order_3_behind_a_transformer(group: str, share: float) -> None:
    whole = network(group)
    volts = np.abs(FlowSolver(whole).solve(np.zeros((2, MAX_ORDER, 2), complex)).bus_volts("M"))
    assert 100.0 * volts[:, 2] / volts[:, 0] == pytest.approx([share] * 3, abs=1e-9)
    assert 100.0 * volts[0, 4] / volts[0, 0] == pytest.approx(2.0, rel=1e-6)
    assert np.abs(background_volts(whole, "M"))[0, 2] == pytest.approx(share / 100.0 * 400.0 / 3**0.5)
    at_supply = np.abs(FlowSolver(whole).solve(np.zeros((2, MAX_ORDER, 2), complex)).bus_volts("in"))
    assert at_supply[0, 2] / at_supply[0, 0] == pytest.approx(0.01)


def test_a_chain_knows_a_delta_by_its_shift() -> None:
    for shift, share in ((-30.0, 0.0), (0.0, 1.0)):
        chain = series_network(
            UTILITY,
            Transformer(1e6, 6.0, 8.0, 20e3, 400.0),
            Transformer(250e3, 4.0, 4.0, 400.0, 400.0, shift),
        )
        assert chain.zero_sequence_ratio("main") == 1.0
        assert chain.zero_sequence_ratio("second") == share
