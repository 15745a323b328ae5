"""Notches that drives cut together, by hand and against one drive alone."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from xlcalc.network.branches import TransformerBranch
from xlcalc.network.capacitors import CapacitorBank
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.topology import Bus
from xlcalc.rectifier.drive import FrontEnd, solve_front_end
from xlcalc.rectifier.trace import waveforms
from xlcalc.studies.coupled.commutation import bus_voltages
from xlcalc.studies.notching import BusNotch, bus_notches, per_unit_notch
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.solution import solve_coupled

VOLTS, HZ, XR = 480.0, 60.0, 10.0


def plant(*drives: ScheduledDrive, capacitors: tuple[CapacitorBank, ...] = ()) -> StudiedPlant:
    """About 20 MVA at the bus of the drives, one X/R everywhere."""
    network = NodalNetwork(
        Utility(VOLTS, 100e6, XR),
        "supply",
        (Bus("supply", VOLTS), Bus("main", VOLTS)),
        (TransformerBranch("T", "supply", "main", Transformer(1000e3, 4.0, XR, VOLTS, VOLTS)),),
        capacitors,
        hz=HZ,
    )
    return StudiedPlant(network, drives)


def drive(tag: str, kw: float, reactor_pct: float, quantity: int = 1, **front_end: float) -> ScheduledDrive:
    """X/R of the source throughout, so that dividers are those of the reactances."""
    values = {"reactor_xr": XR, "load_kind": "current", **front_end}
    return ScheduledDrive(tag, 1e3 * kw, FrontEnd(6, 1.0, reactor_pct, **values), "main", quantity)


def notch(*drives: ScheduledDrive) -> BusNotch:
    return bus_notches(plant(*drives))[1]


SOURCE_OHMS = plant().network.short_circuit_impedance("main")


def divider(*drives: tuple[float, float]) -> float:
    """Percent that the source takes of a voltage shorted behind reactors in parallel: (kW, percent) each."""
    source = SOURCE_OHMS.imag
    reactors = sum(1.0 / (pct / 100.0 * VOLTS**2 / (1e3 * kw)) for kw, pct in drives)
    return 100.0 * source / (source + 1.0 / reactors)


def test_the_waveform_of_one_drive_is_that_of_its_own_solution() -> None:
    one = drive("P", 400.0, 3.0)
    waves = bus_voltages(solve_coupled(plant(one)))
    z = waves.network.short_circuit_impedance("main", machines=True) / (VOLTS**2 / one.rated_watts)
    state = solve_front_end(
        FrontEnd(6, 100.0 * z.imag, 3.0, reactor_xr=XR, source_xr=z.imag / z.real, load_kind="current")
    )
    _, _, volts = waveforms(state, waves.volts.shape[1])
    alone = VOLTS * (volts - np.roll(volts, -1, axis=0))
    actual = waves.line_volts(waves.volts, "main")
    apart = np.abs(actual - alone) / (math.sqrt(2.0) * VOLTS)
    assert np.quantile(apart, 0.995) < 1e-3
    undisturbed = waves.line_volts(waves.undisturbed, "main")
    assert np.abs(undisturbed).max() == pytest.approx(math.sqrt(2.0) * VOLTS, rel=1e-6)


@pytest.mark.parametrize(
    "parts",
    [((400.0, 3.0),), ((300.0, 3.0), (200.0, 1.5)), ((250.0, 3.0), (160.0, 2.0), (110.0, 4.0), (90.0, 1.0))],
)
def test_depth_is_the_divider_with_all_reactors_in_parallel(parts: tuple[tuple[float, float], ...]) -> None:
    """While all commutate, all of the same X/R; by hand."""
    found = notch(*(drive(f"P{k}", kw, pct) for k, (kw, pct) in enumerate(parts)))
    assert found.notch.depth_pct == pytest.approx(divider(*parts), rel=2e-3)
    assert set(found.tags) == {f"P{k}" for k in range(len(parts))}


@pytest.mark.parametrize("count", [2, 5, 10])
def test_equal_drives_are_one_of_their_total_rating(count: int) -> None:
    """Exact by scaling: same percent, N times the rating; the function for one drive is the other side."""
    front_end = FrontEnd(
        6, 100.0 * SOURCE_OHMS.imag * 1e6 / VOLTS**2, 3.0, source_xr=XR, reactor_xr=XR, load_kind="current"
    )
    alone = per_unit_notch(front_end)
    for found in (
        notch(drive("P", 1000.0 / count, 3.0, quantity=count)),
        notch(*(drive(f"P{k}", 1000.0 / count, 3.0) for k in range(count))),
    ):
        assert found.notch.depth_pct == pytest.approx(alone.depth_pct, rel=1e-3)
        assert found.notch.area_vs == pytest.approx(VOLTS * alone.area_vs / (2.0 * math.pi * HZ), rel=2e-3)
        assert found.notch.width_s == pytest.approx(alone.width_s / (2.0 * math.pi * HZ), rel=3e-3)


def test_nearly_equal_drives_notch_nearly_like_equal_ones() -> None:
    equal = notch(drive("P", 100.0, 3.0, quantity=10))
    ratings = [97.0, 98.0, 99.0, 99.5, 100.0, 100.0, 100.5, 101.0, 102.0, 103.0]
    nearly = notch(*(drive(f"P{k}", kw, 3.0) for k, kw in enumerate(ratings)))
    assert nearly.notch.depth_pct == pytest.approx(equal.notch.depth_pct, rel=2e-3)
    assert nearly.notch.area_vs == pytest.approx(equal.notch.area_vs, rel=0.01)


def test_quantity_and_load_grow_the_area() -> None:
    areas = [notch(drive("P", 100.0, 3.0, quantity=n)).notch.area_vs for n in (1, 2, 4, 8)]
    assert all(second > 1.5 * first for first, second in pairwise(areas))
    light, full = (notch(drive("P", 400.0, 3.0, load_pct=load)).notch.area_vs for load in (40.0, 100.0))
    assert full > 1.5 * light


def test_a_bare_bridge_that_commutates_shorts_its_bus() -> None:
    """A DC choke keeps the current flowing; no reactor: the voltage at its terminals is gone."""
    assert notch(drive("P", 400.0, 0.0, choke_pct=5.0)).notch.depth_pct == pytest.approx(100.0, rel=1e-3)


def test_a_bare_bridge_without_choke_does_not_commutate() -> None:
    found = notch(drive("P", 100.0, 0.0))
    assert (found.notch.depth_pct, found.tags) == (0.0, ())
    assert found.judged("special").word == "PASS"


def test_a_drive_behind_a_passive_filter_does_not_notch() -> None:
    from xlcalc.rectifier.passive_filter import FilterRating

    filtered = drive("P", 400.0, 3.0, filter=FilterRating(8.0, 25.0, 4.5))
    assert notch(filtered).notch.depth_pct == 0.0


def test_capacitors_count_and_are_mentioned() -> None:
    """A bank that resonates at order 10 fills part of the notch up, and rings."""
    one = drive("P", 400.0, 3.0)
    bank = CapacitorBank("C", "main", 200e3, VOLTS)
    _, main = bus_notches(plant(one, capacitors=(bank,)))
    assert "capacitors" in main.remark
    assert main.notch.depth_pct > 0.0
    assert notch(one).remark == ""


def test_no_drives_no_notch() -> None:
    assert all(one.notch.depth_pct == 0.0 for one in bus_notches(plant()))


@pytest.mark.parametrize("pulses", [12, 18, 24])
def test_bridges_notch_by_themselves(pulses: int) -> None:
    """Each bridge alone: X_s over X_s + X_leakage on the drive's rating; neighbours that overlap are two."""
    bridges = pulses // 6
    front_end = FrontEnd(pulses, 1.0, transformer_pct=5.0, transformer_xr=XR, load_kind="current")
    found = notch(ScheduledDrive("M", 500e3, front_end, "main")).notch
    base = VOLTS**2 / 500e3
    one, two = (
        100.0 * SOURCE_OHMS.imag / (SOURCE_OHMS.imag + 0.05 * bridges * base / count) for count in (1, 2)
    )
    assert 0.9 * one < found.depth_pct < 1.2 * two


def test_a_drive_that_a_bus_hardly_feels_does_not_widen_its_notch() -> None:
    """A small drive elsewhere whose commutation lasts longer; little of it reaches the bus."""
    network = NodalNetwork(
        Utility(VOLTS, 600e6, XR),
        "supply",
        (Bus("supply", VOLTS), Bus("one", VOLTS), Bus("other", VOLTS)),
        tuple(
            TransformerBranch(name, "supply", name, Transformer(1000e3, 5.0, XR, VOLTS, VOLTS))
            for name in ("one", "other")
        ),
        hz=HZ,
    )
    near = ScheduledDrive("near", 300e3, FrontEnd(6, 1.0, 1.0, load_kind="current"), "one")
    far = ScheduledDrive("far", 30e3, FrontEnd(6, 1.0, 8.0, load_kind="current"), "other")
    alone, both = (bus_notches(StudiedPlant(network, drives))[1] for drives in ((near,), (near, far)))
    assert both.tags == alone.tags == ("near",)
    assert both.notch.width_s == pytest.approx(alone.notch.width_s, rel=0.02)
    assert both.notch.area_vs == pytest.approx(alone.notch.area_vs, rel=0.01)
