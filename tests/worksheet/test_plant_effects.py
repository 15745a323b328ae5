"""Notches and power of a plant as a network, against hand calculation and the functions for one drive."""

from __future__ import annotations

import pytest

from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.values import CellError, Grid

NETWORK: Grid = [
    [*row, *[""] * (7 - len(row))]
    for row in (
        ["buses"],
        ["name", "kv"],
        ["U", 13.8],
        ["M", 0.48],
        ["N", 0.48],
        ["utility"],
        ["bus", "max mva", "x/r"],
        ["U", 100.0, 25.0],
        ["transformers"],
        ["name", "from bus", "to bus", "kva", "z pct", "x/r", "vector group"],
        ["T1", "U", "M", 1000.0, 5.0, 25.0, "Dd0"],
        ["T2", "U", "N", 1000.0, 5.0, 25.0, "Dd0"],
    )
]
HEADINGS = ["tag", "rating", "unit", "efficiency pct", "pulses", "bus", "line reactor pct", "dc choke pct"]
LEVEL_M = 1.0 / (1.0 / 100.0 + 1.0 / 20.0)
"""MVA behind 100 MVA and 1 MVA / 5 %, all with one X/R; by hand."""


def notches(drives: Grid, *more: object) -> Grid:
    result = FUNCTIONS["HD_PLANT_NOTCHES"]([NETWORK, [HEADINGS, *drives], *more])
    assert isinstance(result, list), result
    return result


def test_notch_at_the_bus_of_a_drive_is_that_of_the_function_for_one_drive() -> None:
    settings: Grid = [["source x/r", 25.0], ["capacitor resistance pct", 0.5], ["reactor x/r", 25.0]]
    source_pct = 100.0 * 0.2 / LEVEL_M
    alone = FUNCTIONS["HD_VERDICT_NOTCH"](
        [480.0, 60.0, 200.0, "general", source_pct, 3.0, 4.0, 100.0, settings]
    )
    row = notches([["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0]])[1]
    assert row[1] == pytest.approx(alone[0][2], rel=1e-3)
    assert row[1] == pytest.approx(100.0 * source_pct / (source_pct + 3.0), rel=1e-3)
    one_sample = 1.0 / 800.0  # of this notch, where its width is known to one of 20,000 points a cycle
    assert row[4] == pytest.approx(alone[1][2], rel=1.5 * one_sample)
    assert row[7] == "P1"


def test_other_buses_see_the_divider_of_the_common_reactance() -> None:
    """U and N share only the utility: its reactance over that up to M, 16.67 MVA over 100 MVA."""
    at_u, at_m, at_n = notches([["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0]])
    assert at_u[1] == pytest.approx(at_m[1] * LEVEL_M / 100.0, rel=1e-6)
    assert at_n[1] == pytest.approx(at_u[1], rel=1e-6)
    assert at_u[4] == pytest.approx(at_m[4] * LEVEL_M / 100.0 * 13.8 / 0.48, rel=1e-6)
    assert at_n[4] == pytest.approx(at_m[4] * LEVEL_M / 100.0, rel=1e-6)


@pytest.mark.parametrize("count", [2, 5, 10])
def test_equal_drives_on_one_bus_notch_like_one_of_their_total_rating(count: int) -> None:
    """Reactors in parallel on one source are one reactor of the same percent on the total rating."""
    headings = [*HEADINGS, "quantity"]
    tables = {
        "one": [["P1", 1000.0, "kW", 100.0, 6, "M", 3.0, 0.0, 1]],
        "quantity": [["P1", 1000.0 / count, "kW", 100.0, 6, "M", 3.0, 0.0, count]],
        "rows": [[f"P{k}", 1000.0 / count, "kW", 100.0, 6, "M", 3.0, 0.0, 1] for k in range(count)],
    }
    rows = {}
    for name, drives in tables.items():
        result = FUNCTIONS["HD_PLANT_NOTCHES"]([NETWORK, [headings, *drives]])
        assert isinstance(result, list), result
        rows[name] = result[1]
    for name in ("quantity", "rows"):
        assert rows[name][1:7] == pytest.approx(rows["one"][1:7], rel=1e-6)
        assert rows[name][8] == rows["one"][8] == "FAIL"
    assert rows["rows"][7] == ", ".join(f"P{k}" for k in range(count))


def test_limits_scale_with_the_voltage_and_follow_the_class() -> None:
    general, special = (
        notches([["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0]], name) for name in ("general", "special")
    )
    assert (general[1][2], special[1][2]) == (20.0, 10.0)
    assert general[0][5] == pytest.approx(22800.0 * 13.8 / 0.48)


def test_a_12_pulse_drive_notches_less_than_a_six_pulse_one_without_reactor() -> None:
    bare = notches([["P1", 200.0, "kW", 100.0, 6, "M", 0.0, 4.0]])[1]
    twelve = notches([["P1", 200.0, "kW", 100.0, 12, "M", 0.0, 4.0]])[1]
    assert 0.0 < twelve[1] < 0.5 * bare[1]


def test_power_at_the_supply_is_the_load_and_the_losses() -> None:
    drives: Grid = [
        HEADINGS,
        ["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0],
        ["P2", 150.0, "kW", 100.0, 12, "N", 0.0, 4.0],
    ]
    rows = FUNCTIONS["HD_PLANT_POWER"]([NETWORK, drives, "U"])
    assert isinstance(rows, list), rows
    power = {row[0]: row[1] for row in rows}
    assert 350e3 < power["P"] < 1.03 * 350e3
    assert power["Se"] ** 2 == pytest.approx(power["Se1"] ** 2 + power["SeN"] ** 2, rel=1e-9)
    amps = FUNCTIONS["HD_PLANT_PCC"]([NETWORK, drives, "U"])
    assert power["Ie1"] == pytest.approx(amps[0][1], rel=1e-6)
    assert power["true power factor"] < power["displacement power factor"] <= 1.0


def test_power_of_an_unknown_bus_names_it() -> None:
    drives: Grid = [HEADINGS, ["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0]]
    result = FUNCTIONS["HD_PLANT_POWER"]([NETWORK, drives, "X"])
    assert isinstance(result, CellError)
    assert "X" in result.reason


def test_a_winding_without_its_bus_carries_nothing() -> None:
    rows: Grid = [
        ["buses"],
        ["name", "kv"],
        ["U", 13.8],
        ["M", 0.48],
        ["N", 0.48],
        ["utility"],
        ["bus", "max mva"],
        ["U", 100.0],
        ["three-winding transformers"],
        ["name", "primary bus", "secondary bus", "tertiary bus", "kva", "z ps pct", "z pt pct", "z st pct"],
        ["T", "U", "M", "N", 2000.0, 6.0, 6.0, 11.0],
    ]
    width = 9
    network = [[*row, *[""] * (width - len(row))] for row in rows]
    network[9][8], network[10][8] = "vector group", "Dd0yn11"
    drives: Grid = [
        HEADINGS,
        ["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0],
        ["P2", 150.0, "kW", 100.0, 6, "N", 3.0, 4.0],
    ]
    amps = {}
    for off in ("", "N"):
        for name in ("T", "T secondary", "T tertiary"):
            result = FUNCTIONS["HD_PLANT_AMPS"]([network, drives, name, [["out of service", off]]])
            assert isinstance(result, list), result
            amps[name, off] = [row[1] for row in result]
    assert amps["T tertiary", "N"] == [0.0] * 50
    assert amps["T secondary", "N"][4] > 20.0
    assert amps["T", "N"][4] == pytest.approx(amps["T secondary", "N"][4] * 0.48 / 13.8, rel=1e-6)
    assert amps["T", ""][4] < 0.5 * amps["T", "N"][4]
