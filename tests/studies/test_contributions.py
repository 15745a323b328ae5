"""What each drive adds to an order at the PCC, against Kirchhoff's current law and symmetry."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.network.chain import UTILITY_BUS, series_network
from xlcalc.network.elements import Transformer, Utility
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import PlantSolution, solve_coupled
from xlcalc.studies.sources import Summation, contributions


@pytest.fixture(scope="module")
def solution() -> PlantSolution:
    transformer = Transformer(1e6, 5.75, 7.0, 13800.0, 480.0)
    network = series_network(Utility(13800.0, 200e6, 12.0), transformer)
    six = ScheduledDrive("A", 150e3, FrontEnd(6, 1.0, 3.0), "main", 1)
    drives = (
        six,
        replace(six, tag="B"),
        ScheduledDrive("C", 90e3, FrontEnd(6, 1.0, 0.0, choke_pct=4.0), "main", 2),
    )
    return solve_coupled(StudiedPlant(network, drives))


@pytest.mark.parametrize("order", [5, 7, 13])
def test_the_components_along_the_sum_are_the_current_that_flows_in(
    solution: PlantSolution, order: int
) -> None:
    """Kirchhoff: without background and other loads the drives alone make the harmonic at the PCC."""
    found = contributions(solution.loads, solution.network, UTILITY_BUS, order)
    inflow = np.abs(solution.flow.inflow(UTILITY_BUS)[:, order - 1]).max()
    assert sum(item.share_pct for item in found) == pytest.approx(100.0)
    along = [item.share_pct / 100.0 * inflow for item in found]
    assert sum(along) == pytest.approx(inflow)
    assert all(abs(part) <= item.amps * (1 + 1e-9) for part, item in zip(along, found, strict=True))


def test_equal_drives_have_equal_shares_and_the_largest_comes_first(solution: PlantSolution) -> None:
    by_tag = {item.tag: item for item in contributions(solution.loads, solution.network, UTILITY_BUS, 5)}
    assert by_tag["A"].share_pct == pytest.approx(by_tag["B"].share_pct)
    assert by_tag["C"].units == 2
    shares = [item.share_pct for item in by_tag.values()]
    assert shares == sorted(shares, reverse=True)


def test_magnitudes_are_shared_out_without_angles(solution: PlantSolution) -> None:
    found = contributions(solution.loads, solution.network, UTILITY_BUS, 7, Summation.ARITHMETIC)
    total = sum(item.amps for item in found)
    assert [item.share_pct for item in found] == pytest.approx([100 * item.amps / total for item in found])


def test_an_order_that_is_no_harmonic_is_refused(solution: PlantSolution) -> None:
    with pytest.raises(InputError, match="order"):
        contributions(solution.loads, solution.network, UTILITY_BUS, 1)
