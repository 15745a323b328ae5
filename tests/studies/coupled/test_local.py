from __future__ import annotations

import numpy as np
import pytest

from xlcalc.network.branches import Line, TransformerBranch
from xlcalc.network.capacitors import CapacitorBank
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.topology import Bus
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.coupled.local import with_capacitors
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import solve_coupled

VOLTS = 480.0
UTILITY = Utility(VOLTS, 60e6, 8.0)
UNIT = TransformerBranch("T1", "supply", "main", Transformer(750e3, 5.5, 6.0, VOLTS, VOLTS))
PER_OHM = 135e3 / VOLTS**2


def network(bank_bus: str | None, reactor_pct: float = 0.0, line_ohms: float = 1e-5) -> NodalNetwork:
    banks = (
        () if bank_bus is None else (CapacitorBank("C1", bank_bus, 150e3, VOLTS, reactor_pct, loss_pct=0.1),)
    )
    return NodalNetwork(
        UTILITY,
        "supply",
        (Bus("supply", VOLTS), Bus("main", VOLTS), Bus("end", VOLTS)),
        (UNIT, Line("W1", "main", "end", line_ohms, line_ohms)),
        banks,
    )


@pytest.mark.parametrize(("line_ohms", "reactor_pct"), [(1e-5, 0.0), (2e-3, 0.0), (1e-5, 7.0), (2e-3, 14.0)])
def test_it_is_the_bus_at_low_and_high_orders(line_ohms: float, reactor_pct: float) -> None:
    plant = network("main", reactor_pct, line_ohms)
    local = with_capacitors(plant, "end", PER_OHM, 0.0)
    assert local is not None
    orders = np.array([50.0, 200.0] if reactor_pct else [1.0, 3.0, 17.0, 50.0, 200.0])
    actual = plant.impedance("end", orders) * PER_OHM
    assert local.at(1j * orders).imag == pytest.approx(actual.imag, rel=0.02, abs=2e-3)


def test_without_capacitors_there_is_nothing_to_add() -> None:
    assert with_capacitors(network(None), "main", PER_OHM, 0.0) is None


def test_a_very_short_line_between_bank_and_drive_changes_nothing() -> None:
    front_end = FrontEnd(6, 1.0, choke_pct=2.0, capacitor_resistance_pct=0.5)
    drive = ScheduledDrive("D1", 135e3, front_end, "end")
    at_end, at_main = (solve_coupled(StudiedPlant(network(bus), (drive,))) for bus in ("end", "main"))
    assert at_end.converged
    assert at_main.converged
    one, other = (solution.flow.inflow("supply")[0] for solution in (at_end, at_main))
    assert np.max(np.abs(one - other)) < 2e-3 * abs(one[0])
